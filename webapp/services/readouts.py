"""What a belief says in a shop's own terms: how fast this forge carburizes, and each thing it has learnt.

Worked out in the compute worker with the fit; it reads no logbook.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from model.austenite import carbon_at_activity
from model.belief import ShopBelief
from model.hard_case import hard_case_rows
from model.learnt import STANDARD_HEAT_K, ParameterRow, parameter_rows, standard_job_ratio
from model.process import Process
from model.readings import Observation

BAND = ("median", "low", "high")


def readouts(
    observations: Sequence[Observation], belief: ShopBelief, jobs: Sequence[Process]
) -> dict[str, Any]:
    """Return the standard job of each mix over the books', the most used mix first, and the rows learnt."""
    rows = (*parameter_rows(observations, belief, jobs), *hard_case_rows(observations, belief, jobs))
    return {
        "standard": _standard(observations, belief, jobs),
        "rows": [_row(row) for row in rows],
    }


def _standard(
    observations: Sequence[Observation], belief: ShopBelief, jobs: Iterable[Process]
) -> list[dict[str, Any]]:
    coupons = {(one.process.keys.mix, one.coupon or one.key) for one in observations}
    taught = Counter(mix for mix, _ in coupons)
    by_mix: dict[str, Process] = {}
    for job in jobs:
        by_mix.setdefault(job.keys.mix, job)
    return [
        {
            "mix": mix,
            "heat": job.keys.heat_method,
            "coupons": taught[mix],
            **asdict(standard_job_ratio(belief, job)),
        }
        for mix, job in sorted(by_mix.items(), key=lambda pair: -taught[pair[0]])
    ]


def _row(row: ParameterRow) -> dict[str, Any]:
    """Return a row as stored; how rich the pack is, as the most carbon that it can put through a skin."""
    told = asdict(row)
    if row.kind == "activity":
        told |= {"kind": "richness", "unit": "wt%"}
        told |= {name: _skin_carbon_wt(told[name]) for name in ("books", "now")}
    return told


def _skin_carbon_wt(band: dict[str, float]) -> dict[str, float]:
    """Return the carbon that plain iron takes up in the end at an activity, at the standard job's heat."""
    activity = np.array([band[name] for name in BAND])
    carbon = carbon_at_activity(activity, np.full(len(BAND), STANDARD_HEAT_K))
    return {name: float(value) for name, value in zip(BAND, carbon, strict=True)}
