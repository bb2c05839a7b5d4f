"""Builds the demo's logbook: the invented shop, its batches, and readings drawn from its true forge."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from model.box_course import warm_up
from webapp.demo.habits import CHARCOAL_FROM, box_in_settings, own_lines, quench_settings
from webapp.demo.reading import Stage, add_readings
from webapp.demo.shop import (
    EQUIPMENT,
    INVENTED,
    MYSTERY_CARBON_WT,
    MYSTERY_NAME,
    PARTS,
    PLANNED,
    SHOP_NAME,
)
from webapp.demo.story import STORY, Load, Piece
from webapp.demo.supplies import HOURS, add_plan, add_prices, add_weighings
from webapp.demo.truth import TRUE_COORDINATES, TrueForge
from webapp.services.batch_rows import row_id
from webapp.services.box_rows import packed
from webapp.services.marking import give_mark, steel_of
from webapp.services.processes import LAG_SHARES
from webapp.services.sheets import add_to_sheet
from webapp.services.shop_view import SHOP_ID
from webapp.services.steel_marks import usual_kind
from webapp.store.engine import Store
from webapp.store.tables import (
    Bar,
    Batch,
    Box,
    Event,
    Fire,
    InstrumentCheck,
    Item,
    Mix,
    OwnLine,
    Part,
    Record,
    Shop,
    Step,
)
from webapp.store.unit_of_work import Actor, UnitOfWork, write

KELVIN = 273.15
LIGHT_UP_HOUR = 8
REHEAT_C, REHEAT_S = 800.0, 900.0
TEMPER_S = 7200.0
BLOCK_CHECKS = ((205, 62.0, 62.6), (90, 62.0, 62.7))
MARKED = (Bar, Batch, Part)
BOILING_CHECKS = ((206, 373.15, 377.15),)
OVEN_CHECKS = ((61, 446.15, 453.15),)


def build_demo(store: Store, now: datetime) -> None:
    """Build the invented shop in this logbook, which must be empty."""
    with write(store, Actor("the demo"), now) as work:
        work.add(
            Shop(
                id=SHOP_ID,
                name=SHOP_NAME,
                is_demo=True,
                note=INVENTED,
                created_at=now,
                updated_at=now,
                **HOURS,
            )
        )
        ids = {
            key: add_to_sheet(work, kind, kind.form(**answers, note=INVENTED), typed={})
            for key, (kind, answers) in EQUIPMENT.items()
        }
        ids["mystery"] = row_id(
            _keep(
                work,
                Bar(
                    name=MYSTERY_NAME, carbon_low_wt=MYSTERY_CARBON_WT[0], carbon_high_wt=MYSTERY_CARBON_WT[1]
                ),
            )
        )
        ids |= {name: _add_part(work, ids, name) for name in PARTS}
        _add_checks(work, ids, now)
        line = OwnLine(about="batch", label=CHARCOAL_FROM, kind="words", is_copied=True, note=INVENTED)
        ids["own line"] = row_id(work.add(line))
        stage = Stage(work, ids, TrueForge(true_coordinates(ids)), now)
        batch: Batch | None = None
        fires: dict[int, int] = {}
        for number, load in enumerate(STORY, start=1):
            batch = _add_batch(stage, load, number, batch if load.with_last else None)
            fires[number] = batch.fire_id
        add_weighings(work, fires)
        add_prices(work, ids[PLANNED])
        add_plan(work, ids, ids[PLANNED])


def _keep(work: UnitOfWork, row: Record) -> Any:
    """Save a row of the demo, its things marked as invented; what hangs on a batch is marked by it."""
    if isinstance(row, MARKED):
        row.note = " ".join(filter(None, (row.note, INVENTED)))
    return work.add(row)


def _add_part(work: UnitOfWork, ids: dict[str, int], name: str) -> int:
    told = PARTS[name]
    low, high = told["case"]
    part = Part(
        name=name,
        bar_id=ids[told["bar"]],
        shape=told["shape"],
        size_m=told["size"] / 1000.0,
        bore_m=told["bore"] / 1000.0 if "bore" in told else None,
        duties=told["duties"],
        wanted_depth_low_m=low / 1000.0,
        wanted_depth_high_m=high / 1000.0,
        grind_m=told["grind"] / 1000.0,
        wanted_hardness_HRC=told.get("skin", 60.0),
        **told.get("soft", {}),
    )
    return row_id(_keep(work, part))


def _add_checks(work: UnitOfWork, ids: dict[str, int], now: datetime) -> None:
    for key, against, checks in (
        ("rockwell", "test block", BLOCK_CHECKS),
        ("thermocouple", "boiling water", BOILING_CHECKS),
        ("oven", "oven thermometer", OVEN_CHECKS),
    ):
        for days_ago, known, reading in checks:
            day = (now - timedelta(days=days_ago)).date()
            row = InstrumentCheck(
                instrument_id=ids[key], checked_on=day, against=against, known=known, reading=reading
            )
            _keep(work, row)


def true_coordinates(ids: dict[str, int]) -> dict[str, float]:
    """Return the hidden coordinates by the keys that the fit knows things by."""
    heads = {"mix": "ln_transfer/mix:", "box": "lag/box:", "bar": "bar_carbon/", "oven": "oven/"}
    true = {}
    for name, value in TRUE_COORDINATES.items():
        family, _, key = name.partition("/")
        if family in heads:
            true[f"{heads[family]}{ids[key]}"] = value
        elif family in ("tester", "temperature_bias"):
            true[f"{name}:{ids[key]}"] = value
        else:
            true[name] = value
    return true


def _add_batch(stage: Stage, load: Load, number: int, shared: Batch | None) -> Batch:
    """Add one box with its steps, pieces, events and readings."""
    work, ids = stage.work, stage.ids
    lit = (stage.now - timedelta(days=load.days_ago)).replace(
        hour=LIGHT_UP_HOUR, minute=0, second=0, microsecond=0
    )
    fire_id = (
        shared.fire_id
        if shared
        else row_id(_keep(work, Fire(forge_id=ids["forge"], heat_instrument_id=ids[load.heat])))
    )
    batch: Batch = _keep(
        work,
        Batch(
            number=number,
            state=load.state,
            fire_id=fire_id,
            box_id=ids[load.box],
            mix_id=ids[load.mix],
            day=lit.date(),
            note=load.note,
            own_lines=own_lines(number, ids["own line"]),
        ),
    )
    at_heat = _add_steps(stage, load, batch, lit)
    for kind, hours in load.events:
        _keep(work, Event(batch_id=row_id(batch), kind=kind, happened_at=at_heat + timedelta(hours=hours)))
    for index, piece in enumerate(load.pieces):
        _add_piece(stage, load, row_id(batch), piece, "ABCDEFGH"[index], at_heat)
    if load.state == "measured":
        add_readings(stage, load, row_id(batch), at_heat + timedelta(days=1))
    return batch


def _add_steps(stage: Stage, load: Load, batch: Batch, lit: datetime) -> datetime:
    """Add the batch's time line and return when its soak clock started."""
    at_heat = lit if load.clock_from == "box_in" else lit + _until_evenly_red(stage, load)
    out = at_heat + timedelta(hours=load.hours)
    soak: dict[str, Any] = {
        "temperature_K": load.celsius + KELVIN,
        "seconds": load.hours * 3600.0,
        "seconds_spread": load.hours_doubt * 3600.0,
        "instrument_id": stage.ids[load.heat],
        "settings": {"clock_from": load.clock_from},
    }
    told: list[tuple[str, datetime, dict[str, Any]]] = [
        ("box_in", lit, {"settings": box_in_settings(batch.number)}),
        ("soak", at_heat, soak),
        ("box_out", out, {"settings": {"then": "slow_cool"}}),
        *_hardening(stage, load, batch.number, out + timedelta(hours=5)),
    ]
    for order, (kind, at, more) in enumerate(told):
        _keep(stage.work, Step(batch_id=row_id(batch), kind=kind, order=order, started_at=at, **more))
    return at_heat


