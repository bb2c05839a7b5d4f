"""The usual small shop a new logbook starts with: everything in it is assumed, and marked so."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from webapp.services.bars import BARS
from webapp.services.boxes import BOXES
from webapp.services.forges import BATHS, FORGES
from webapp.services.instruments import HEATS, OVENS, TESTERS
from webapp.services.mixes import MIXES
from webapp.services.sheets import ASSUMED, SheetKind, add_to_sheet
from webapp.store.unit_of_work import UnitOfWork

ROOM_K = 293.15
WARM_OIL_K = 323.15

# A usual small shop. Common practice, no source; carbonate 5 % by weight is what the plan page calls lively.
USUAL: tuple[tuple[SheetKind[Any, Any], Mapping[str, Any]], ...] = (
    (
        FORGES,
        {
            "name": "Gas forge",
            "fuel": "propane",
            "inside_length_m": 0.40,
            "inside_width_m": 0.18,
            "inside_height_m": 0.16,
            "hot_end": "middle",
        },
    ),
    (HEATS, {"name": "By eye, in dim light", "method": "colour"}),
    (
        BOXES,
        {
            "name": "Square tube box",
            "shape": "rectangular",
            "inner_length_m": 0.20,
            "inner_width_m": 0.074,
            "inner_height_m": 0.074,
            "wall_m": 0.003,
            "seal": "fireclay",
            "fill": "filled",
        },
    ),
    (MIXES, {"name": "Plain lump charcoal", "charcoal": "lump", "substance": "none"}),
    (
        MIXES,
        {
            "name": "Charcoal with soda ash",
            "charcoal": "lump",
            "substance": "soda ash",
            "substance_percent": 5.0,
        },
    ),
    (BATHS, {"name": "Water", "medium": "water", "temperature_K": ROOM_K}),
    (BATHS, {"name": "Brine", "medium": "brine", "temperature_K": ROOM_K}),
    (BATHS, {"name": "Vegetable oil", "medium": "oil", "temperature_K": WARM_OIL_K}),
    (OVENS, {"name": "Small oven"}),
    (TESTERS, {"name": "One old file", "method": "one_file"}),
    (BARS, {"name": "Mild bar", "grade": "1018"}),
)


def add_usual_shop(work: UnitOfWork) -> None:
    """Save the usual shop, each record marked as assumed."""
    for kind, answers in USUAL:
        add_to_sheet(work, kind, kind.form(**answers, note=ASSUMED), typed={})
