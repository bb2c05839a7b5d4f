"""The demo's invented workshop: its forge, boxes, mixes, baths, testers, bars and parts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from webapp.services.bars import BARS
from webapp.services.boxes import BOXES
from webapp.services.forges import BATHS, FORGES
from webapp.services.instruments import HEATS, OVENS, TESTERS
from webapp.services.mixes import MIXES
from webapp.services.sheets import SheetKind

SHOP_NAME = "Heathergill Light Railway signal workshop (invented)"
INVENTED = "Invented for the demo."

# key of ours -> (what it is, its form's answers)
EQUIPMENT: Mapping[str, tuple[SheetKind[Any, Any], Mapping[str, Any]]] = {
    "forge": (
        FORGES,
        {
            "name": "Two-burner gas forge",
            "fuel": "propane",
            "inside_length_m": 0.45,
            "inside_width_m": 0.24,
            "inside_height_m": 0.18,
            "hot_end": "middle",
            "jet_m": 1.1e-3,
        },
    ),
    "thermocouple": (HEATS, {"name": "Sheathed thermocouple beside the box", "method": "thermocouple"}),
    "colour": (HEATS, {"name": "By eye, shutters closed", "method": "colour"}),
    "tube": (
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
    "plate": (
        BOXES,
        {
            "name": "Folded plate box",
            "shape": "rectangular",
            "inner_length_m": 0.26,
            "inner_width_m": 0.11,
            "inner_height_m": 0.09,
            "wall_m": 0.004,
            "seal": "air-drying clay",
            "fill": "filled",
        },
    ),
    "plain": (MIXES, {"name": "Plain lump charcoal", "charcoal": "lump", "substance": "none"}),
    "soda": (
        MIXES,
        {
            "name": "Charcoal with soda ash",
            "charcoal": "lump",
            "substance": "soda ash",
            "substance_percent": 5.0,
        },
    ),
    "chalk": (
        MIXES,
        {"name": "Charcoal with chalk", "charcoal": "lump", "substance": "chalk", "substance_percent": 12.0},
    ),
    "water": (BATHS, {"name": "Rain-water barrel", "medium": "water", "temperature_K": 288.15}),
    "brine": (
        BATHS,
        {"name": "Brine bucket", "medium": "brine", "temperature_K": 293.15, "salt_percent": 10.0},
    ),
    "oil": (BATHS, {"name": "Rapeseed oil, lidded tank", "medium": "oil", "temperature_K": 323.15}),
    "oven": (OVENS, {"name": "Bench oven"}),
    "rockwell": (TESTERS, {"name": "Bench Rockwell tester", "method": "rockwell"}),
    "files": (TESTERS, {"name": "File set", "method": "file_set", "files_HRC": "40 45 50 55 60 65"}),
    "rod": (BARS, {"name": "Bright rod 1018", "grade": "1018"}),
    "flat": (BARS, {"name": "Black flat S275", "grade": "S275JR"}),
}
MYSTERY_NAME = "Old signal-post rail, unknown"
MYSTERY_CARBON_WT = (0.05, 0.35)  # what its sparks and a file said: low in carbon, no more

PLANNED = "Pivot pin"
# The bar, the section [mm], the duties, the wanted case [mm] and what is ground off each face [mm];
# of one of them, what stays soft; of another, a skin [HRC] that two of its batches came out with.
PARTS: Mapping[str, Mapping[str, Any]] = {
    "Pivot pin": {
        "bar": "rod",
        "shape": "rod",
        "size": 12.0,
        "duties": ["wear", "bending"],
        "case": (0.6, 0.9),
        "grind": 0.05,
        "soft": {"soft_area": "thread", "soft_kept": "machined", "soft_stock_m": 1.5e-3},
    },
    "Bush": {
        "bar": "rod",
        "shape": "tube",
        "size": 22.0,
        "bore": 12.0,
        "duties": ["bearing"],
        "case": (0.5, 0.9),
        "grind": 0.1,
    },
    "Wear plate": {
        "bar": "flat",
        "shape": "plate",
        "size": 8.0,
        "duties": ["wear"],
        "case": (0.4, 0.8),
        "grind": 0.1,
        "skin": 65.0,
    },
    "Detent pawl": {
        "bar": "flat",
        "shape": "plate",
        "size": 6.0,
        "duties": ["wear", "impact"],
        "case": (0.35, 0.6),
        "grind": 0.0,
    },
}
