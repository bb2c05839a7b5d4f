"""Readings: what was measured on a part or a coupon, kept as typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, cast

from sqlmodel import Session, col, select

from model.conversion import Scale
from model.errors import NumberProblem
from model.hardness_scales import SCALES
from model.units import parse_number, parse_quantity
from webapp.services.batch_rows import began_of, get_row, kept, kinds_in_life, latest_life, take_back
from webapp.services.items import ItemEntry
from webapp.services.step_rules import StepRefused, check_moment
from webapp.store.tables import Instrument, Item, Reading
from webapp.store.unit_of_work import UnitOfWork

MOST_POINTS = 60
LOWEST_HV, HIGHEST_HV = 80.0, 1200.0
DEEPEST_POINT_M = 0.010


@dataclass(frozen=True)
class ReadingEntry:
    """One reading as its form tells it, in SI; `at` None means now."""

    kind: str
    after: str
    place: str = "middle"
    surface: str = "as it came"
    removed_m: float = 0.0
    instrument_id: int | None = None
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    details: dict[str, Any] = field(default_factory=dict)
    at: datetime | None = None
    insisted: bool = False
    note: str = ""
    typed: dict[str, Any] = field(default_factory=dict)

    def fields(self) -> dict[str, Any]:
        """Return what goes into a reading's row, but for its time."""
        return {name: value for name, value in vars(self).items() if name not in ("at", "insisted")}


def add_readings(work: UnitOfWork, item_id: int, entries: Sequence[ReadingEntry]) -> list[Reading]:
    """Save what was read off one item in one go."""
    item = work.get(Item, item_id)
    life = latest_life(work.session, item)
    rows = []
    for entry in entries:
        checked = _checked(work, item, entry, life)
        at = entry.at or work.now
        row = Reading(item_id=item_id, life=life, measured_at=at, **checked.fields())
        rows.append(work.add(row))
    return rows


def change_reading(
    work: UnitOfWork, reading_id: int, entry: ReadingEntry, version: int | None = None
) -> Reading:
    """Put a reading right."""
    row = work.get(Reading, reading_id)
    checked = _checked(work, work.get(Item, row.item_id), entry, row.life)
    return work.change(row, version, measured_at=entry.at or row.measured_at, **checked.fields())


def remove_reading(work: UnitOfWork, reading_id: int, version: int | None = None) -> Reading:
    """Put a reading in the bin; it can be put back."""
    return work.remove(work.get(Reading, reading_id), version)


def put_back_reading(work: UnitOfWork, reading_id: int) -> Reading:
    """Take a reading out of the bin."""
    return take_back(work, Reading, reading_id)


def _checked(work: UnitOfWork, item: Item, entry: ReadingEntry, life: int) -> ReadingEntry:
    """Return an entry that can be, with its instrument; refuse one that cannot."""
    if entry.kind != "size":
        check_after(kinds_in_life(work.session, item, life), entry.after)
    if entry.kind == "depth" and entry.value is not None:
        check_depth(entry.value, deepest_case_m(item))
    if entry.kind == "size" and item.kind != "part":
        raise StepRefused("", "Size and bow are kept for parts only.")
    if entry.at is not None and entry.details.get("when") != "before":
        check_moment(entry.at, work.now, began_of(work.session, item), insisted=entry.insisted)
    if entry.instrument_id is not None:
        check_scale(work.get(Instrument, entry.instrument_id), entry)
        return entry
    return replace(entry, instrument_id=usual_instrument(testers(work.session), entry))


AFTER_NEEDS = {
    "slow_cool": ("box_out", 1, "that the box came out"),
    "quench": ("quench", 1, "the quench"),
    "temper_1": ("temper", 1, "the temper"),
    "temper_2": ("temper", 2, "the second temper"),
}


def check_after(kinds: Sequence[str], after: str) -> None:
    """Refuse a reading after something that the piece has not been through."""
    kind, count, words = AFTER_NEEDS[after]
    if kind == "box_out" and "drawn" in kinds:
        return
    if kinds.count(kind) < count:
        raise StepRefused(
            "after",
            f"The log does not hold {words} yet for this piece. Note it first, or pick what came before.",
        )


def deepest_case_m(item: Item | ItemEntry) -> float:
    """Return how deep a case can be in a section before it meets itself."""
    if item.shape == "tube" and item.bore_m is not None:
        return (item.size_m - item.bore_m) / 2
    return item.size_m / 2


