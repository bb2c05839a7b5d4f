"""Whether a piece goes into a box at all: its sides against those of the box."""

from __future__ import annotations

from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.services.showing import Showing
from webapp.services.words import sizes_text
from webapp.store.tables import Box, Part


def why_not_in(
    box: Box,
    shape: str,
    size_m: float,
    length_m: float | None = None,
    width_m: float | None = None,
    showing: Showing | None = None,
) -> str | None:
    """Return why a piece does not go into a box, None if it does; a side that nobody told goes anywhere."""
    other_m = (width_m or 0.0) if shape == "plate" else size_m
    sides = sorted((size_m, other_m, length_m or 0.0))
    inside = (box.inner_length_m, box.inner_width_m, box.inner_height_m)
    if all(side < room for side, room in zip(sides, sorted(inside), strict=True)):
        return None
    shown = showing or showing_of(ShopView())
    piece = sizes_text(shown, tuple(side for side in reversed(sides) if side > 0.0))
    return (
        f"This piece is {piece}, and “{box.name}” {sizes_text(shown, inside)} inside. It must lie in pack "
        "all round: take a larger box, or correct the sizes."
    )


def why_part_not_in(box: Box, part: Part) -> str | None:
    """Return why a part does not go into a box, None if it does."""
    return why_not_in(box, part.shape, part.size_m, part.length_m)
