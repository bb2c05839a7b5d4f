"""Proved jobs: a part that came right in two batches of the same settings, by what was read of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from sqlmodel import Session, col, select

from model.conversion import rockwell_c_continued
from model.outcome import HARDNESS_TOLERANCE_HRC
from model.traverse import ISO_18203_LIMIT_HV, US_LIMIT_HV, depth_of_fall
from webapp.services.batch_rows import BatchRows, own_steps, row_id, steps_of_piece
from webapp.services.settings_of import Settings, alike, settings_of
from webapp.services.step_rules import MEASURED
from webapp.services.whole_book import load_book
from webapp.store.tables import Batch, Item, Part, Reading

PROVED_BY = 2
LIMITS_HV = {"HV550": ISO_18203_LIMIT_HV, "HRC50": US_LIMIT_HV}
MOST_LOOKED_AT = 30
"""Newest batches of a part that are looked at: a job proved longer ago is no longer the shop's."""


@dataclass(frozen=True)
class DepthRead:
    """A case depth as its part counts it: its reading, and the depth [m] if it shows the end of the case."""

    row: Reading
    depth_m: float | None


@dataclass(frozen=True)
class Run:
    """One measured batch of a part: whether it came right, and by which readings."""

    rows: BatchRows
    item: Item
    settings: Settings
    is_right: bool
    depths: tuple[DepthRead, ...]
    hardness: tuple[Reading, ...]


@dataclass(frozen=True)
class ProvedJob:
    """The newest job of a part that came right twice: its runs newest first, and those that did not."""

    part: Part
    right: tuple[Run, ...]
    wrong: tuple[Run, ...]

    @property
    def newest(self) -> Run:
        """Return the run whose settings the card gives."""
        return self.right[0]


def proved_job(session: Session, part: Part) -> ProvedJob | None:
    """Return the newest job of a part that came right in two batches; None where there is none yet."""
    runs = runs_of_part(session, part)
    for first in (run for run in runs if run.is_right):
        same = [run for run in runs if alike(run.settings, first.settings)]
        right = tuple(run for run in same if run.is_right)
        if len(right) >= PROVED_BY:
            return ProvedJob(part, right, tuple(run for run in same if not run.is_right))
    return None


def runs_of_part(session: Session, part: Part) -> list[Run]:
    """Return the measured batches of a part that say something of it, newest first."""
    query = (
        select(Item)
        .join(Batch, col(Batch.id) == Item.batch_id)
        .where(
            Item.part_id == part.id,
            Item.kind == "part",
            Batch.state == MEASURED,
            *(col(row.deleted_at).is_(None) for row in (Item, Batch)),
            *(col(row.left_out_why) == "" for row in (Item, Batch)),
        )
        .order_by(col(Batch.day).desc(), col(Batch.number).desc())
        .limit(MOST_LOOKED_AT)
    )
    items = session.exec(query).all()
    book = {row_id(rows.batch): rows for rows in load_book(session, {item.batch_id for item in items})}
    found = (_run(book[item.batch_id], item, part) for item in items)
    return _one_a_batch(run for run in found if run is not None)


def _one_a_batch(runs: Iterable[Run]) -> list[Run]:
    """Return one run of each batch: a wrong one speaks for a box that holds the part twice."""
    by_batch: dict[int, Run] = {}
    for run in runs:
        kept = by_batch.get(row_id(run.rows.batch))
        if kept is None or (kept.is_right and not run.is_right):
            by_batch[row_id(run.rows.batch)] = run
    return list(by_batch.values())


def _run(rows: BatchRows, item: Item, part: Part) -> Run | None:
    """Return what a batch says of a part; None where neither case nor skin was read of it as wanted."""
    steps = steps_of_piece(rows, item)
    witnesses = [item, *_coupons(rows, item)]
    depths = tuple(read for one in witnesses for read in _depths(rows, one, part, steps))
    hardness = _finished(tuple(row for one in witnesses for row in _read(rows, one, "hardness")), steps)
    needs_hardness = part.wanted_hardness_HRC is not None
    if not depths or (needs_hardness and not hardness):
        return None
    is_right = (
        not item.scrapped_why
        and item.life == 1
        and not any(row.details.get("seen") for row in _read(rows, item, "cracks"))
        and all(_is_deep_enough(part, read) for read in depths)
        and (not needs_hardness or _is_hard_enough(part, hardness))
    )
    return Run(rows, item, settings_of(rows, steps), is_right, depths, hardness)


def _coupons(rows: BatchRows, item: Item) -> list[Item]:
    """Return the coupons that went through all that a part did, and are of its bar."""
    if own_steps(rows, item):
        return []
    return [
        one
        for one in rows.items
        if one.kind == "coupon" and one.bar_id == item.bar_id and not one.own_path and not one.left_out_why
    ]


def _read(rows: BatchRows, item: Item, kind: str) -> list[Reading]:
    found = rows.readings.get(row_id(item), [])
    return [row for row in found if row.kind == kind and row.life == 1 and not row.left_out_why]


def _finished(readings: Sequence[Reading], steps: Sequence[object]) -> tuple[Reading, ...]:
    """Return the readings of the finished skin."""
    return tuple(row for row in readings if row.after == _after(steps) and hardness_HRC(row) is not None)


def _after(steps: Sequence[object]) -> str:
    """Return what a finished piece is read after: the last temper, or the quench where none was done."""
    tempers = sum(getattr(step, "kind", "") == "temper" for step in steps)
    return f"temper_{tempers}" if tempers else "quench"


def _depths(rows: BatchRows, item: Item, part: Part, steps: Sequence[object]) -> Iterator[DepthRead]:
    """Yield the case depths of a piece as its part counts them: seen on a break or an etch, or by dents."""
    limit_HV = LIMITS_HV.get(part.depth_definition)
    if limit_HV is not None:
        for row in _read(rows, item, "traverse"):
            if row.after == _after(steps):
                yield DepthRead(row, _fall_of(row, limit_HV))
        return
    how = "etch" if part.depth_definition == "total" else "break"
    for row in _read(rows, item, "depth"):
        if row.details.get("how", "break") == how:
            yield DepthRead(row, row.value or 0.0)


def _fall_of(row: Reading, limit_HV: float) -> float | None:
    """Return where a traverse falls through a hardness [m]; 0 if it is soft, None if it ends too hard."""
    depth_m, hardness_HV = np.array(row.details["points"], dtype=float).T
    fall = depth_of_fall(depth_m, hardness_HV[None, :], limit_HV)
    return None if fall.whole_section[0] else float(fall.depth_m[0])


def _is_deep_enough(part: Part, read: DepthRead) -> bool:
    """Return whether a case is as deep as is wanted, less what is still to be ground off."""
    if read.depth_m is None:
        return False
    left_m = read.depth_m - max(part.grind_m - read.row.removed_m, 0.0)
    return part.wanted_depth_low_m <= left_m <= part.wanted_depth_high_m


def _is_hard_enough(part: Part, readings: Sequence[Reading]) -> bool:
    found = [value for row in readings if (value := hardness_HRC(row)) is not None]
    mean = sum(found) / len(found)
    return abs(mean - (part.wanted_hardness_HRC or 0.0)) <= HARDNESS_TOLERANCE_HRC


def hardness_HRC(row: Reading) -> float | None:
    """Return a reading in HRC, as far as it can be said in it without its load and its case."""
    if row.value is None:
        return None
    if row.unit == "HRC":
        return row.value
    return float(rockwell_c_continued(row.value)) if row.unit == "HV" else None
