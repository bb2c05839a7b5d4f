"""Weighing coupons, as the compute worker runs it: plain values in, plain values out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from model.belief import ShopBelief
from model.errors import ModelError
from model.experiment import Trial, Weighed, weigh
from model.inputs import links
from model.look import look
from model.process import Process
from model.stored_belief import read_belief
from model.wanted import Want


def run_weigh(wants: Sequence[Want], trials: Sequence[Trial], belief: Mapping[str, Any]) -> Weighed:
    """Weigh what each trial would teach; `belief` as it is stored. What cannot be forecast is left out."""
    known = read_belief(belief)
    try:
        return weigh(wants, trials, known)
    except ModelError:
        processes = dict.fromkeys(taking.process for trial in trials for taking in trial.takings)
        sound = {process for process in processes if _can_be_forecast(process, known)}
        left = [trial for trial in trials if all(taking.process in sound for taking in trial.takings)]
        return weigh(wants, left, known)


def _can_be_forecast(process: Process, belief: ShopBelief) -> bool:
    try:
        look([process], belief.point_inputs(links(process))[None, None])
    except ModelError:
        return False
    return True
