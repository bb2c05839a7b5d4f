"""Which coupon, or which check, would teach most of what is wanted next.

gain = ln(sd before / sd after) of what is wanted, of its learnable part: without the luck of one fire, at
the present belief and straight in the constants (simulation study, section 5).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief
from model.inputs import ROW, links
from model.look import Look
from model.look import look as look_by_forecast
from model.trial_slopes import Slopes, Taking, Trial
from model.wanted import INPUT_OF, Want

__all__ = ["Doubt", "Taking", "Trial", "Want", "Weighed", "Worth", "weigh"]

Array = NDArray[np.float64]

NORMAL_90: Final = 1.6448536
DRAWS: Final = 200  # as many as a plan's own band is made of, and the same ones
BAND: Final = (0.05, 0.5, 0.95)
LEAST_LEFT: Final = 1e-6  # share of a variance below which nobody asks


@dataclass(frozen=True)
class Doubt:
    """How well a want is known, in its own unit.

    middle, half : the middle and half of the 90 % band of the next time, a fire's luck in it
    learnable : variance of what coupons can teach; total : of all of it, in ln where `is_ln`
    """

    want: str
    middle: float
    half: float
    learnable: float
    total: float
    is_ln: bool = False

    @property
    def floor(self) -> float:
        """The half that is left when all is learnt that coupons can teach."""
        return self.half_without(self.learnable)

    def half_without(self, variance: float) -> float:
        """Return the half that is left when so much of the variance is taken away."""
        left = max(self.total - variance, 0.0)
        if self.is_ln:
            return self.middle * float(np.sinh(NORMAL_90 * left**0.5))
        return self.half * (left / self.total) ** 0.5 if self.total > 0.0 else self.half


@dataclass(frozen=True)
class Worth:
    """What a trial would teach, want by want in their order.

    gains : ln(sd before / after) of the learnable part, 0 or more
    halves : the give or take of the next time after it
    same_fire : the same of the very fire that the trial is of, its luck read too
    """

    trial: str
    gains: tuple[float, ...]
    halves: tuple[float, ...]
    same_fire: tuple[float, ...]

    @property
    def gain(self) -> float:
        """The mean over the wants."""
        return float(np.mean(self.gains))


@dataclass(frozen=True)
class Weighed:
    """Every want's doubt, in order, and every trial's worth, the best first.

    luck : how many times wider than the books the luck of a new fire is taken, 1 or more [-]
    """

    doubts: tuple[Doubt, ...]
    worths: tuple[Worth, ...]
    luck: float = 1.0


def weigh(
    wants: Sequence[Want], trials: Sequence[Trial], belief: ShopBelief, look: Look = look_by_forecast
) -> Weighed:
    """Weigh what each trial would teach of what is wanted.

    wants : one or more; trials : any, each weighed alone; a fire's key says which pieces share its luck
    belief : of the shop; look : what can be seen of processes; another one only in tests
    Returns the doubts now and the trials, by mean gain.
    Raises as `look` for a process that cannot be forecast.
    Source: Gaussian linear update with Fisher's information of each reading (Lindley 1956 for the measure,
    from memory; simulation study, section 5, for this use of it).
    """
    slopes = Slopes.of(wants, trials, belief, look)
    doubts = _doubts(wants, slopes, belief, look)
    worths = [_worth(trial, slopes, doubts) for trial in trials]
    return Weighed(doubts, tuple(sorted(worths, key=lambda worth: -worth.gain)), slopes.luck)


def _doubts(wants: Sequence[Want], slopes: Slopes, belief: ShopBelief, look: Look) -> tuple[Doubt, ...]:
    """Return how well each want is known, by draws of the whole forecast where it is one."""
    processes = tuple(dict.fromkeys(want.process for want in wants if want.shown is not None))
    inputs = [belief.inputs(process, DRAWS) for process in processes]
    seen = dict(zip(processes, look(processes, np.stack(inputs)) if processes else [], strict=True))
    luck = slopes.whole - slopes.lasting
    learnable, lucky = (
        np.einsum("ij,jk,ik->i", part, slopes.covariance, part) for part in (slopes.lasting, luck)
    )
    return tuple(
        _constant_doubt(want, float(slopes.lasting[place] @ slopes.mean), float(learnable[place]))
        if want.shown is None
        else _shown_doubt(
            want,
            want.shown.predicted(seen[want.process]).value,
            float(learnable[place]),
            float(lucky[place]),
        )
        for place, want in enumerate(wants)
    )


def _constant_doubt(want: Want, shift: float, learnable: float) -> Doubt:
    middle = float(np.exp(links(want.process).offset[ROW[INPUT_OF[want.quantity]]] + shift))
    found = Doubt(want.key, middle, 0.0, learnable, learnable, is_ln=True)
    return replace(found, half=found.half_without(0.0))


def _shown_doubt(want: Want, values: Array, learnable: float, luck: float) -> Doubt:
    low, middle, high = (float(end) for end in np.quantile(values, BAND))
    half = 0.5 * (high - low)
    return Doubt(want.key, middle, half, learnable, max((half / NORMAL_90) ** 2, learnable + luck))


def _worth(trial: Trial, slopes: Slopes, doubts: Sequence[Doubt]) -> Worth:
    before, after = slopes.covariance, slopes.after(trial)
    gains, halves, same_fire = [], [], []
    for place, doubt in enumerate(doubts):
        whole, lasting = slopes.whole[place], slopes.lasting[place]
        taken = max(float(lasting @ (before - after) @ lasting), 0.0)
        in_fire = max(float(whole @ (before - after) @ whole), 0.0)
        left = (doubt.learnable - taken) / doubt.learnable if doubt.learnable > 0.0 else 1.0
        gains.append(0.5 * float(-np.log(max(left, LEAST_LEFT))))
        halves.append(doubt.half_without(taken))
        same_fire.append(doubt.half_without(in_fire))
    return Worth(trial.key, tuple(gains), tuple(halves), tuple(same_fire))
