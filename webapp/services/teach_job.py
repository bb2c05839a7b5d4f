"""Weighing coupons, as the compute worker runs it: plain values in, plain values out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from model.belief import ShopBelief
from model.experiment import Trial, Weighed, weigh
from model.wanted import Want


def run_weigh(wants: Sequence[Want], trials: Sequence[Trial], belief: Mapping[str, Any]) -> Weighed:
    """Weigh what each trial would teach; `belief` as it is stored."""
    return weigh(wants, trials, ShopBelief.from_dict(belief))
