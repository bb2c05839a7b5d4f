"""From the rows of a box, its mix and what lies in it to the box as its heat sees it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import pi

from model.box_fill import Bed
from model.errors import ModelError
from model.packed_box import PackedBox, packed_box
from webapp.forms.parts import section_thickness
from webapp.store.tables import Box, Item, Mix, Part, Step

LEAST_HALF_m = 1e-3
LITRES_PER_M3 = 1e3
# To how much the volume of the work is rounded, so that like loads share one sum.
LOAD_STEP_m3 = 5e-6


@dataclass(frozen=True)
class Work:
    """Pieces in a box: half their thickness, and the volume of them all; 0 where a size is not known."""

    half_m: float
    volume_m3: float = 0.0


def fill_of(box: Box, steps: Iterable[Step]) -> str:
    """Return how a box was filled that time: as noted when it went in, else as it always is."""
    noted = next((step.settings.get("fill") for step in steps if step.kind == "box_in"), None)
    return str(noted or box.fill)


def packed(box: Box, mix: Mix | None = None, load: Sequence[Work] = (), fill: str = "") -> PackedBox | None:
    """Return a box with its pack, a usual one if none, and its load; None for sizes the sum does not take.

    `fill` is how it was filled that time, as the box always is where empty.
    """
    half_m = max((work.half_m for work in load), default=LEAST_HALF_m)
    volume_m3 = sum(work.volume_m3 for work in load)
    is_round = box.shape == "round"
    sizes_m = (box.inner_length_m, box.inner_width_m, box.inner_width_m if is_round else box.inner_height_m)
    try:
        return packed_box(
            sizes_m,
            is_round,
            box.wall_m,
            max(round(half_m, 3), LEAST_HALF_m),
            LOAD_STEP_m3 * round(volume_m3 / LOAD_STEP_m3),
            Bed() if mix is None else bed_of(mix),
            (fill or box.fill) == "gap",
        )
    except ModelError:
        return None


def bed_of(mix: Mix) -> Bed:
    """Return a mix as its heat sees it: as weighed and as damp as it was told, else as usual."""
    usual = Bed()
    water = usual.water if mix.water_percent is None else mix.water_percent / 100.0
    if mix.litre_kg is None:
        return with_water(replace(usual, grain_m=mix.grain_m), water)
    return Bed(bulk_kg_per_m3=LITRES_PER_M3 * mix.litre_kg, grain_m=mix.grain_m, water=water)


def with_water(bed: Bed, water: float) -> Bed:
    """Return the same charcoal holding another share of water [-]; it weighs more, in the same room."""
    heavier = (1.0 - bed.water) / (1.0 - water)
    return replace(bed, bulk_kg_per_m3=bed.bulk_kg_per_m3 * heavier, water=water)


def work_of_part(part: Part, count: int = 1) -> Work:
    """Return parts as a load."""
    return _work(part.shape, part.size_m, part.bore_m, part.length_m, count)


def load_of(items: Iterable[Item], parts: Mapping[int, Part]) -> tuple[Work, ...]:
    """Return what lies in a batch's box; a coupon's length is not kept, a part's may be."""
    return tuple(
        _work(item.shape, item.size_m, item.bore_m, _length_m(parts.get(item.part_id or 0)), item.count)
        for item in items
    )


def _length_m(part: Part | None) -> float | None:
    return None if part is None else part.length_m


def _work(shape: str, size_m: float, bore_m: float | None, length_m: float | None, count: int) -> Work:
    half_m = 0.5 * section_thickness(size_m, bore_m)
    if length_m is None or shape == "plate":
        return Work(half_m)
    return Work(half_m, count * ring_m2(size_m, bore_m) * length_m)


def ring_m2(size_m: float, bore_m: float | None) -> float:
    """Return the section of a round bar or a tube."""
    return 0.25 * pi * (size_m**2 - (bore_m or 0.0) ** 2)
