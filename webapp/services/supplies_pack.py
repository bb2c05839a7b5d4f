"""Charcoal and carbonate by weight for a box, the gas they make, and whether their carbon is enough."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from model.energizers import carbonate_percent_of, substance_of
from model.errors import ModelError
from model.pack_weights import (
    FEEDS_SHARE,
    CarbonBalance,
    PackWeights,
    TopUp,
    carbon_balance,
    charcoal_bulk_density,
    pack_weights,
    top_up,
)
from webapp.forms.supplies import SuppliesForm
from webapp.services.plan_more_figures import CarbonFigures
from webapp.services.sheets import Line, NotAccepted
from webapp.services.showing import Showing
from webapp.services.supplies_room import Room
from webapp.services.words import weigh
from webapp.store.tables import Mix

LITRES_PER_M3: Final = 1e3


@dataclass(frozen=True)
class Packed:
    """A box filled: weights of the whole, how much of it is what is stirred in, its carbon, its top-up.

    fresh_charcoal_kg, fresh_substance_kg : what must be bought for it
    """

    weights: PackWeights
    substance: str
    substance_share: float
    carbon: CarbonBalance | None
    topped: TopUp | None
    fresh_charcoal_kg: float
    fresh_substance_kg: float


@dataclass(frozen=True)
class PackView:
    """What goes into the box, in the words of the shop."""

    lines: tuple[Line, ...]
    vent: str
    warning: str
    notes: tuple[str, ...]


def pack_box(
    mix: Mix,
    box_m3: float,
    room: Room | None,
    form: SuppliesForm,
    heat_K: float,
    carbon: CarbonFigures | None,
) -> Packed:
    """Return what fills a box; raises `NotAccepted` where parts or old pack have no room in it."""
    free_m3 = box_m3 - form.parts * (room.volume_m3 if room else 0.0)
    percent = carbonate_percent_of(mix.substance, mix.substance_percent)
    known = substance_of(mix.substance) if percent > 0.0 else None
    # where a substance is only part carbonate, the rest of it weighs as well
    share = mix.substance_percent / 100.0 if known else 0.0
    bulk = mix.litre_kg * LITRES_PER_M3 if mix.litre_kg else None
    try:
        weights = pack_weights(free_m3, percent, known.carbonate if known else "", mix.grain_m, bulk, heat_K)
    except ModelError:
        raise NotAccepted({"parts": "So many parts leave no room for pack. Use fewer."}) from None
    charcoal_kg, substance_kg = weights.mix_kg * (1.0 - share), weights.mix_kg * share
    balance = None
    if room is not None and carbon is not None:
        balance = carbon_balance(form.parts * room.fed_m2, carbon.gain_high_kg_per_m2, charcoal_kg)
    topped = _topped(weights, form)
    if topped is not None and known is not None:
        substance_kg = topped.carbonate_kg / known.carbonate_share
    if topped is not None:
        charcoal_kg = max(topped.charcoal_kg + topped.carbonate_kg - substance_kg, 0.0)
    return Packed(weights, mix.substance if known else "", share, balance, topped, charcoal_kg, substance_kg)


def _topped(weights: PackWeights, form: SuppliesForm) -> TopUp | None:
    if form.old_kg is None:
        return None
    try:
        return top_up(weights, form.old_kg, form.old_percent or 0.0)
    except ModelError as problem:
        advice = getattr(problem, "advice", "")
        what = getattr(problem, "what", str(problem))
        raise NotAccepted({"old_kg": f"{what}. {advice}"}) from None


def view_pack(packed: Packed, mix: Mix, told: SuppliesForm, has_room: bool, showing: Showing) -> PackView:
    """Return what goes into the box in words."""
    lines = [*_fresh(packed, told, showing)] if packed.topped else [*_whole(packed, showing)]
    if packed.carbon is not None:
        lines.append(Line("Carbon", _carbon_words(packed.carbon, showing)))
    return PackView(
        tuple(lines), _vent(packed), _short_of_carbon(packed), _notes(packed, mix, has_room, showing)
    )


def _carbon_words(carbon: CarbonBalance, showing: Showing) -> str:
    needed, present = weigh(carbon.needed_kg, showing), weigh(carbon.present_kg, showing)
    may_go = weigh(FEEDS_SHARE * carbon.present_kg, showing)
    return f"the steel takes up to {needed}; the charcoal holds {present} and may give {may_go} of it"


def _whole(packed: Packed, showing: Showing) -> Iterator[Line]:
    mix_kg, share = packed.weights.mix_kg, packed.substance_share
    yield Line("Charcoal", weigh(mix_kg * (1.0 - share), showing))
    if packed.substance:
        yield Line(_title(packed.substance), weigh(mix_kg * share, showing))


def _fresh(packed: Packed, told: SuppliesForm, showing: Showing) -> Iterator[Line]:
    yield Line("Old pack", weigh(told.old_kg or 0.0, showing))
    yield Line("Fresh charcoal", weigh(packed.fresh_charcoal_kg, showing))
    if packed.substance:
        yield Line(f"Fresh {packed.substance}", weigh(packed.fresh_substance_kg, showing))
    if packed.topped:
        yield Line("Then fresh", f"{100 * packed.topped.fresh_share:.0f} % of the whole pack")


def _vent(packed: Packed) -> str:
    if packed.weights.hot_gas_L <= 0.0:
        return "Charcoal makes gas too, as it dries and burns up the air: the box must be able to let it out."
    return (
        f"The carbonate alone can make {packed.weights.hot_gas_L:.0f} litres of hot gas, "
        f"{packed.weights.fills:.0f} times what the box holds. Clay lets it seep out; a welded lid bursts."
    )


def _short_of_carbon(packed: Packed) -> str:
    if packed.carbon is None or packed.carbon.enough:
        return ""
    return "There is too little charcoal for so much steel. Put fewer parts in, or use a larger box."


def _notes(packed: Packed, mix: Mix, has_room: bool, showing: Showing) -> tuple[str, ...]:
    found = []
    if packed.weights.doubt:
        litre = weigh(charcoal_bulk_density(mix.grain_m) / LITRES_PER_M3, showing)
        doubt = f"{100 * packed.weights.doubt:.0f} %"
        found.append(
            f"Reckoned at {litre} a litre of charcoal, give or take {doubt}. Weigh a full litre of your mix "
            f"once and write it down with the mix."
        )
    if not has_room:
        found.append(
            "How large a part is was not told, so the box is counted as empty and no carbon is summed."
        )
    if packed.topped is not None:
        found.append("Sift the old pack first and throw the fines and grey ash away.")
    return tuple(found)


def _title(name: str) -> str:
    return name[0].upper() + name[1:]
