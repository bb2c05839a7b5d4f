"""How a piece should go into its bath, by its shape: words for the run sheet, and which picture shows it.

All of it common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from webapp.store.tables import Item

STRAIGHT_DOWN = "Straight down and wholly under in one go, then up and down along its length."
NOT_SIDEWAYS = "Do not stir it from side to side: one face cools first, and the piece bows."
WAYS = {
    "rod": ("Upright, end first", ("The thick end goes in first.",)),
    "tube": ("Bore upright, end first", ("Steam must be free to leave through the bore.",)),
    "plate": ("Edge first, never flat", ("The long edge stands upright.",)),
}


@dataclass(frozen=True)
class WayInView:
    """One shape's way into the bath; `picture` names its drawing."""

    picture: str
    title: str
    pieces: str
    notes: tuple[str, ...]


def ways_in(items: Iterable[Item]) -> tuple[WayInView, ...]:
    """Return the way into the bath of every shape in a box, with the marks of the pieces it is for."""
    marks: dict[str, list[str]] = {}
    for item in items:
        marks.setdefault(item.shape, []).append(item.mark or item.name)
    return tuple(_way_in(shape, pieces) for shape, pieces in marks.items())


def _way_in(shape: str, pieces: list[str]) -> WayInView:
    title, notes = WAYS[shape]
    return WayInView(shape, title, ", ".join(pieces), (*notes, STRAIGHT_DOWN, NOT_SIDEWAYS))
