"""What a batch's box is filled with, by weight, and the gas it makes; for the run sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from model.energizers import carbonate_percent_of, substance_of
from model.errors import ModelError
from model.pack_weights import PackWeights, pack_weights
from webapp.services.box_rows import load_of
from webapp.services.sheets import Line
from webapp.services.showing import Showing
from webapp.services.supplies_room import box_m3
from webapp.services.words import weigh
from webapp.store.tables import Box, Item, Mix, Part

LITRES_PER_M3 = 1e3
NO_ROOM = "The work as listed leaves no room for pack: check the sizes, or take a larger box."


def fill_box(
    box: Box, mix: Mix, items: Iterable[Item], parts: Mapping[int, Part], heat_K: float, showing: Showing
) -> tuple[tuple[Line, ...], str]:
    """Return what to weigh out, and why the box must vent; work whose length is not known takes no room."""
    inside_m3 = box_m3(box)
    work_m3 = sum(work.volume_m3 for work in load_of(items, parts))
    percent = carbonate_percent_of(mix.substance, mix.substance_percent)
    carbonate = substance_of(mix.substance).carbonate if percent > 0 else ""
    bulk = mix.litre_kg * LITRES_PER_M3 if mix.litre_kg else None
    try:
        weights = pack_weights(inside_m3 - work_m3, percent, carbonate, mix.grain_m, bulk, heat_K)
    except ModelError:
        return (Line("Pack", NO_ROOM),), ""
    return _lines(weights, mix, percent > 0, inside_m3, work_m3, showing), _vent(weights)


def _lines(
    weights: PackWeights, mix: Mix, is_lively: bool, inside_m3: float, work_m3: float, showing: Showing
) -> tuple[Line, ...]:
    # a substance that is only part carbonate is weighed out as a whole
    stirred_in_kg = weights.mix_kg * mix.substance_percent / 100.0 if is_lively else 0.0
    doubt = f"give or take {100 * weights.doubt:.0f} %" if weights.doubt else "by your own weighed litre"
    lines = [Line("Charcoal, dry", f"{weigh(weights.mix_kg - stirred_in_kg, showing)}, {doubt}")]
    if is_lively:
        lines.append(
            Line(mix.substance.capitalize(), f"{weigh(stirred_in_kg, showing)}, {mix.substance_percent:g} %")
        )
    if mix.fresh_share < 1.0:
        old, fresh = (
            weigh(weights.mix_kg * share, showing) for share in (1.0 - mix.fresh_share, mix.fresh_share)
        )
        lines.append(Line("Of all this", f"{old} old pack, sieved, and {fresh} fresh"))
    less = f", less {LITRES_PER_M3 * work_m3:.2f} L of work" if work_m3 > 0 else ""
    lines.append(Line("Fills", f"{LITRES_PER_M3 * inside_m3:.2f} L inside{less}"))
    return tuple(lines)


def _vent(weights: PackWeights) -> str:
    if weights.hot_gas_L <= 0:
        return "Dry charcoal makes gas too: it must be able to leave past the luting."
    return (
        f"It can make up to {weights.hot_gas_L:.0f} L of hot gas, {weights.fills:.0f} times the free space: "
        "it must be able to leave past the luting. Never weld or screw the box shut."
    )
