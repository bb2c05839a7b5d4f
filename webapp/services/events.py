"""What happens while a fire burns: temperatures noted as they are read, and mishaps."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlmodel import col

from webapp.services.batch_rows import begun, kept, row_id, steps_of, take_back
from webapp.services.heat_doubts import other_unit
from webapp.services.soak_pauses import LIT_AGAIN, open_pause, pauses_of
from webapp.services.step_rules import StepRefused, check_moment
from webapp.store.tables import Batch, Event, Fire, HeatNote
from webapp.store.unit_of_work import UnitOfWork

OTHER = "other"
EVENT_WORDS = {
    "seal cracked": "Seal cracked",
    "gas ran out": "Gas ran out",
    "burner out": "Burner went out",
    "burning back": "Burner burning back",
    LIT_AGAIN: "Lit again",
    "box turned": "Box turned",
    OTHER: "Something else",
}


def _moment(work: UnitOfWork, batch_id: int, at: datetime | None, field: str, insisted: bool) -> datetime:
    """Return when it was, or refuse a time before the box went in."""
    moment = at or work.now
    began = [step for step in steps_of(work.session, batch_id=batch_id) if step.kind == "box_in"]
    check_moment(moment, work.now, begun(began), field, insisted)
    return moment


@dataclass(frozen=True)
class HeatEntry:
    """A temperature as its form tells it; `at` None means now.

    `unit` is what a bare number was taken in, and `stands` says that it is meant although it looks wrong.
    """

    temperature_K: float
    at: datetime | None = None
    insisted: bool = False
    stands: bool = False
    unit: str = "C"
    typed: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class EventEntry:
    """Something that happened, as its form tells it; `at` None means now."""

    kind: str
    at: datetime | None = None
    insisted: bool = False
    note: str = ""


def note_heat(work: UnitOfWork, batch_id: int, entry: HeatEntry) -> HeatNote:
    """Note a temperature as it is read; it counts for every box in the fire."""
    batch = work.get(Batch, batch_id)
    fire = work.get(Fire, batch.fire_id)
    if not entry.stands:
        _ask_about_unit(work, batch_id, entry)
    return work.add(
        HeatNote(
            fire_id=row_id(fire),
            instrument_id=fire.heat_instrument_id,
            noted_at=_moment(work, batch_id, entry.at, "noted_at", entry.insisted),
            temperature_K=entry.temperature_K,
            typed=entry.typed,
        )
    )


def _ask_about_unit(work: UnitOfWork, batch_id: int, entry: HeatEntry) -> None:
    """Refuse a temperature far from the soak's that would be near it in the other unit."""
    steps = steps_of(work.session, batch_id=batch_id)
    soak = next((step for step in steps if step.kind == "soak"), None)
    if soak is None or soak.temperature_K is None:
        return
    meant = other_unit(entry.temperature_K, soak.temperature_K, entry.unit)
    if meant:
        words = f"That is far from the soak's heat. Did you mean {meant}? Then type it so, with its letter."
        raise StepRefused("noted_K", words, may_insist=True)


def note_event(work: UnitOfWork, batch_id: int, entry: EventEntry) -> Event:
    """Note that something happened in a batch."""
    batch = work.get(Batch, batch_id)
    if entry.kind == OTHER and not entry.note:
        raise StepRefused("event_note", "Write in a few words what happened.")
    moment = _moment(work, batch_id, entry.at, "event_at", entry.insisted)
    if entry.kind == LIT_AGAIN:
        _check_is_out(work, batch, moment)
    return work.add(Event(batch_id=batch_id, kind=entry.kind, happened_at=moment, note=entry.note))


def _check_is_out(work: UnitOfWork, batch: Batch, moment: datetime) -> None:
    """Refuse "lit again" of a fire that was not out, or before it went out."""
    boxes = kept(work.session, Batch, Batch.fire_id == batch.fire_id)
    events = kept(work.session, Event, col(Event.batch_id).in_([row_id(box) for box in boxes]))
    pause = open_pause(pauses_of(events))
    if pause is None:
        raise StepRefused("event_at", "The log does not say that the fire was out. Note that first.")
    if moment < pause.began:
        raise StepRefused("event_at", "That is before the fire went out. Check the time and the day.")


def remove_note(work: UnitOfWork, note_id: int) -> HeatNote:
    """Put a noted temperature in the bin."""
    return work.remove(work.get(HeatNote, note_id))


def put_back_note(work: UnitOfWork, note_id: int) -> HeatNote:
    """Take a noted temperature out of the bin."""
    return take_back(work, HeatNote, note_id)


def remove_event(work: UnitOfWork, event_id: int) -> Event:
    """Put an event in the bin."""
    return work.remove(work.get(Event, event_id))


def put_back_event(work: UnitOfWork, event_id: int) -> Event:
    """Take an event out of the bin."""
    return take_back(work, Event, event_id)
