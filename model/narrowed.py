"""What is believed of a shop, narrowed by what was read off one piece: draws weighted by its readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants, ShopBelief, constants_of
from model.errors import NotPossible
from model.inputs import FITTED_INPUTS, bias_terms, links
from model.look import look
from model.process import Process
from model.readings import Observation, SparkReading
from model.sight import Reading, Seen

Array = NDArray[np.float64]

DRAWN: Final = 256
KEPT: Final = 64
LEAST_EFFECTIVE: Final = 32.0
"""Draws that the readings must leave; where they leave fewer they are trusted less. Own choice."""
BISECTIONS: Final = 40


@dataclass(frozen=True)
class Taken:
    """A reading of the piece; `is_learnt` says that the belief has learnt from it already."""

    observation: Observation
    is_learnt: bool = False


@dataclass(frozen=True)
class Narrowed:
    """Draws of a shop's coordinates, alike in weight, that agree with what was read off a piece.

    names : of the coordinates; coordinates : (draws, names)
    effective : how many of the draws the readings left, in number; used : keys of the readings that counted
    widened : the readings fit so badly to what is believed that they were trusted less than they claim
    """

    names: tuple[str, ...]
    coordinates: Array
    effective: float
    used: tuple[str, ...]
    widened: bool

    @property
    def draws(self) -> int:
        """Number of draws."""
        return len(self.coordinates)

    def constants(self, process: Process) -> Constants:
        """Return the constants of a process that `narrow` was told of, fields (draws,)."""
        return constants_of(process, _inputs(process, self.names, self.coordinates))


def narrow(
    belief: ShopBelief,
    readings: Sequence[Taken],
    processes: Sequence[Process],
    drawn: int = DRAWN,
    kept: int = KEPT,
    seed: int = 0,
) -> Narrowed:
    """Return draws of a belief that agree with the readings of one piece.

    belief : of the shop; readings : of the piece, each of the process that it was read after
    processes : whose constants will be asked for; drawn : draws that are weighed; kept : draws returned
    seed : any integer
    Returns equally likely draws, each taken as often as the readings make it likely.
    Raises NotPossible where there is nothing to draw for.
    Source: importance sampling with systematic resampling (textbook). A reading that the belief has learnt
    from only weighs what the fit does not learn: its likelihood over that of the middle of those constants.
    Where fewer than `LEAST_EFFECTIVE` draws would be left, all weights are raised to the same power below 1.
    """
    told = [taken for taken in readings if _can_weigh(taken.observation)]
    every = dict.fromkeys([*processes, *(taken.observation.process for taken in told)])
    if not every:
        raise NotPossible("processes", "no process is given", "Say whose constants are wanted.")
    names = _names(every, told)
    scatter = tuple(dict.fromkeys(one for process in every for one in links(process).scatter))
    coordinates = belief.drawn(names, drawn, seed, scatter)
    log_weight, used = _weigh(told, names, coordinates)
    weight, widened = _tempered(log_weight)
    picked = _resampled(weight, kept, np.random.default_rng([seed, kept]))
    effective = float(1.0 / (weight**2).sum())
    return Narrowed(names, coordinates[picked], effective, used, widened)


def _can_weigh(observation: Observation) -> bool:
    return not isinstance(observation.reading, SparkReading)


def _names(processes: dict[Process, None], told: Sequence[Taken]) -> tuple[str, ...]:
    """Return every coordinate once."""
    names = dict.fromkeys(name for process in processes for name in links(process).names_in_turn())
    names.update(dict.fromkeys(name for taken in told for name, _ in _tester(taken.observation)))
    return tuple(names)


def _tester(observation: Observation) -> tuple[tuple[str, float], ...]:
    """Return the coordinates of the bias in a reading."""
    return bias_terms(*cast(Reading, observation.reading).tester, observation.process.keys)


def _inputs(process: Process, names: tuple[str, ...], coordinates: Array) -> Array:
    """Return the local inputs of a process, (draws, local inputs)."""
    linked = links(process)
    places = [names.index(name) for name in linked.names()]
    return np.asarray(linked.offset + coordinates[:, places] @ linked.matrix(linked.names()).T)


def _weigh(
    told: Sequence[Taken], names: tuple[str, ...], coordinates: Array
) -> tuple[Array, tuple[str, ...]]:
    """Return the log likelihood of all readings, (draws,), and which of them counted."""
    processes = list(dict.fromkeys(taken.observation.process for taken in told))
    log_weight, used = np.zeros(len(coordinates)), []
    if not processes:
        return log_weight, ()
    inputs = np.stack([_inputs(process, names, coordinates) for process in processes])
    seen = dict(zip(processes, look(processes, inputs), strict=True))
    middle = seen
    if any(taken.is_learnt for taken in told):
        at_middle = inputs.copy()
        at_middle[:, :, FITTED_INPUTS:] = inputs[:, :, FITTED_INPUTS:].mean(axis=1, keepdims=True)
        middle = dict(zip(processes, look(processes, at_middle), strict=True))
    for taken in told:
        process = taken.observation.process
        log = _log_likelihood(taken, seen[process], middle[process], names, coordinates)
        if np.isfinite(log).all():
            log_weight += log
            used.append(taken.observation.key)
    return log_weight, tuple(used)


def _log_likelihood(
    taken: Taken, seen: Seen, middle: Seen, names: tuple[str, ...], coordinates: Array
) -> Array:
    """Return how likely each draw makes one reading, (draws,); of a learnt one what is left to say."""
    reading = cast(Reading, taken.observation.reading)
    terms = _tester(taken.observation)
    bias = sum(
        (sd * coordinates[:, [names.index(name)]] for name, sd in terms), np.zeros((len(coordinates), 1))
    )
    found = reading.predicted(seen)
    log = reading.likelihood(found.value + bias, found.doubt).log.sum(axis=1)
    if taken.is_learnt:
        known = reading.predicted(middle)
        carried = np.hypot(known.doubt, (found.value - known.value).std(axis=0))
        log = log - reading.likelihood(known.value + bias, carried).log.sum(axis=1)
    return np.asarray(log)


def _tempered(log_weight: Array) -> tuple[Array, bool]:
    """Return weights that sum to 1, and whether they had to be flattened to leave enough draws."""
    least = min(LEAST_EFFECTIVE, 0.5 * len(log_weight))
    if _effective(_shares(log_weight)) >= least:
        return _shares(log_weight), False
    low, high = 0.0, 1.0
    for _ in range(BISECTIONS):
        power = 0.5 * (low + high)
        low, high = (power, high) if _effective(_shares(power * log_weight)) >= least else (low, power)
    return _shares(low * log_weight), True


def _shares(log_weight: Array) -> Array:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _effective(weight: Array) -> float:
    return float(1.0 / (weight**2).sum())


def _resampled(weight: Array, kept: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Return places of draws, each as often as its weight says: one even comb over the sums of weights."""
    comb = (np.arange(kept) + rng.uniform()) / kept
    return np.asarray(np.minimum(np.searchsorted(np.cumsum(weight), comb), len(weight) - 1), dtype=np.intp)
