"""The shop page: every list of the shop on one page, and what colours of heat mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from model.units import celsius_to_kelvin
from webapp.services.boxes import BOXES, box_fits
from webapp.services.forges import BATHS, FORGES
from webapp.services.heat_words import COLOURS_SOURCE, HEAT_COLOURS, HEAT_METHODS, Method
from webapp.services.instruments import HEATS, OVENS, TESTERS
from webapp.services.mixes import MIXES
from webapp.services.sheets import SheetKind, SheetView, rows_of, view_sheet
from webapp.services.showing import Showing
from webapp.services.words import give_or_take

SHOP_KINDS: dict[str, SheetKind[Any, Any]] = {
    kind.key: kind for kind in (FORGES, HEATS, BOXES, MIXES, BATHS, OVENS, TESTERS)
}


@dataclass(frozen=True)
class ColourRow:
    """One heat colour in two old lists."""

    name: str
    earlier: str
    later: str


@dataclass(frozen=True)
class MethodRow:
    """One way of knowing the heat, with what is usual for it and who says so."""

    label: str
    spread: str
    hint: str
    source: str


@dataclass(frozen=True)
class ColoursView:
    """Heat by colour, and how far off each way of knowing the heat usually is."""

    colours: tuple[ColourRow, ...]
    source: str
    methods: tuple[MethodRow, ...]


@dataclass(frozen=True)
class ShopPageView:
    """The shop page: its lists, and what does not go together in them."""

    sheets: tuple[SheetView, ...]
    misfits: tuple[str, ...]


def view_shop_page(session: Session, showing: Showing) -> ShopPageView:
    """Return the whole shop page."""
    sheets = tuple(view_sheet(session, kind, showing) for kind in SHOP_KINDS.values())
    return ShopPageView(sheets, misfits(session, showing))


def misfits(session: Session, showing: Showing) -> tuple[str, ...]:
    """Return, for every box that fits no forge, why it does not."""
    forges, boxes = rows_of(session, FORGES), rows_of(session, BOXES)
    found = []
    for box in boxes:
        reasons = [box_fits(forge, [box], showing) for forge in forges]
        if reasons and all(reasons):
            found.append(str(reasons[0]))
    return tuple(found)


def view_colours(showing: Showing) -> ColoursView:
    """Return the colours of heat and the ways of knowing it, in the shop's units."""
    rows = (
        ColourRow(
            colour.name,
            _heat(colour.earlier_list_C, showing),
            "not in it" if colour.later_list_C is None else _heat(colour.later_list_C, showing),
        )
        for colour in HEAT_COLOURS
    )
    return ColoursView(
        tuple(rows), COLOURS_SOURCE, tuple(_method_row(method, showing) for method in HEAT_METHODS)
    )


def _heat(temperature_C: float, showing: Showing) -> str:
    return showing.temperature(celsius_to_kelvin(temperature_C))


def _method_row(method: Method, showing: Showing) -> MethodRow:
    spread = give_or_take(showing, method.spread, is_hardness=False)
    return MethodRow(method.label, spread, method.hint, method.source)
