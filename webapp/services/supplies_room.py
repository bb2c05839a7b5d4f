"""Room and skin of a part, and whether it goes into its box."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from webapp.forms.supplies import SuppliesForm
from webapp.services.box_rows import ring_m2
from webapp.services.sheets import NotAccepted
from webapp.store.tables import Box, Part


@dataclass(frozen=True)
class Room:
    """What one part takes: its volume [m3] and its faces that the pack feeds [m2]."""

    volume_m3: float
    fed_m2: float


def box_m3(box: Box) -> float:
    """Return the inside of a box; a round one is as wide as it is high."""
    if box.shape == "round":
        return 0.25 * pi * box.inner_width_m**2 * box.inner_length_m
    return box.inner_length_m * box.inner_width_m * box.inner_height_m


def room_of(part: Part, form: SuppliesForm) -> Room | None:
    """Return what one part takes; None where its length, or a flat one's width, is not told."""
    length_m = form.part_length_m or part.length_m
    if length_m is None:
        return None
    if part.shape == "plate":
        return None if form.part_width_m is None else _flat(part.size_m, form.part_width_m, length_m)
    end_m2 = ring_m2(part.size_m, part.bore_m)
    round_m = part.size_m + (part.bore_m or 0.0 if part.bore_packed else 0.0)
    return Room(end_m2 * length_m, pi * round_m * length_m + 2.0 * end_m2)


def _flat(thick_m: float, wide_m: float, long_m: float) -> Room:
    faces_m2 = 2.0 * (thick_m * wide_m + thick_m * long_m + wide_m * long_m)
    return Room(thick_m * wide_m * long_m, faces_m2)


def check_it_goes_in(part: Part, box: Box, form: SuppliesForm) -> None:
    """Refuse a part that is larger than its box, beside the size that is too large."""
    length_m = form.part_length_m or part.length_m
    if length_m is None:
        return
    width_m = (form.part_width_m or part.size_m) if part.shape == "plate" else part.size_m
    sides = sorted((part.size_m, width_m, length_m))
    inside = sorted((box.inner_length_m, box.inner_width_m, box.inner_height_m))
    if any(side > room for side, room in zip(sides, inside, strict=True)):
        raise NotAccepted(
            {"part_length_m": f"The part does not go into “{box.name}”. Check it, or plan a larger box."}
        )
