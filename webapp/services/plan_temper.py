"""Which setting of the shop's own oven gives a plan the wanted hardness."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from sqlmodel import Session, col, select

from model.errors import NotPossible
from model.learnt import oven_band
from model.temper_choice import TOLERANCE_HRC, Skin, TemperChoice, choose_temper, temper_draws
from webapp.services.batch_rows import kept
from webapp.services.plan_face import at_depths
from webapp.services.plan_figures import TemperFigures
from webapp.services.plan_sums import Believed, Foretold
from webapp.store.tables import Instrument, Step

LIKE_THE_BEST = 0.5  # a setting with at least this share of the best odds will do


def usual_oven(session: Session) -> Instrument | None:
    """Return the oven that the shop tempered in last, or its first; None where it has none."""
    ovens = {oven.id: oven for oven in kept(session, Instrument, Instrument.role == "oven")}
    query = select(Step.instrument_id).where(
        Step.kind == "temper", col(Step.deleted_at).is_(None), col(Step.instrument_id).in_(ovens)
    )
    last = session.exec(query.order_by(col(Step.id).desc()).limit(1)).first()
    return ovens.get(last) or next(iter(ovens.values()), None)


def temper_figures(
    settled: Foretold, believed: Believed, oven: Instrument | None, wanted_HRC: float | None, seconds: float
) -> TemperFigures | None:
    """Return the oven's setting for a wanted hardness of the finished skin; None where none is wanted."""
    if settled.drawn.hardened is None or wanted_HRC is None:
        return None
    skin, key = _finished_skin(settled), str(oven.id) if oven else ""
    drawn = temper_draws(believed.belief, settled.process, key, len(skin.hardness_HV))
    try:
        choice = choose_temper(skin, wanted_HRC, seconds, *drawn)
    except NotPossible as problem:
        words = f"{problem.what}. {problem.advice}"
        return TemperFigures(wanted_HRC, seconds, refusal=words[0].upper() + words[1:])
    runs_K = oven_band(believed.belief, key, settled.process.keys.loosened)
    return replace(
        _chosen(choice, wanted_HRC, seconds),
        oven=oven.name if oven else "",
        runs_K=runs_K.median,
        runs_give_or_take_K=0.5 * (runs_K.high - runs_K.low),
    )


def _finished_skin(settled: Foretold) -> Skin:
    """Return the skin as quenched, under what is ground off."""
    drawn, at_m = settled.drawn, np.array([settled.goal.grinding_allowance_m])
    hardened = drawn.hardened
    assert hardened is not None  # its caller has looked
    hardness, carbon, martensite = (
        at_depths(at_m, drawn.depth_m, values)[:, 0]
        for values in (hardened.as_quenched_HV, hardened.carbon_left_wt, hardened.martensite)
    )
    return Skin(hardness, carbon, martensite)


def _chosen(choice: TemperChoice, wanted_HRC: float, seconds: float) -> TemperFigures:
    quenched_HRC = choice.as_quenched_HRC[1]
    if quenched_HRC < wanted_HRC - TOLERANCE_HRC:
        words = f"The quench most likely gives about {quenched_HRC:.0f} HRC, and a temper only softens."
        return TemperFigures(wanted_HRC, seconds, refusal=words)
    near = choice.dial_K[choice.odds >= LIKE_THE_BEST * choice.best_odds]
    return TemperFigures(
        wanted_HRC,
        seconds,
        choice.best_K,
        float(near.min()),
        float(near.max()),
        choice.best_odds,
        bool(choice.embrittles[choice.best]),
    )
