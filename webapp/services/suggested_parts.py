"""Parts to begin with, for a logbook that has none: usual small work, each one tap from its first plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from webapp.forms.parts import PartForm
from webapp.services.bars import BARS
from webapp.services.batch_rows import kept, row_id
from webapp.services.parts import add_part
from webapp.services.sheets import ASSUMED, add_to_sheet
from webapp.store.errors import NotFound
from webapp.store.tables import Bar
from webapp.store.unit_of_work import UnitOfWork

USUAL_BAR: dict[str, Any] = {"name": "Mild bar (1018)", "grade": "1018", "note": ASSUMED}


@dataclass(frozen=True)
class SuggestedPart:
    """A part that is offered: its key, its words, and its form's answers."""

    key: str
    name: str
    words: str
    answers: dict[str, Any]


# Usual small work. Common practice, no source.
SUGGESTED_PARTS = (
    SuggestedPart(
        "pin", "Pivot pin", "12 mm (1/2 in) round, rubs in its bush",
        {"shape": "rod", "size_m": 12e-3, "duties": ["wear"]},
    ),
    SuggestedPart(
        "plate", "Wear plate", "8 mm (5/16 in) flat, rubs under load",
        {"shape": "plate", "size_m": 8e-3, "duties": ["wear", "bearing"], "grind_m": 0.1e-3},
    ),
    SuggestedPart(
        "lever", "Lever", "6 mm (1/4 in) flat, bends and takes knocks",
        {"shape": "plate", "size_m": 6e-3, "duties": ["bending", "impact"]},
    ),
)  # fmt: skip


def add_suggested_part(work: UnitOfWork, key: str) -> str:
    """Save a suggested part, from the first bar of the rack or an assumed one; return where it is planned."""
    part = next((part for part in SUGGESTED_PARTS if part.key == key), None)
    if part is None:
        raise NotFound("part", 0)
    bars = kept(work.session, Bar)
    bar_id = row_id(bars[0]) if bars else add_to_sheet(work, BARS, BARS.form(**USUAL_BAR), typed={})
    made = add_part(work, PartForm(name=part.name, bar_id=bar_id, note=ASSUMED, **part.answers), typed={})
    location = f"/plans/new?part={made.rpartition('/')[2]}"
    work.answered_at(location)
    return location
