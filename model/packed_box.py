"""A packed box as its heat sees it: form, sizes, what it is filled with."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi
from typing import Final, Literal

from model.box_fill import Bed
from model.errors import NotPossible
from model.ranges import Range, check

Form = Literal["slab", "cylinder", "square"]

SQUARE_AS_CYLINDER: Final = 1.083
"""Radius of the cylinder that warms as a long square bar of half side 1: sqrt(5.783 / 4.935), first roots of
both series (Carslaw & Jaeger, Conduction of Heat in Solids, 1959)."""
HALF_M: Final = Range(0.005, 0.5, "m", "Give the smallest inner size of the box.")
WALL_M: Final = Range(
    0.0005, 0.025, "m", "Boxes are usually made of 2 to 6 mm (1/16 to 1/4 in) plate or tube."
)
STEEL_SHARE: Final = Range(0.0, 0.9, "", "The work must leave room for the pack around it.")
FLAT_FROM: Final = 4.0
"""Width over height from which a box is a slab [-]: by the rate of `_as_square` 6 % off in time at most."""
FLAT_COVER: Final = 0.25
"""Share of a flat box's face that work of unknown volume covers [-]; own choice."""
MOST_WORK: Final = 0.85
"""Share of the inside, by radius, that work may take up before it is taken as so much: own choice."""


@dataclass(frozen=True)
class PackedBox:
    """A box as its heat sees it.

    form : slab for a flat box, cylinder for a pipe, square for a square tube
    half_m : half the smallest inner size [m]; wall_m : thickness of the box [m]
    part_m : half the thickness, or the radius, of the work in the middle [m]
    steel_share : of the inside that is steel [-], where more lies in it than one piece; bed : the pack
    gap : the fill does not reach the wall: heat crosses a gap by radiation
    """

    form: Form
    half_m: float
    wall_m: float = 0.004
    part_m: float = 0.005
    steel_share: float = 0.0
    bed: Bed = field(default_factory=Bed)
    gap: bool = False

    def __post_init__(self) -> None:
        """Refuse a box that cannot be."""
        check("half_m", self.half_m, HALF_M)
        check("wall_m", self.wall_m, WALL_M)
        check("steel_share", self.steel_share, STEEL_SHARE)
        if not 0.0 < self.core_m < 0.95 * self.radius_m:
            what = "the work does not fit into the box with pack around it"
            raise NotPossible("box", what, "Take a larger box, or put less in it.")

    @property
    def radius_m(self) -> float:
        """Return the half thickness or radius of the inside as the solver has it [m]."""
        return self.half_m * (SQUARE_AS_CYLINDER if self.form == "square" else 1.0)

    @property
    def core_m(self) -> float:
        """Return the half thickness or radius of the steel in the middle [m]."""
        share = self.steel_share if self.form == "slab" else self.steel_share**0.5
        return max(self.part_m, share * self.radius_m)


def packed_box(
    sizes_m: tuple[float, float, float],
    is_round: bool,
    wall_m: float,
    part_m: float,
    steel_m3: float = 0.0,
    bed: Bed | None = None,
    gap: bool = False,
) -> PackedBox:
    """Describe a box of given inner sizes.

    sizes_m : inner length, width and height [m]; of a round one length, bore, bore
    wall_m : thickness of the box [m]
    part_m : half the thickness of the thickest work [m]; at most what leaves room for pack
    steel_m3 : volume of all the work, 0 where it is not known; bed : the pack, a usual one for None
    gap : the pack does not reach the lid
    Returns the box. Raises OutOfRange for sizes that no box has.
    Source: first roots of the series of a slab, a bar and a cylinder (Carslaw & Jaeger 1959).
    """
    length_m, width_m, height_m = sizes_m
    inside_m3 = length_m * width_m * height_m * (0.25 * pi if is_round else 1.0)
    share = min(steel_m3 / inside_m3, MOST_WORK**2)
    small_m, next_m, _ = sorted(sizes_m)
    form: Form = "cylinder" if is_round else "slab" if next_m > FLAT_FROM * small_m else "square"
    half_m = 0.5 * small_m if form != "square" else _as_square(0.5 * small_m, 0.5 * next_m)
    thick_m = part_m * (FLAT_COVER if form == "slab" else 1.0)
    return PackedBox(form, half_m, wall_m, min(thick_m, MOST_WORK * half_m), share, bed or Bed(), gap)


def _as_square(half_m: float, other_m: float) -> float:
    """Return the half side of the square bar that warms at the rate of a bar of two half sides."""
    return float((2.0 / (half_m**-2 + other_m**-2)) ** 0.5)
