"""The ways from the soak to the quench: which this plan takes, and which is advised for the part's work."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

import numpy as np

from model.reheat_advice import ReheatOption, ZoneAfter, reheat_options
from webapp.forms.plans import PlanForm
from webapp.services.plan_more_figures import HeatFigures, WayFigures, WaysFigures, ZoneFigures
from webapp.services.plan_rows import PlanRows
from webapp.services.plan_sums import Settled

CASE_WT: Final = (0.3, 1.6)  # skins the ways are worked out for; a leaner one is no case
NEAR_RANGE_K: Final = 15.0  # a reheat this near a book's range counts as that heat; a dial is no better
TOUGH: Final = ("bending", "impact")


def ways_figures(rows: PlanRows, form: PlanForm, found: Settled) -> WaysFigures | None:
    """Return the ways to harden; None where the skin has taken up too little carbon to speak of."""
    skin_wt = float(np.median(found.drawn_face.carbon_wt[:, 0]))
    if skin_wt < CASE_WT[0]:
        return None
    options = reheat_options(found.process.steel, min(skin_wt, CASE_WT[1]), form.temperature_K, found.soak_s)
    advised, reason = advised_way(options, rows.part.duties)
    own = own_way(options, form.reheat_K)
    return WaysFigures(
        tuple(_way(option, option.way == own, option.way == advised) for option in options), reason
    )


def own_way(options: Sequence[ReheatOption], reheat_K: float | None) -> str:
    """Return the way a plan takes; empty where its reheat is none of the books' heats."""
    if reheat_K is None:
        return "direct"
    singles = [(option.way, option.heats[0]) for option in options if len(option.heats) == 1]
    near = [
        (abs(reheat_K - heat.temperature_K), way)
        for way, heat in singles
        if heat.low_K - NEAR_RANGE_K <= reheat_K <= heat.high_K + NEAR_RANGE_K
    ]
    return min(near)[1] if near else ""


def advised_way(options: Sequence[ReheatOption], duties: Collection[str]) -> tuple[str, str]:
    """Return the way advised for these duties and the key of its reason. Common practice, no source."""
    by_way = {option.way: option for option in options}
    strong = "single_between" if "single_between" in by_way else "single_core"
    if set(TOUGH) & set(duties):
        return strong, "tough"
    if "bearing" in duties:
        return strong, "bearing"
    if "network_stays" in by_way["single_case"].keys:
        return strong, "network"
    return "single_case", "wear"


def _way(option: ReheatOption, is_plan: bool, is_advised: bool) -> WayFigures:
    heats = tuple(
        HeatFigures(heat.temperature_K, heat.low_K, heat.high_K, heat.source) for heat in option.heats
    )
    return WayFigures(
        option.way, heats, option.keys, _zone(option.case), _zone(option.core), is_plan, is_advised
    )


def _zone(zone: ZoneAfter) -> ZoneFigures:
    return ZoneFigures(zone.carbide, zone.ferrite, zone.retained_austenite, zone.grain_number, zone.at_most)
