"""Coupons, what they cost and what they would teach, in the words of the shop."""

from __future__ import annotations

from math import asinh, exp

from model.experiment import Doubt
from webapp.services.coupon_asked import CouponAsked
from webapp.services.coupon_offers import Offer
from webapp.services.coupon_reads import Read
from webapp.services.coupon_shop import ShopThings
from webapp.services.showing import Showing, say_duration
from webapp.services.teach_wants import Wanted

LEAST_CUT = 0.02  # of the give or take; less than this is nothing to a shop
CUTS = (
    (0.42, "about halve"),
    (0.29, "take a third off"),
    (0.22, "take a quarter off"),
    (0.16, "take a fifth off"),
    (0.08, "take a tenth off"),
    (LEAST_CUT, "take a little off"),
)
VOWEL_SOUNDS = ("8", "11 ", "18 ")


def say_offer(offer: Offer, things: ShopThings, usual: CouponAsked, showing: Showing) -> str:
    """Return what would be done, as the beginning of a sentence; what is as usual is not said."""
    if offer.check:
        return _say_check(offer, things)
    first, said = offer.pieces[0], _section(offer.pieces[0], things, showing)
    tail = f"{_where(first, things, usual)}{_bath(offer, things, usual)}"
    reads = " and ".join(_read(read, things) for read in offer.reads)
    if len(offer.pieces) == 1:
        return f"{said} {_when(first, usual)}{tail}, {reads}"
    two = "Two " + said.partition(" ")[2].replace("coupon", "coupons", 1)
    each = ", ".join(f"one {_when(piece, usual)}" for piece in offer.pieces)
    return f"{two}, {each}{tail}, both {reads}"


def _section(piece: CouponAsked, things: ShopThings, showing: Showing) -> str:
    size = showing.size(piece.size_m)
    article = "An" if size.startswith(VOWEL_SOUNDS) else "A"
    shape = " flat" if piece.shape == "plate" else ""
    of = f" of {things.bars[piece.bar_id].name}" if len(things.bars) > 1 else ""
    return f"{article} {size}{shape} coupon{of}"


def _when(piece: CouponAsked, usual: CouponAsked) -> str:
    if piece.pull_s:
        return f"pulled at {say_duration(piece.pull_s)}"
    if piece.soak_s > usual.soak_s:
        return f"left in for {say_duration(piece.soak_s)}"
    return "left in to the end"


def _where(piece: CouponAsked, things: ShopThings, usual: CouponAsked) -> str:
    box = f", in {things.boxes[piece.box_id].name}" if piece.box_id != usual.box_id else ""
    mix = f", packed with {things.mixes[piece.mix_id].name}" if piece.mix_id != usual.mix_id else ""
    heat = piece.heat_id != usual.heat_id
    told = f", heat told by “{things.heats[piece.heat_id].name}”" if heat else ""
    return f"{box}{mix}{told}"


def _bath(offer: Offer, things: ShopThings, usual: CouponAsked) -> str:
    piece = offer.pieces[0]
    is_hardness = any(read.kind in ("hardness", "traverse") for read in offer.reads)
    if piece.bath_id == usual.bath_id and not is_hardness:
        return ""
    return f", quenched in {things.baths[piece.bath_id].name}"


def _read(read: Read, things: ShopThings) -> str:
    if read.kind == "break":
        return "broken and measured"
    if read.kind == "etch":
        return "sawn, polished, etched and measured"
    tester = things.testers[read.tester_id]
    if read.kind == "traverse":
        return f"walked through with dents ({tester.name})"
    is_file = tester.method in ("file_set", "one_file")
    return f"tried with {tester.name}" if is_file else f"its hardness read on {tester.name}"


def _say_check(offer: Offer, things: ShopThings) -> str:
    if offer.check == "warm_up":
        return f"The thermocouple’s tip inside {things.boxes[offer.of_id].name}, its way up to heat timed"
    if offer.check == "heat":
        return f"A check of {things.heats[offer.of_id].name} in boiling water or at a known melt"
    if offer.check == "tester":
        return f"A check of {things.testers[offer.of_id].name} on a test block"
    return f"A check of {things.ovens[offer.of_id].name} with an oven thermometer where the work lies"


COST_OF_CHECK = {
    "warm_up": "one more tap when it is at heat, and no coupon",
    "heat": "ten minutes, no fire",
    "tester": "five minutes and a test block",
    "oven": "an hour of the oven and a cheap thermometer",
}
COST_OF_READ = {
    "break": "a few minutes at the vice",
    "etch": "half an hour of polishing, and an etch",
    "hardness": "a minute a reading",
    "traverse": "a cut section and its dents, or a week and the lab’s bill",
}


def say_cost(offer: Offer, usual: CouponAsked) -> str:
    """Return what it takes: bar, taps, hours."""
    if offer.check:
        return COST_OF_CHECK[offer.check]
    first = offer.pieces[0]
    bars = "one short piece of bar" if len(offer.pieces) == 1 else "two short pieces of bar"
    taps = "a tap to pull it" if any(piece.pull_s for piece in offer.pieces) else ""
    changed = (first.mix_id, first.box_id, first.bath_id, first.heat_id) != (
        usual.mix_id, usual.box_id, usual.bath_id, usual.heat_id,
    )  # fmt: skip
    if first.soak_s > usual.soak_s:
        fire = f"a fire of {say_duration(first.soak_s)} at heat"
    else:
        fire = "a batch run that way" if changed else "no gas of its own"
    reads = [COST_OF_READ[read.kind] for read in offer.reads]
    return ", ".join(filter(None, (bars, taps, fire, *reads)))


def say_effect(wanted: Wanted, doubt: Doubt, half: float, showing: Showing) -> str:
    """Return what it would do to one doubt, as the end of a sentence."""
    if not is_told(wanted, doubt, half, showing):
        return f"would teach nothing of the {wanted.name}"
    verb = next(words for least, words in CUTS if cut_of(doubt, half) >= least)
    now, then = say_doubt(wanted, doubt, showing), say_half(wanted, doubt, half, showing)
    return f"would {verb} the doubt in the {wanted.name}: {now} becomes {then}"


def is_told(wanted: Wanted, doubt: Doubt, half: float, showing: Showing) -> bool:
    """Return whether a give or take moves by so much that a shop would see it."""
    moved = say_half(wanted, doubt, doubt.half, showing) != say_half(wanted, doubt, half, showing)
    return moved and cut_of(doubt, half) >= LEAST_CUT


def cut_of(doubt: Doubt, half: float) -> float:
    """Return the share of a give or take that is taken off."""
    return 1.0 - half / doubt.half if doubt.half > 0.0 else 0.0


def say_doubt(wanted: Wanted, doubt: Doubt, showing: Showing) -> str:
    """Return how well a want is known now."""
    now = say_half(wanted, doubt, doubt.half, showing)
    return now if wanted.kind == "bath" else f"give or take {now}"


def say_half(wanted: Wanted, doubt: Doubt, half: float, showing: Showing) -> str:
    """Return a give or take in the want's own unit; of a bath the range that it spans."""
    if wanted.kind == "depth":
        return showing.length(half)
    if wanted.kind == "hardness":
        return f"{half:.1f}\u00a0HRC"
    if wanted.kind == "warm_up":
        return say_duration(half)
    factor = exp(asinh(half / doubt.middle))
    return f"{doubt.middle / factor:.1f} to {doubt.middle * factor:.1f}\u00a0× the books"


def capital(words: str) -> str:
    """Return words as a line begins."""
    return words[:1].upper() + words[1:]
