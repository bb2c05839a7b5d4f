"""What the demo's shop reads off its pieces: drawn from the true forge; bows are told by the story."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from model.process import Process
from model.readings import (
    DepthReading,
    FilesReading,
    HardnessReading,
    Observation,
    TraverseReading,
)
from webapp.demo.story import AFTER_TEMPER, Load
from webapp.demo.truth import TrueForge
from webapp.services.batch_rows import load_batch, row_id
from webapp.services.processes import NotYet, process_at_reading, process_of_item
from webapp.services.reading_entries import SIZES
from webapp.services.whole_book import by_id
from webapp.store.tables import Bar, Bath, Instrument, Item, Reading
from webapp.store.unit_of_work import UnitOfWork

TRAVERSE_DEPTHS_MM = (0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0, 1.3)


@dataclass(frozen=True)
class Stage:
    """What the building needs at hand: where it writes, the ids of the shop's things, the truth."""

    work: UnitOfWork
    ids: dict[str, int]
    forge: TrueForge
    now: datetime


def add_readings(stage: Stage, load: Load, batch_id: int, at: datetime) -> None:
    """Draw what the shop would have read off each piece, and note it."""
    rows = load_batch(stage.work.session, batch_id)
    baths = by_id(stage.work.session, Bath)
    for item, piece in zip(rows.items, load.pieces, strict=True):
        bar = stage.work.get(Bar, item.bar_id)
        process = process_of_item(rows, item, bar, baths, stage.now)
        if isinstance(process, NotYet):
            raise TypeError(f"the demo's story does not hold together: {process.why}")
        for kind in piece.reads:
            stage.work.add(_reading(stage, process, item, kind, at, load.seal_failed))
        for bow_mm in piece.bows_mm:
            stage.work.add(_bow(item, bow_mm, at))


def _bow(item: Item, bow_mm: float, at: datetime) -> Reading:
    """Return how far one of some parts stood off the straight."""
    details = dict.fromkeys(SIZES) | {"when": "after_quench", "bow_m": bow_mm / 1000.0}
    return Reading(
        item_id=row_id(item),
        kind="size",
        after="quench",
        measured_at=at,
        details=details,
        typed={"bow_m": f"{bow_mm:g}"},
    )


def _reading(
    stage: Stage, process: Process, item: Item, kind: str, at: datetime, seal_failed: bool
) -> Reading:
    """Return one reading of a piece, as quenched where it is not said otherwise."""
    after = "temper_1" if kind.endswith(AFTER_TEMPER) else "quench"
    common: dict[str, Any] = {"item_id": row_id(item), "after": after, "measured_at": at}
    if kind == "soft":
        return Reading(kind="depth", value=0.0, unit="m", details={"how": "break"}, **common)
    at_reading = process_at_reading(process, after)
    observation = Observation(f"{item.batch_id}/{item.mark}/{kind}", at_reading, _asked(stage, kind))
    seen = stage.forge.seen(at_reading, seal_failed)
    return _row_of(stage, stage.forge.noted(observation, seen), common)


def _asked(stage: Stage, kind: str) -> Any:
    """Return the reading that is to be taken, its value still open."""
    rockwell, files = f"rockwell:{stage.ids['rockwell']}", f"files:{stage.ids['files']}"
    depths = tuple(depth / 1000.0 for depth in TRAVERSE_DEPTHS_MM)
    hardness = HardnessReading(
        "HRC", 60.0, rockwell, stage.work.get(Instrument, stage.ids["rockwell"]).spread
    )
    return {
        "HRC": hardness,
        f"HRC{AFTER_TEMPER}": replace(hardness, after="temper"),
        "files": FilesReading(None, None, files),
        "break": DepthReading("break", 0.0),
        "traverse": TraverseReading(depths, tuple(0.0 for _ in depths)),
    }[kind]


def _row_of(stage: Stage, noted: object, common: dict[str, Any]) -> Reading:
    """Return a noted reading as the logbook keeps it."""
    match noted:
        case HardnessReading():
            return Reading(
                kind="hardness", value=noted.value, unit="HRC", instrument_id=stage.ids["rockwell"], **common
            )
        case FilesReading():
            return Reading(
                kind="files",
                low=noted.low_HRC,
                high=noted.high_HRC,
                instrument_id=stage.ids["files"],
                **common,
            )
        case DepthReading():
            return Reading(kind="depth", value=noted.value_m, unit="m", details={"how": "break"}, **common)
        case TraverseReading():
            points = [[depth, HV] for depth, HV in zip(noted.depth_m, noted.hardness_HV, strict=True)]
            return Reading(kind="traverse", details={"points": points}, **common)
        case _:
            raise TypeError(f"the demo takes no such reading: {noted!r}")
