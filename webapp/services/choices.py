"""What the logbook offers to pick from, as the choices of a form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from webapp.forms.ask import Choice
from webapp.services.batch_rows import kept
from webapp.services.batches import open_fires
from webapp.store.tables import Bar, Bath, Box, Forge, Instrument, Mix, Part
from webapp.store.unit_of_work import AnyRecord

Choices = Mapping[str, Sequence[Choice]]


@dataclass(frozen=True)
class PickView:
    """A list to pick from: its name in the address, its words, its choices, and what is picked."""

    name: str
    label: str
    choices: tuple[Choice, ...]
    picked: str
    help: str = ""


def named(session: Session, kind: type[AnyRecord], *conditions: object) -> list[Choice]:
    """Return the records of a list that are not in the bin, by their names."""
    return [Choice(str(row.id), row.name) for row in kept(session, kind, *conditions)]  # type: ignore[attr-defined]


def batch_choices(session: Session) -> Choices:
    """Return what a batch can run with."""
    fires = [
        Choice(str(fire_id), "batch " + " and ".join(str(number) for number in numbers))
        for fire_id, numbers in open_fires(session)
    ]
    parts = named(session, Part)
    return {
        "box_id": named(session, Box),
        "mix_id": named(session, Mix),
        "forge_id": named(session, Forge),
        "heat_instrument_id": named(session, Instrument, Instrument.role == "heat"),
        "bath_id": [*named(session, Bath), Choice("", "Not quenched")],
        "part_id": [*parts, Choice("", "No part")] if parts else [],
        "fire_id": [*fires, Choice("", "A fire of its own")] if fires else [],
    }


def step_choices(session: Session, action: str) -> Choices:
    """Return what a step can be done with: a temper in an oven, a reheat judged by what tells heat."""
    role = "heat" if action == "reheat" else "oven"
    return {
        "bath_id": named(session, Bath),
        "instrument_id": named(session, Instrument, Instrument.role == role),
    }


def item_choices(session: Session) -> Choices:
    """Return what a piece can be."""
    return {"bar_id": named(session, Bar), "part_id": named(session, Part)}


TESTERS = {
    "hardness": ("rockwell", "vickers", "lab"),
    "files": ("file_set",),
    "one_file": ("one_file", "file_set"),
    "traverse": ("vickers", "lab"),
    "first": ("rockwell", "vickers", "lab"),
}


def reading_choices(session: Session, kind: str) -> Choices:
    """Return what a kind of reading can be taken with; any tester where the kind names none."""
    testers = kept(session, Instrument, Instrument.role == "hardness")
    return {
        "instrument_id": _of_methods(testers, TESTERS.get(kind, ())),
        "file_id": _of_methods(testers, TESTERS["one_file"]),
    }


def _of_methods(testers: Sequence[Instrument], methods: Sequence[str]) -> list[Choice]:
    return [Choice(str(row.id), row.name) for row in testers if not methods or row.method in methods]
