"""A section through a packed box, as shapes in the drawing's own units: walls, lid, luting, pieces."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product

from webapp.store.tables import Box, Item, Part

WIDE, HIGH = 320.0, 150.0
MARGIN = 26.0
LEAST_WALL = 5.0
LID = 9.0
LONGEST_SHARE = 0.62
GUESSED_LENGTHS = 3.0
SMALLEST_PIECE = 7.0
TALLEST_SHARE = 0.3
ACROSS = {"end": 0.16, "middle": 0.5, "edge": 0.8}
DOWN = {"top": 0.24, "middle": 0.5, "bottom": 0.76, "": 0.5}
AT_A_WALL = 0.84
APART = 3.0
MOST_STEPS = 6


@dataclass(frozen=True)
class Rectangle:
    """A rectangle: its corner and size."""

    x: float
    y: float
    wide: float
    high: float


@dataclass(frozen=True)
class DrawnPiece:
    """A part or coupon with its mark; the mark stands at its middle."""

    place: Rectangle
    mark: str
    is_coupon: bool

    @property
    def mark_x(self) -> float:
        """Return where the mark stands, across."""
        return self.place.x + self.place.wide / 2

    @property
    def mark_y(self) -> float:
        """Return where the mark stands, down."""
        return self.place.y + self.place.high / 2


@dataclass(frozen=True)
class BoxDrawing:
    """A section along the box: a round one has its lid at the right end, any other on top.

    height : of the drawing, which is `WIDE` wide
    probe : from where the witness wire or thermocouple comes in to its tip, x and y each
    """

    height: float
    outer: Rectangle
    inner: Rectangle
    lid: Rectangle
    luting: tuple[Rectangle, ...]
    pieces: tuple[DrawnPiece, ...]
    probe: tuple[float, float, float, float]
    has_luting: bool
    is_round: bool
    is_gapped: bool


def draw_box(box: Box, items: Iterable[Item], parts: Mapping[int, Part]) -> BoxDrawing:
    """Return the section through a box with what lies in it, to the scale of the box."""
    scale = min((WIDE - 2 * MARGIN) / box.inner_length_m, (HIGH - 2 * MARGIN) / box.inner_height_m)
    wide, high = scale * box.inner_length_m, scale * box.inner_height_m
    inner = Rectangle((WIDE - wide) / 2, MARGIN, wide, high)
    wall = max(scale * box.wall_m, LEAST_WALL)
    is_round = box.shape == "round"
    outer = Rectangle(inner.x - wall, inner.y - wall, wide + 2 * wall, high + 2 * wall)
    return BoxDrawing(
        height=high + 1.5 * MARGIN,
        outer=outer,
        inner=inner,
        lid=_lid(outer, is_round),
        luting=_luting(outer, wall, is_round),
        pieces=tuple(_pieces(inner, scale, items, parts)),
        probe=_probe(inner, outer, is_round),
        has_luting=box.seal != "lid only",
        is_round=is_round,
        is_gapped=box.fill == "gap",
    )


def _lid(outer: Rectangle, is_round: bool) -> Rectangle:
    if is_round:
        return Rectangle(outer.x + outer.wide - LID / 2, outer.y - 3, LID, outer.high + 6)
    return Rectangle(outer.x - 3, outer.y - LID / 2, outer.wide + 6, LID)


def _luting(outer: Rectangle, wall: float, is_round: bool) -> tuple[Rectangle, ...]:
    """Return the two places where the section cuts the bed of clay round the lid."""
    wide, high = (7.0, wall + 2) if is_round else (wall + 2, 7.0)
    near, far = outer.x + outer.wide, outer.y + outer.high
    if is_round:
        x = near - LID / 2 - 6
        return (Rectangle(x, outer.y - 4, wide, high), Rectangle(x, far - wall + 2, wide, high))
    y = outer.y + LID / 2 - 1
    return (Rectangle(outer.x - 4, y, wide, high), Rectangle(near - wall + 2, y, wide, high))


def _probe(inner: Rectangle, outer: Rectangle, is_round: bool) -> tuple[float, float, float, float]:
    """Return a witness line from outside the lid to the middle of the box, beside the work."""
    if is_round:
        y = inner.y + 0.36 * inner.high
        return (outer.x + outer.wide + 18, y, inner.x + 0.56 * inner.wide, y)
    x = inner.x + 0.64 * inner.wide
    return (x, outer.y - 18, x, inner.y + 0.5 * inner.high)


def _pieces(
    inner: Rectangle, scale: float, items: Iterable[Item], parts: Mapping[int, Part]
) -> Iterable[DrawnPiece]:
    """Yield the pieces where they lie, or beside one another where that place is taken."""
    taken: list[Rectangle] = []
    for item in items:
        part = parts.get(item.part_id or 0)
        length_m = part.length_m if part and part.length_m else GUESSED_LENGTHS * item.size_m
        wide = min(max(scale * length_m, SMALLEST_PIECE), LONGEST_SHARE * inner.wide)
        high = min(max(scale * item.size_m, SMALLEST_PIECE), TALLEST_SHARE * inner.high)
        x = inner.x + ACROSS[item.place] * inner.wide - wide / 2
        down = AT_A_WALL if item.place == "edge" else DOWN[item.layer]
        wished = _kept_inside(Rectangle(x, inner.y + down * inner.high - high / 2, wide, high), inner)
        taken.append(_beside(wished, taken, inner))
        yield DrawnPiece(taken[-1], item.mark, item.kind == "coupon")


def _kept_inside(piece: Rectangle, inner: Rectangle) -> Rectangle:
    x = min(max(piece.x, inner.x + 2), inner.x + inner.wide - piece.wide - 2)
    y = min(max(piece.y, inner.y + 2), inner.y + inner.high - piece.high - 2)
    return Rectangle(x, y, piece.wide, piece.high)


def _beside(wished: Rectangle, taken: list[Rectangle], inner: Rectangle) -> Rectangle:
    """Return the free place nearest to the wished one; the wished one in a box drawn full."""
    steps = range(-MOST_STEPS, MOST_STEPS + 1)
    for down, across in sorted(product(steps, steps), key=lambda step: 2 * abs(step[1]) + abs(step[0])):
        x = wished.x + across * (wished.wide + APART)
        y = wished.y + down * (wished.high + APART)
        found = _kept_inside(Rectangle(x, y, wished.wide, wished.high), inner)
        if not any(_overlap(found, other) for other in taken):
            return found
    return wished


def _overlap(one: Rectangle, other: Rectangle) -> bool:
    is_apart = one.x + one.wide <= other.x or other.x + other.wide <= one.x
    return not is_apart and one.y < other.y + other.high and other.y < one.y + one.high
