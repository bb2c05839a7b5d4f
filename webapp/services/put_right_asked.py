"""What is asked of the model when a piece is to be put right, gathered from the logbook's rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from sqlmodel import Session

from model.errors import ModelError
from model.narrowed import Taken
from model.outcome import Wanted
from model.process import Process, Temper
from model.remedy import BathChoice
from model.usable import why_not_used
from webapp.services.batch_rows import BatchRows, kept, path_kinds, row_id
from webapp.services.dated_changes import before_rework
from webapp.services.fitting import current_belief
from webapp.services.lives import story_of_item
from webapp.services.observations import told_of_batch
from webapp.services.plan_rows import goal_of, refusal_of
from webapp.services.plan_sums import Believed
from webapp.services.processes import NotYet, quench_in
from webapp.services.put_right_sums import PieceAsked, Worked, work_out
from webapp.store.tables import Bar, Bath, Item, Part, Reading

USUAL_TEMPER_S = 3600.0
NOT_HARDENED = "it has not been quenched yet"
NO_BATH = "the shop has no bath: write one down on the Shop page"


@dataclass(frozen=True)
class Piece:
    """The rows of a piece, and what it should have been."""

    rows: BatchRows
    item: Item
    wanted: Wanted

    @classmethod
    def of(cls, rows: BatchRows, item: Item, part: Part) -> Piece:
        """Return a piece judged by what a part wants."""
        return cls(rows, item, Wanted(goal_of(part), part.wanted_hardness_HRC))


@dataclass(frozen=True)
class Answer:
    """The advice on a piece with what it hangs on."""

    piece: Piece
    asked: PieceAsked
    worked: Worked
    baths: Mapping[str, Bath]


def part_of(session: Session, rows: BatchRows, item: Item, part_id: int | None) -> Part | None:
    """Return the part that a piece is or stands for; None where nobody said."""
    with_it = {other.part_id for other in rows.items if other.part_id is not None}
    planned = rows.plan.part_id if rows.plan else None
    only = with_it.pop() if len(with_it) == 1 else None
    wanted = part_id or item.part_id or planned or only
    part = session.get(Part, wanted) if wanted else None
    return None if part is None or part.deleted_at is not None else part


def answer_for(session: Session, piece: Piece, now: datetime) -> Answer | str:
    """Return the advice on a piece, or what is missing."""
    rows, item = piece.rows, piece.item
    if "quench" not in path_kinds(rows, item):
        return NOT_HARDENED
    bar = session.get(Bar, item.bar_id)
    assert bar is not None  # a piece always has one: a foreign key
    every = {row_id(bath): bath for bath in kept(session, Bath)}
    story = story_of_item(rows, item, bar, every, now)
    if isinstance(story, NotYet):
        return story.why
    whole = _as_baths_are_now(rows, story.whole())
    baths = _in_order(every, whole.keys.bath)
    if not baths:
        return NO_BATH
    asked = PieceAsked(
        whole,
        _readings(session, piece, now),
        piece.wanted,
        tuple(BathChoice(key, quench_in(bath)) for key, bath in baths.items()),
        _temper_s(whole),
        _reads_HRC(rows.readings.get(row_id(item), [])),
    )
    try:
        worked = work_out(asked, Believed.of(current_belief(session, whole.keys.fire).belief))
    except ModelError as problem:
        words = next(iter(refusal_of(problem).errors.values()))
        return words[0].lower() + words[1:].removesuffix(".")
    return Answer(piece, asked, worked, baths)


def _as_baths_are_now(rows: BatchRows, process: Process) -> Process:
    """Return a piece's story with what was changed of the baths and ovens since: they will be used again."""
    loosened = before_rework(rows.changes, rows.batch.day, date.max)
    known = process.keys.loosened
    keys = replace(process.keys, loosened=(*known, *(one for one in loosened if one not in known)))
    return replace(process, keys=keys)


def _in_order(baths: dict[int, Bath], last: str) -> dict[str, Bath]:
    """Return the baths by key, the one it was quenched in first."""
    keyed = {str(bath_id): bath for bath_id, bath in baths.items()}
    return dict(sorted(keyed.items(), key=lambda pair: pair[0] != last))


def _temper_s(process: Process) -> float:
    """Return how long it was tempered last, else the usual hour."""
    tempers = [step.seconds for step in process.steps if isinstance(step, Temper)]
    return tempers[-1] if tempers else USUAL_TEMPER_S


def _readings(session: Session, piece: Piece, now: datetime) -> tuple[Taken, ...]:
    """Return what was read off the piece, in this batch and in those it came from."""
    learnt = {int(key) for key in current_belief(session).summary.get("used", ())}
    taken: list[Taken] = []
    place: tuple[BatchRows, Item] | None = (piece.rows, piece.item)
    while place is not None:
        rows, item = place
        told = told_of_batch(session, rows, now)
        for row in rows.readings.get(row_id(item), []):
            one = told[row_id(row)]
            if not isinstance(one, str) and why_not_used(one) is None:
                taken.append(Taken(one, row_id(row) in learnt))
        place = rows.earlier.get(row_id(item))
    return tuple(taken)


def latest_readings(readings: list[Reading]) -> list[Reading]:
    """Return the readings of the last life that has any, those set aside left out."""
    counted = [row for row in readings if not row.left_out_why]
    last = max((row.life for row in counted), default=1)
    return [row for row in counted if row.life == last]


def _reads_HRC(readings: list[Reading]) -> float | None:
    """Return the Rockwell C that was read last in the life that has readings; None where none was."""
    read = [row.value for row in latest_readings(readings) if row.kind == "hardness" and row.unit == "HRC"]
    return read[-1] if read else None
