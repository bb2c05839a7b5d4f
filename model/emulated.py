"""Evidence whose predictions come off surfaces in place of full forecasts (`emulator`).

What a surface is wrong by is added to the doubt of its readings, so the fit leans on it only as far as it is
true. The inference does not know the difference.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance
from model.belief import ShopBelief
from model.earlier import Earlier
from model.emulator import Asked, Belief, Emulator, Group, Size, alike
from model.evidence import LINE_KINDS, Check, Evidence, LineKind
from model.inputs import FITTED_INPUTS
from model.kept_forecasts import KeptForecasts, kind_of
from model.kept_lines import KeptLines, Same
from model.look import Look
from model.lower import inverted
from model.part import Part
from model.piecework import Piecework, in_turn
from model.readings import Observation
from model.scatter import Scale
from model.surface import Surface
from model.variational import (
    STEP_AT_REST,
    STEP_SETTLED,
    Gaussian,
    begun_on_lines,
    best_point,
    variational,
)

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

MOST_ROUNDS: Final = 6
"""Rounds of laying surfaces and fitting by them, until they stand."""
HOPELESS: Final = 0.5
"""Error of a surface over the reading's own sd from which, after all rounds, its process is forecast: such as
an unknown steel out of oil, which may harden or not."""
MOST_FORECAST: Final = 8
"""Processes that may be forecast so, the worst first; the others keep what their surfaces are wrong by."""
FORECAST_UP_TO: Final = 24
"""Processes of a logbook in which any is forecast so: in a large one no single reading weighs as much."""

ACROSS_UP_TO: Final = 1000
"""Processes of a logbook whose surfaces keep their members in units of their own, 20 MB: in a larger one they
are worked out whenever a surface is read off, a tenth of what that takes."""
READ_AT_ONCE: Final = 512
"""Processes that are read off together, at places that take a few megabytes."""
MOSTLY: Final = 0.9
"""Share of the pieces whose lines must be known for a fit to begin on them and not with the best point."""
MOST_IN_FULL: Final = 25_000
"""Full forecasts that put draws off surfaces right: about ten processes, some seconds."""


@dataclass(frozen=True)
class _Stack:
    """Surfaces worked together: their processes, and which values of the logbook are which of theirs.

    processes : (G,); values : (V,), places : (V,) among what all surfaces foretell, those of each together
    across : the surfaces' members, None where they are not kept
    """

    processes: Rows
    surface: Surface
    values: Rows
    places: Rows
    across: Array | None

    @property
    def foretold(self) -> int:
        """How many values each surface foretells."""
        return int(self.surface.error.shape[1]) // 2

    def only(self, rows: Rows) -> _Stack:
        """Return those of some processes, this where they are all."""
        is_asked = np.isin(self.processes, rows)
        if is_asked.all():
            return self
        of, new = self.places // self.foretold, np.cumsum(is_asked) - 1
        values = np.flatnonzero(is_asked[of])
        places = self.places[values] - (of - new[of])[values] * self.foretold
        groups = np.flatnonzero(is_asked)
        across = None if self.across is None else self.across[groups]
        return _Stack(self.processes[groups], self.surface.only(groups), self.values[values], places, across)


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
        self._about = books
        self._stacks: list[_Stack] = []
        self._forecast: list[int] = []
        self._best = kept.best
        self._lines = self._begun_lines(kept)

    def emulate(
        self, mean: Array, covariance: Array | Covariance | Earlier, begins: bool = False, ends: bool = False
    ) -> bool:
        """Lay the surfaces that a belief asks for; return whether predictions changed.

        mean, covariance : of the coordinates, in the order of `names`
        begins : whether it is only the one to begin with, as wide as surprises left it, and surfaces about a
            narrower one will do
        ends : whether it is the last: surfaces of processes forecast in full, off which the slower fit draws,
            are left until then, and laid through a few more forecasts about it
        """
        self._about = self._belief(mean, covariance)
        only = None if ends else set(range(len(self.processes))).difference(self._forecast)
        closer = self._forecast if ends else ()
        has_changed = self.emulator.lie_about(self._about, begins, only, closer)
        if has_changed:
            self._stacks = []  # its memory is used anew
        return has_changed

    def emulate_new(self, mean: Array, covariance: Earlier) -> None:
        """Lay the surfaces that are missing about a belief, as `emulate`, and leave all others."""
        if rows := self.emulator.unlaid():
            belief = self.emulator.books.but_at(rows, self._belief(mean, covariance))
            self.emulator.lie_about(belief, only=set(rows))

    @property
    def is_mostly_known(self) -> bool:
        """Whether nearly all pieces have lines of an earlier fit, and it left its best point."""
        known = self._lines["over a belief"].is_read
        return bool(self._best) and known.sum() >= MOSTLY * len(known)

    def units_of(self, rows: Rows) -> Array:
        """Return local inputs to sds of the belief that surfaces were last asked to lie about."""
        return inverted(self._about.root[rows])

    def best_before(self, otherwise: Array) -> Array:
        """Return the best point of the last fit, (names,); otherwise : for coordinates that are new."""
        told = zip(self.names, otherwise.tolist(), strict=True)
        return np.array([self._best.get(name, other) for name, other in told])

    def keep_best(self, best: Array) -> None:
        """Keep the best point, (names,), for the next fit."""
        self._best.clear()
        self._best.update(zip(self.names, best.tolist(), strict=True))

    def lines(self, kind: LineKind) -> KeptLines:
        """Return the lines that are kept, of earlier fits too."""
        return self._lines[kind]

    def _belief(self, mean: Array, covariance: Array | Covariance | Earlier) -> Belief:
        """Return what is believed of the local inputs of each process."""
        local = self.local_covariance(covariance, np.arange(len(self.processes)))
        return Belief.of(self.inputs(mean)[:, :FITTED_INPUTS], local)

    def give_up(self) -> bool:
        """Go back to full forecasts where surfaces are of no use; return whether there are any such."""
        if len(self.processes) > FORECAST_UP_TO:
            return False
        errors = self.emulator.worst_errors()
        hopeless = sorted((row for row in errors if errors[row] > HOPELESS), key=lambda row: -errors[row])
        self._forecast = sorted(hopeless[:MOST_FORECAST])
        self.emulator.kept.forget_lines(self._forecast)
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
        return self._roughly_of(self._whole, inputs)

    def parts(self, is_asked: NDArray[np.bool_]) -> Iterator[Part]:
        """Give some processes, not too many at once where they are read off surfaces alone."""
        rows = np.flatnonzero(is_asked)
        if self._forecast or len(rows) <= READ_AT_ONCE:
            yield from super().parts(is_asked)
            return
        self._stack_all()
        for first in range(0, len(rows), READ_AT_ONCE):
            is_next = np.zeros_like(is_asked)
            is_next[rows[first : first + READ_AT_ONCE]] = True
            yield self.part(is_next)

    def predicted(self, inputs: Array) -> tuple[Array, Array]:
        """Return every value and its doubt, with what the surface is wrong by; as `Evidence.predicted`."""
        return self.predicted_of(self._whole, inputs)

    def predicted_of(self, part: Part, inputs: Array) -> tuple[Array, Array]:
        """Return the same of a part."""
        value, doubt = self._roughly_of(part, inputs)
        forecast = np.flatnonzero(np.isin(part.rows, self._forecast))
        for index, found in self.forecast(part.rows[forecast].tolist(), inputs[forecast]).items():
            own = part.values_of(index)
            value[own], doubt[own] = found.value.T, found.doubt.T
        return value, doubt

    def off_surfaces(self, inputs: Array, part: Part | None = None) -> tuple[Array, Array, Array]:
        """Read values and doubts off surfaces, (values, members), and what these are wrong by, (values,)."""
        part = part or self._whole
        shape = len(part.values), inputs.shape[1]
        value, doubt, error = np.zeros(shape), np.zeros(shape), np.zeros(len(part.values))
        sketch = self.emulator.sketches.of(part.rows, inputs) if len(part.rows) else inputs
        for stack in self._stacks_of(part):
            rows, values = stack.processes, stack.values
            if len(part.rows) < len(self.processes):
                rows, values = np.searchsorted(part.rows, rows), np.searchsorted(part.values, values)
            own = inputs[rows, :, :FITTED_INPUTS], sketch[rows]
            found = stack.surface.at(*own, stack.across).transpose(0, 2, 1)
            half = stack.foretold
            value[values] = found[:, :half].reshape(-1, shape[1])[stack.places]
            doubt[values] = np.maximum(found[:, half:], 0.0).reshape(-1, shape[1])[stack.places]
            error[values] = stack.surface.error[:, :half].ravel()[stack.places]
        return value, doubt, error

    @cached_property
    def _whole(self) -> Part:
        return self.part(np.ones(len(self.processes), dtype=bool))

    def _roughly_of(self, part: Part, inputs: Array) -> tuple[Array, Array]:
        value, doubt, error = self.off_surfaces(inputs, part)
        return value, np.hypot(doubt, error[:, None])

    def _begun_lines(self, kept: KeptForecasts) -> dict[LineKind, KeptLines]:
        """Return lines with those of the last fit among them, for this fit and the next."""
        begun = {kind: super(EmulatedEvidence, self).lines(kind) for kind in LINE_KINDS}
        if kept.lines:
            same = Same.among(begun[LINE_KINDS[0]], kept.lines[LINE_KINDS[0]])
            for kind, lines in begun.items():
                lines.carry_over(kept.lines[kind], same)
        for kind, lines in begun.items():
            kept.lines[kind] = lines
        return begun

    def _asked(self) -> dict[Group, Asked]:
        """Return every kind of reading of every process, with the least sd at which it was noted."""
        asked: dict[Group, Asked] = {}
        own = self.values.own[np.cumsum(self.values.counts) - self.values.counts]
        for group, reading, sd in zip(self.groups, self.readings, own, strict=True):
            least = min(float(sd), asked[group].own_sd) if group in asked else float(sd)
            asked[group] = Asked(reading, least)
        return asked

    def _stacks_of(self, part: Part) -> list[_Stack]:
        """Return the surfaces of a part, worked together; those of all are kept so."""
        is_whole = len(part.rows) == len(self.processes)
        if is_whole:
            self._stack_all()
        if self._stacks:
            stacks = self._stacks if is_whole else [stack.only(part.rows) for stack in self._stacks]
            return [stack for stack in stacks if len(stack.processes)]
        batches = alike(self.emulator.sizes(set(part.rows.tolist())), lambda size: size)
        return [self._stack(batch, self.emulator.stacked(batch)) for batch in batches]

    def _stack_all(self) -> None:
        """Stack the surfaces of all processes, if they are not so yet."""
        if not self._stacks:
            sizes = self.emulator.sizes(range(len(self.processes)))
            self._stacks = [self._together(batch) for batch in alike(sizes, lambda size: size)]

    def _together(self, sizes: dict[Group, Size]) -> _Stack:
        """Return surfaces as one, from then on in the same memory: what they lay in is free for the next."""
        stacked = self.emulator.stacked(sizes)
        for group, surface in zip(sizes, stacked.apart(), strict=True):
            self.emulator.put(group, surface)
        return self._stack(sizes, stacked)

    def _stack(self, surfaces: Collection[Group], stacked: Surface) -> _Stack:
        foretold = [self._foretold[group] for group in surfaces]
        values, places = (np.concatenate(side) for side in zip(*foretold, strict=True))
        before = np.repeat(np.arange(len(foretold)), [len(own) for own, _ in foretold])
        processes = np.array([row for row, _ in surfaces], dtype=np.intp)
        places += before * (stacked.error.shape[1] // 2)
        across = stacked.across() if len(self.processes) <= ACROSS_UP_TO else None
        return _Stack(processes, stacked, values, places, across)

    @cached_property
    def _foretold(self) -> dict[Group, tuple[Rows, Rows]]:
        """The values of each process and kind, and which of what its surface foretells each is."""
        counts = self.values.counts
        owners: dict[Group, list[int]] = {}
        for owner, group in enumerate(self.groups):
            owners.setdefault(group, []).append(owner)
        first = np.cumsum(counts) - counts
        foretold = {}
        for group, own in owners.items():
            places = np.tile(np.arange(counts[own[0]]), len(own))
            foretold[group] = np.repeat(first[own], counts[own]) + places, places
        return foretold


def fit_by_surfaces(
    evidence: EmulatedEvidence, mean: Array, covariance: Earlier, scale: Scale | None = None
) -> tuple[Gaussian, Gaussian]:
    """Find the best point and the belief, with surfaces laid about each belief in turn until they stand.

    In the end they lie about the belief that is returned, and what they claim to be wrong by holds there.

    mean, covariance : of the belief to begin with, in the order of the evidence's names
    scale : how far fires scatter by that belief, None where it does not say
    """
    fitted = _after_the_last(evidence, mean, covariance, scale)
    if fitted is None:
        evidence.emulate(mean, covariance, begins=True)
        best = best_point(evidence, mean, scale)
        at, fitted = best.mean, _at_rest(evidence, variational(evidence, best))
    else:
        at, fitted = evidence.best_before(fitted.mean), _stood_by(evidence, fitted)
    best = best_point(evidence, at, fitted.scale)
    if evidence.give_up():
        best = best_point(evidence, best.mean, fitted.scale)
        fitted = _stood_by(evidence, variational(evidence, fitted))
        evidence.emulate(fitted.mean, fitted.narrowed, ends=True)
    evidence.keep_best(best.mean)
    return best, fitted


def _at_rest(evidence: EmulatedEvidence, fitted: Gaussian) -> Gaussian:
    """Stand by what was fitted, and go on until it rests, so that its lines hold for the next fit."""
    return _stood_by(evidence, variational(evidence, _stood_by(evidence, fitted), STEP_AT_REST))


def _stood_by(evidence: EmulatedEvidence, fitted: Gaussian) -> Gaussian:
    """Fit again where surfaces do not lie about what was fitted by them, until they do."""
    for _ in range(MOST_ROUNDS):
        if not evidence.emulate(fitted.mean, fitted.narrowed):
            break
        fitted = variational(evidence, fitted)
    return fitted


def _after_the_last(
    evidence: EmulatedEvidence, mean: Array, covariance: Earlier, scale: Scale | None
) -> Gaussian | None:
    """Return the belief where nearly all was read before, None where it was not or leads nowhere."""
    if scale is None or not evidence.is_mostly_known:
        return None
    evidence.emulate_new(mean, covariance)
    fitted = variational(evidence, begun_on_lines(evidence, mean, covariance, scale))
    return fitted if fitted.rest < STEP_SETTLED else None
