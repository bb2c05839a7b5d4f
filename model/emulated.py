"""Evidence whose predictions come off surfaces in place of full forecasts (`emulator`).

What a surface is wrong by is added to the doubt of its readings, so the fit leans on it only as far as it is
true. The inference does not know the difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance
from model.belief import ShopBelief
from model.earlier import Earlier
from model.emulator import Asked, Belief, Emulator, Group, alike
from model.evidence import Check, Evidence
from model.inputs import FITTED_INPUTS
from model.kept_forecasts import KeptForecasts, kind_of
from model.look import Look
from model.piecework import Piecework, in_turn
from model.readings import Observation
from model.scatter import Scale
from model.surface import Surface
from model.variational import Gaussian, best_point, variational

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

MOST_ROUNDS: Final = 4
"""Rounds of laying surfaces and fitting by them."""
HOPELESS: Final = 0.5
"""Error of a surface over the reading's own sd from which, after all rounds, its process is forecast: such as
an unknown steel out of oil, which may harden or not."""
MOST_FORECAST: Final = 8
"""Processes that may be forecast so, the worst first; the others keep what their surfaces are wrong by."""
FORECAST_UP_TO: Final = 24
"""Processes of a logbook in which any is forecast so: in a large one no single reading weighs as much."""

MOST_IN_FULL: Final = 25_000
"""Full forecasts that put draws off surfaces right: about ten processes, some seconds."""


@dataclass(frozen=True)
class _Stack:
    """Surfaces worked together: their processes, and which values of the logbook are which of theirs."""

    processes: Rows
    surface: Surface
    values: Rows
    places: Rows


class EmulatedEvidence(Evidence):
    """Evidence whose predictions come off surfaces; `emulate` must be called before the first."""

    most_predicted = 6_000_000  # off surfaces, a quarter of a minute

    def __init__(
        self,
        observations: Sequence[Observation],
        checks: Sequence[Check],
        look: Look,
        kept: KeptForecasts,
        piecework: Piecework = in_turn,
    ) -> None:
        """Gather the kinds of reading of each process; `kept` are forecasts made before."""
        super().__init__(observations, checks, look, piecework)
        self.groups: list[Group] = [
            (int(row), kind_of(reading)) for row, reading in zip(self.rows, self.readings, strict=True)
        ]
        books = self._belief(np.zeros(len(self.names)), Earlier.of(ShopBelief(), self.names))
        self.emulator = Emulator(self.processes, self.offset, books, self._asked(), look, kept, piecework)
        self._stacks: list[_Stack] = []
        self._forecast: list[int] = []

    def emulate(self, mean: Array, covariance: Array | Covariance | Earlier, begins: bool = False) -> bool:
        """Lay the surfaces that a belief asks for; return whether predictions changed.

        mean, covariance : of the coordinates, in the order of `names`; begins : whether it is only the one to
            begin with, as wide as surprises left it, and surfaces about a narrower one will do
        """
        has_changed = self.emulator.lie_about(self._belief(mean, covariance), begins)
        if has_changed or not self._stacks:
            self._stacks = []  # its memory is used anew
            self._stacks = self._stacked()
        return has_changed

    def _belief(self, mean: Array, covariance: Array | Covariance | Earlier) -> Belief:
        """Return what is believed of the local inputs of each process."""
        local = self.local_covariance(covariance)[self.first, :FITTED_INPUTS, :FITTED_INPUTS]
        return Belief.of(self.inputs(mean)[:, :FITTED_INPUTS], local)

    def give_up(self) -> bool:
        """Go back to full forecasts where surfaces are of no use; return whether there are any such."""
        if len(self.processes) > FORECAST_UP_TO:
            return False
        errors = self.emulator.worst_errors()
        hopeless = sorted((row for row in errors if errors[row] > HOPELESS), key=lambda row: -errors[row])
        self._forecast = sorted(hopeless[:MOST_FORECAST])
        return bool(self._forecast)

    def in_full(self, draws: int) -> Evidence | None:
        """Return the same readings by full forecasts, or by those of the processes that are forecast so."""
        if draws * len(self.processes) <= MOST_IN_FULL:
            return Evidence(self.observations, (), self.look, self.piecework)
        return self if self._forecast else None

    @property
    def is_read_off(self) -> bool:
        """Whether no process is forecast in full."""
        return not self._forecast

    def roughly(self, inputs: Array) -> tuple[Array, Array]:
        """Return every value and its doubt off surfaces alone, with what these are wrong by."""
        value, doubt, error = self.off_surfaces(inputs)
        return value, np.hypot(doubt, error[:, None])

    def predicted(self, inputs: Array) -> tuple[Array, Array]:
        """Return every value and its doubt, with what the surface is wrong by; as `Evidence.predicted`."""
        value, doubt = self.roughly(inputs)
        first = np.cumsum(self.values.counts) - self.values.counts
        for index, found in self.forecast(self._forecast, inputs[self._forecast]).items():
            own = first[index] + np.arange(self.values.counts[index])
            value[own], doubt[own] = found.value.T, found.doubt.T
        return value, doubt

    def off_surfaces(self, inputs: Array) -> tuple[Array, Array, Array]:
        """Read values and doubts off surfaces, (values, members), and what these are wrong by, (values,)."""
        members = inputs.shape[1]
        value, doubt = (np.zeros((len(self.values.owner), members)) for _ in range(2))
        error = np.zeros(len(self.values.owner))
        if self._stacks:
            sketch = self.emulator.sketches.of(np.arange(len(self.processes)), inputs)
        for stack in self._stacks:
            own = inputs[stack.processes, :, :FITTED_INPUTS], sketch[stack.processes]
            found = stack.surface.at(*own).transpose(0, 2, 1)
            half = found.shape[1] // 2
            value[stack.values] = found[:, :half].reshape(-1, members)[stack.places]
            doubt[stack.values] = np.maximum(found[:, half:], 0.0).reshape(-1, members)[stack.places]
            error[stack.values] = stack.surface.error[:, :half].ravel()[stack.places]
        return value, doubt, error

    def _asked(self) -> dict[Group, Asked]:
        """Return every kind of reading of every process, with the least sd at which it was noted."""
        asked: dict[Group, Asked] = {}
        own = self.values.own[np.cumsum(self.values.counts) - self.values.counts]
        for group, reading, sd in zip(self.groups, self.readings, own, strict=True):
            least = min(float(sd), asked[group].own_sd) if group in asked else float(sd)
            asked[group] = Asked(reading, least)
        return asked

    def _stacked(self) -> list[_Stack]:
        surfaces = {group: self.emulator.surface(group) for group in self.emulator.asked}
        laid = {group: surface for group, surface in surfaces.items() if surface is not None}
        sizes = alike(laid, lambda one: (len(one.error), one.members))
        return [self._stack(batch) for batch in sizes]

    def _stack(self, surfaces: dict[Group, Surface]) -> _Stack:
        stacked = Surface.stacked(list(surfaces.values()))
        sizes = [one.members for one in surfaces.values()]
        for group, surface in zip(surfaces, stacked.apart(sizes), strict=True):
            self.emulator.put(group, surface)
        place = {group: index for index, group in enumerate(surfaces)}
        owners = [index for index, group in enumerate(self.groups) if group in place]
        counts = self.values.counts
        first = np.cumsum(counts) - counts
        values = [first[owner] + np.arange(counts[owner]) for owner in owners]
        places = [place[self.groups[owner]] * counts[owner] + np.arange(counts[owner]) for owner in owners]
        return _Stack(
            np.array([row for row, _ in surfaces], dtype=np.intp),
            stacked,
            np.concatenate(values),
            np.concatenate(places),
        )


def fit_by_surfaces(
    evidence: EmulatedEvidence, mean: Array, covariance: Array | Earlier, scale: Scale | None = None
) -> tuple[Gaussian, Gaussian]:
    """Find the best point and the belief, with surfaces laid about each belief in turn until they stand.

    mean, covariance : of the belief to begin with, in the order of the evidence's names
    scale : how far fires scatter by that belief, None where it does not say
    """
    evidence.emulate(mean, covariance, begins=True)
    best = best_point(evidence, mean, scale)
    fitted = variational(evidence, best)
    for _ in range(MOST_ROUNDS - 1):
        if not evidence.emulate(fitted.mean, fitted.narrowed):
            break
        fitted = variational(evidence, fitted)
    best = best_point(evidence, best.mean, fitted.scale)
    if evidence.give_up():
        best = best_point(evidence, best.mean, fitted.scale)
        fitted = variational(evidence, best)
    return best, fitted
