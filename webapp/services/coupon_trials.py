"""From what a shop could do next to the model's trials: processes, readings before they are taken, checks."""

from __future__ import annotations

from dataclasses import replace

from model.evidence import Check, InstrumentCheck, WarmUpCheck
from model.experiment import Taking, Trial
from model.process import Carburize, History, Process, Quench, Temper
from webapp.services.box_rows import Work, packed
from webapp.services.coupon_asked import CouponAsked
from webapp.services.coupon_offers import Offer
from webapp.services.coupon_reads import outcomes_of
from webapp.services.coupon_shop import ShopThings
from webapp.services.observations import OVEN_CHECK_SD_K, TESTER_KINDS
from webapp.services.processes import (
    heat_key,
    keys_of,
    quench_in,
    section_of,
    smallest_inner_m,
    steel_of_bar,
    supply_of_mix,
)

NEXT_FIRE = "next"
KNOWN, TIMED_S = 0.0, 3600.0  # what a check finds does not count before it is made


def trial_of(offer: Offer, things: ShopThings, planned: Process | None = None) -> Trial:
    """Return what is offered as a trial; `planned` is the plan's process where it lies beside its part."""
    takings = tuple(
        Taking(process_of_coupon(piece, things, planned), outcomes_of(read, things.testers))
        for piece in offer.pieces
        for read in offer.reads
    )
    return Trial(offer.key, takings, _checks(offer, things))


def process_of_coupon(piece: CouponAsked, things: ShopThings, planned: Process | None = None) -> Process:
    """Return what a coupon would go through, up to its quench; out of the pack straight into the bath."""
    bar, mix, box = things.bars[piece.bar_id], things.mixes[piece.mix_id], things.boxes[piece.box_id]
    section = section_of(piece.shape, piece.size_m, None, False)
    if planned is not None:
        return _beside(piece, planned, things)
    soak = Carburize(History.hold(piece.temperature_K, piece.hours_s), supply_of_mix(mix))
    return Process(
        steel_of_bar(bar),
        section,
        (soak, quench_in(things.baths[piece.bath_id])),
        keys_of(
            bar,
            box,
            mix,
            things.heats[piece.heat_id],
            NEXT_FIRE,
            piece.bath_id,
            loosened=things.loosened,
        ),
        box_inner_m=smallest_inner_m(box),
        box=packed(box, mix, (Work(0.5 * piece.size_m),)),
    )


def _beside(piece: CouponAsked, planned: Process, things: ShopThings) -> Process:
    """Return a coupon of the planned box: its own way if it is pulled, else the part's up to the quench."""
    bar = things.bars[piece.bar_id]
    steps = tuple(step for step in planned.steps if not isinstance(step, Temper))
    if piece.pull_s:
        soak = next(step for step in steps if isinstance(step, Carburize))
        bath = next(step for step in steps if isinstance(step, Quench))
        steps = (replace(soak, history=History.hold(piece.temperature_K, piece.pull_s)), bath)
    return replace(
        planned,
        steel=steel_of_bar(bar),
        section=section_of(piece.shape, piece.size_m, None, False),
        steps=steps,
        keys=replace(planned.keys, bar=str(bar.id)),
    )


def _checks(offer: Offer, things: ShopThings) -> tuple[Check, ...]:
    now = things.loosened
    if offer.check == "warm_up":
        return (WarmUpCheck(str(offer.of_id), TIMED_S, TIMED_S, loosened=now),)
    if offer.check == "heat":
        heat = things.heats[offer.of_id]
        return (InstrumentCheck(heat_key(heat), KNOWN, KNOWN, heat.spread, now),)
    if offer.check == "tester":
        tester = things.testers[offer.of_id]
        key = f"{TESTER_KINDS.get(tester.method, 'rockwell')}:{tester.id}"
        return (InstrumentCheck(key, KNOWN, KNOWN, tester.spread, now),)
    if offer.check == "oven":
        return (InstrumentCheck(f"oven:{offer.of_id}", KNOWN, KNOWN, OVEN_CHECK_SD_K, now),)
    return ()