def _until_evenly_red(stage: Stage, load: Load) -> timedelta:
    """Return the time until the box truly glowed evenly, to the minute."""
    box_id = stage.ids[load.box]
    box = packed(stage.work.get(Box, box_id), stage.work.get(Mix, stage.ids[load.mix]))
    if box is None:
        raise TypeError(f"the demo's {load.box} box has a size that the sum does not take")
    books_s = (1.0 - LAG_SHARES["evenly_red"]) * warm_up(box, load.celsius + KELVIN).at_heat_s
    return timedelta(minutes=round(books_s * stage.forge.warm_up_factor(box_id) / 60.0))


def _hardening(
    stage: Stage, load: Load, number: int, at: datetime
) -> list[tuple[str, datetime, dict[str, Any]]]:
    """Return the reheat, the quench and the temper of a batch."""
    reheat: dict[str, Any] = {
        "temperature_K": REHEAT_C + KELVIN,
        "seconds": REHEAT_S,
        "settings": {"wrapping": "wrapped"},
    }
    quench: dict[str, Any] = {
        "bath_id": stage.ids[load.bath],
        "settings": quench_settings(number),
    }
    steps = [("reheat", at, reheat), ("quench", at + timedelta(seconds=REHEAT_S), quench)]
    if load.temper_C is not None:
        temper = {
            "temperature_K": load.temper_C + KELVIN,
            "seconds": TEMPER_S,
            "instrument_id": stage.ids["oven"],
        }
        steps.append(("temper", at + timedelta(hours=1), temper))
    return steps


def _add_piece(stage: Stage, load: Load, batch_id: int, piece: Piece, mark: str, at_heat: datetime) -> None:
    part = stage.work.get(Part, stage.ids[piece.part]) if piece.part else None
    told = Item(
        batch_id=batch_id,
        kind="part" if part else "coupon",
        name=piece.name,
        mark=mark,
        count=piece.count,
        part_id=part.id if part else None,
        bar_id=part.bar_id if part else stage.ids[piece.bar],
        shape=part.shape if part else piece.shape,
        size_m=part.size_m if part else piece.size_mm / 1000.0,
        bore_m=part.bore_m if part else piece.bore_mm and piece.bore_mm / 1000.0,
        place=piece.place,
        is_pin=piece.is_pin,
        own_path=piece.drawn_h is not None,
        left_out_why=piece.left_out_why,
    )
    item: Item = _keep(stage.work, give_mark(stage.work.session, told, usual_kind(steel_of(told))))
    if piece.drawn_h is None:
        return
    at = at_heat + timedelta(hours=piece.drawn_h)
    own: dict[str, Any] = {"item_id": row_id(item), "started_at": at}
    _keep(stage.work, Step(kind="drawn", order=0, settings={"then": "quench"}, **own))
    settings = {"seconds_to_bath": 2, "agitation": "moderate"}
    _keep(stage.work, Step(kind="quench", order=1, bath_id=stage.ids[load.bath], settings=settings, **own))