def check_depth(depth_m: float, deepest_m: float) -> None:
    """Refuse a case that is deeper than the middle."""
    if depth_m > deepest_m:
        raise StepRefused("value", "That is deeper than the middle of this section. Read it again.")


def check_scale(tester: Instrument, entry: ReadingEntry) -> None:
    """Refuse a scale that the machine does not read."""
    if entry.kind == "hardness" and tester.method in MACHINES and tester.method != machine_of(entry.unit):
        raise StepRefused("unit", f"{tester.name} does not read {entry.unit}. Pick another scale or tester.")


MACHINES = ("rockwell", "vickers")


def machine_of(unit: str) -> str:
    """Return the kind of machine that reads a scale."""
    return SCALES[cast(Scale, unit)].machine


def usual_ways(session: Session, kind: str) -> dict[str, Any]:
    """Return the scale and the tester of the last hardness, or the file that was last tried."""
    newest = session.exec(
        select(Reading)
        .where(Reading.kind == kind, col(Reading.deleted_at).is_(None))
        .order_by(col(Reading.id).desc())
        .limit(1)
    ).first()
    if newest is None:
        return {}
    told = {"instrument_id": newest.instrument_id}
    return told | {"unit": newest.unit} if kind == "hardness" else told


def testers(session: Session) -> list[Instrument]:
    """Return what tells hardness in the shop."""
    return kept(session, Instrument, Instrument.role == "hardness")


def usual_instrument(shops: Sequence[Instrument], entry: ReadingEntry) -> int | None:
    """Return the shop's instrument for a kind of reading, the newest where there are several."""
    methods = {"files": "file_set", "one_file": "one_file", "traverse": "lab"}
    method = machine_of(entry.unit) if entry.kind == "hardness" else methods.get(entry.kind)
    found = [row for row in shops if row.method == method]
    return found[-1].id if found else None


def parse_points(text: str, length_unit: str) -> list[list[float]]:
    """Return the points of a traverse, [depth in m, HV], from lines such as `0.1 760`."""
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 2:
        raise StepRefused("points", "A traverse has two points or more, one a line: depth, a space, HV.")
    if len(lines) > MOST_POINTS:
        raise StepRefused("points", f"That is more than {MOST_POINTS} points. Leave some out.")
    points = [_point(number, line, length_unit) for number, line in enumerate(lines, start=1)]
    depths = [point[0] for point in points]
    if sorted(set(depths)) != depths:
        raise StepRefused("points", "The depths must grow from line to line, each once.")
    return points


def _point(number: int, line: str, length_unit: str) -> list[float]:
    pieces = line.replace(";", " ").replace("\t", " ").split()
    if pieces and pieces[-1].upper() == "HV":
        pieces = pieces[:-1]
    if len(pieces) < 2:
        raise StepRefused("points", f"Line {number}, '{line[:30]}': give depth and hardness, as in 0.1 760.")
    try:
        depth_m = parse_quantity(" ".join(pieces[:-1]), "length", length_unit).value_si
        hardness_HV = parse_number(pieces[-1])
    except NumberProblem as problem:
        raise StepRefused("points", f"Line {number}: {problem}") from None
    if not 0.0 <= depth_m <= DEEPEST_POINT_M:
        raise StepRefused("points", f"Line {number}: a depth lies between 0 and 10 mm (0.4 in).")
    if not LOWEST_HV <= hardness_HV <= HIGHEST_HV:
        raise StepRefused("points", f"Line {number}: hardness lies between 80 and 1200 HV.")
    return [depth_m, hardness_HV]


def offered_for(session: Session, item_id: int, kind: str) -> dict[str, Any]:
    """Return what the form of a reading begins with: what it is after, and how such a one was last taken."""
    if kind == "size":
        return {}
    after = {"after": usual_after_of(session, item_id)}
    if kind == "first":
        file = usual_ways(session, "one_file")
        return after | usual_ways(session, "hardness") | {"file_id": file.get("instrument_id")}
    return after | usual_ways(session, kind)


def usual_after_of(session: Session, item_id: int) -> str:
    """Return what a reading taken now would most likely be after."""
    item = get_row(session, Item, item_id)
    return usual_after(kinds_in_life(session, item, latest_life(session, item)))


def usual_after(kinds: Sequence[str]) -> str:
    """Return what a reading would be after, for a piece that has been through these kinds of step."""
    tempers = kinds.count("temper")
    if tempers:
        return f"temper_{min(tempers, 2)}"
    return "quench" if "quench" in kinds else "slow_cool"
