"""What rules of thumb foretell of each depth that a fit was told of, its own fire left out.

Worked out in the compute worker with the fit; it reads no logbook.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

import numpy as np

from model.readings import DepthReading, Observation
from model.rule_fits import RULES, left_out_foretold, told_soak

BY_EYE = ("break", "etch")


def rule_readouts(observations: Sequence[Observation]) -> list[dict[str, Any]]:
    """Return of each depth by eye what every rule foretells of it [m], None where no other fire tells."""
    seen = [
        (one, soak, one.reading.value_m)
        for one in observations
        if isinstance(one.reading, DepthReading)
        and one.reading.how in BY_EYE
        and (soak := told_soak(one.process)) is not None
    ]
    if not seen:
        return []
    told, soaks, depths = zip(*seen, strict=True)
    fires = [one.process.keys.fire for one in told]
    by_rule = {rule.name: left_out_foretold(rule, soaks, np.array(depths), fires) for rule in RULES}
    return [
        {"key": one.key} | {name: _known(foretold[place]) for name, foretold in by_rule.items()}
        for place, one in enumerate(told)
    ]


def _known(value: float) -> float | None:
    return float(value) if isfinite(value) else None
