"""A part with batches that are measured, row by row: for the pages that look at what came right."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from webapp.forms.welcome import ShopForm
from webapp.services.starting import start_empty_logbook
from webapp.store.engine import Store, open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Batch, Fire, Item, Part, Reading, ShopChange, Step
from webapp.store.unit_of_work import Actor, UnitOfWork, write

LIT = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
KELVIN = 273.15


def fill_folder(folder: Path) -> None:
    """Put a usual shop with a proved job into an empty data folder: two right, one wrong, a change since."""
    store = open_store(folder)
    bring_up_to_date(store, LIT)
    with write(store, Actor("test bench"), LIT) as work:
        start_empty_logbook(work, ShopForm(name="My shop"))
    add_job(store, {}, {"hours": 4.25}, {"depth_mm": 0.55})
    with write(store, Actor("test bench"), LIT) as work:
        work.add(ShopChange(kind="bath_fresh", changed_on=date(2026, 3, 20), bath_id=1))
    store.close()


def add_job(store: Store, *runs: dict[str, Any], **wanted: Any) -> int:
    """Add a 12 mm pin and a measured batch of it for each run; return the part's id.

    A run may say `celsius`, `hours`, `depth_mm`, `HRC`, `temper_C`, `state`; a depth of None was not read.
    `points` are a traverse [mm], [HV] of the finished coupon, `how` says how its depth was seen.
    """
    with write(store, Actor("test bench"), LIT + timedelta(days=20)) as work:
        part = work.add(
            Part(
                **{
                    "name": "lever pin", "bar_id": 1, "shape": "rod", "size_m": 0.012, "length_m": 0.04,
                    "wanted_depth_low_m": 0.0006, "wanted_depth_high_m": 0.0010, "wanted_hardness_HRC": 60.0,
                    **wanted,
                }
            )
        )  # fmt: skip
        assert part.id is not None
        for number, run in enumerate(runs, start=1):
            _add_run(work, part, number, run)
        return part.id


def _add_run(work: UnitOfWork, part: Part, number: int, run: dict[str, Any]) -> None:
    fire = work.add(Fire(forge_id=1, heat_instrument_id=1))
    day = LIT + timedelta(days=number)
    batch = work.add(
        Batch(
            number=number, state=run.get("state", "measured"), fire_id=fire.id, box_id=1, mix_id=1,
            day=date(2026, 3, 1) + timedelta(days=number),
        )
    )  # fmt: skip
    hours, temper_C = run.get("hours", 4.0), run.get("temper_C", 180.0)
    for order, (kind, at_h, more) in enumerate(_steps(run.get("celsius", 920.0), hours, temper_C)):
        at = day + timedelta(hours=at_h)
        work.add(Step(batch_id=batch.id, kind=kind, order=order, started_at=at, **more))
    shape: dict[str, Any] = {"bar_id": part.bar_id, "shape": "rod", "batch_id": batch.id}
    piece = work.add(
        Item(kind="part", name=part.name, mark="A", part_id=part.id, size_m=part.size_m, count=4, **shape)
    )
    coupon = work.add(Item(kind="coupon", name="pin", mark="B", size_m=0.012, **shape))
    at = day + timedelta(days=1)
    if run.get("depth_mm", 0.8) is not None:
        depth_m = run.get("depth_mm", 0.8) / 1000.0
        details = {"how": run.get("how", "break")}
        work.add(Reading(item_id=coupon.id, kind="depth", value=depth_m, details=details, measured_at=at))
    if "points" in run:
        points = [[depth_mm / 1000.0, HV] for depth_mm, HV in run["points"]]
        told = {"details": {"points": points}, "after": run.get("after", "temper_1")}
        work.add(Reading(item_id=coupon.id, kind="traverse", measured_at=at, **told))
    if run.get("HRC", 60.0) is not None:
        told = {"value": run.get("HRC", 60.0), "unit": "HRC", "after": run.get("after", "temper_1")}
        work.add(Reading(item_id=piece.id, kind="hardness", measured_at=at, **told))


def _steps(celsius: float, hours: float, temper_C: float) -> list[tuple[str, float, dict[str, Any]]]:
    return [
        ("box_in", 0.0, {}),
        ("soak", 0.5, _soak(celsius, hours)),
        ("box_out", 0.5 + hours, {"settings": {"then": "slow_cool"}}),
        ("reheat", 10.0, {"temperature_K": 790.0 + KELVIN, "seconds": 900.0}),
        ("quench", 10.3, {"bath_id": 1}),
        ("temper", 11.0, {"temperature_K": temper_C + KELVIN, "seconds": 3600.0}),
    ]


def _soak(celsius: float, hours: float) -> dict[str, Any]:
    settings = {"clock_from": "evenly_red"}
    return {"temperature_K": celsius + KELVIN, "seconds": hours * 3600.0, "settings": settings}
