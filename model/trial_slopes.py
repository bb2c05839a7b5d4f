"""How what is wanted, and what would be read, hang on a shop's constants: all slopes in one solve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from model.belief import ShopBelief
from model.evidence import Check, Evidence
from model.inputs import LATENTS, ROW, links
from model.linearised import Linearised, over_belief
from model.look import Look
from model.look import look as look_by_forecast
from model.priors import scatter_factor
from model.process import Process
from model.reading_worth import information_of
from model.readings import Observation
from model.sight import Reading
from model.wanted import INPUT_OF, Want

Array = NDArray[np.float64]

SCALES: Final = 15  # equally likely scales of the scatter over which its variance is averaged


@dataclass(frozen=True)
class Taking:
    """One reading of one coupon; `outcomes` as `reading_worth.information_of` wants them."""

    process: Process
    outcomes: tuple[Reading, ...]


@dataclass(frozen=True)
class Trial:
    """What may be done next: readings of coupons of one fire, or checks; by a key of the asker's own."""

    key: str
    takings: tuple[Taking, ...] = ()
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True)
class Slopes:
    """All slopes in one set of coordinates.

    names, mean, covariance : what is believed of every coordinate that is touched, in prior sds
    whole : (wants, names) slopes of what is wanted; lasting : the same without a fire's luck
    rows : of each taking, its (points, names) slopes and what each point says, (points,) information
    """

    names: tuple[str, ...]
    mean: Array
    covariance: Array
    spread: float
    whole: Array
    lasting: Array
    rows: dict[Taking, tuple[Array, Array]]

    @classmethod
    def of(cls, wants: Sequence[Want], trials: Sequence[Trial], belief: ShopBelief, look: Look) -> Slopes:
        """Linearise every want and every taking over the belief, all in one solve."""
        takings = tuple(dict.fromkeys(taking for trial in trials for taking in trial.takings))
        shown = {f"want {place}": want for place, want in enumerate(wants) if want.shown is not None}
        asked = [Observation(key, want.process, want.shown) for key, want in shown.items()]  # type: ignore[arg-type]
        asked += [Observation("", taking.process, taking.outcomes[0]) for taking in takings]  # type: ignore[arg-type]
        checks = [check for trial in trials for check in trial.checks]
        evidence = Evidence(asked, checks, look)
        constants = [_constant(want) for want in wants]
        names = tuple(dict.fromkeys((*evidence.names, *(name for one in constants for name in one))))
        scatter = tuple(dict.fromkeys(one for linked in evidence.links for one in linked.scatter))
        mean, covariance = joint(belief, names, scatter)
        own = len(evidence.names)
        line = over_belief(evidence, mean[:own], covariance[:own, :own])
        slopes = np.pad(line.jacobian, ((0, 0), (0, len(names) - own)))
        whole = np.array([[one.get(name, 0.0) for name in names] for one in constants])
        for row, place in enumerate(place for place, want in enumerate(wants) if want.shown is not None):
            whole[place] = slopes[row]
        luck = np.array([name.startswith(LATENTS) for name in names])
        rows = {
            taking: _row(taking, line, slopes, covariance, len(shown) + place)
            for place, taking in enumerate(takings)
        }
        return cls(names, mean, covariance, belief.spread, whole, np.where(luck, 0.0, whole), rows)

    @property
    def luck(self) -> float:
        """How many times wider than the books the luck of a new fire is taken, 1 sd [-]."""
        own = [place for place, name in enumerate(self.names) if name.startswith("fire/")]
        return float(np.sqrt(np.max(np.diag(self.covariance)[own], initial=1.0)))

    def after(self, trial: Trial) -> Array:
        """Return the covariance left after a trial, (names, names), widened as a fit would be."""
        told = _told_by_checks(trial.checks, self.names)
        for taking in trial.takings:
            slopes, information = self.rows[taking]
            told += (slopes.T * information) @ slopes
        eye = np.eye(len(self.names))
        return np.asarray(np.linalg.solve(eye + self.covariance @ told / self.spread**2, self.covariance))


def _row(
    taking: Taking, line: Linearised, slopes: Array, covariance: Array, owner: int
) -> tuple[Array, Array]:
    """Return the slopes of a taking's points and what each says of its value."""
    at = line.owner == owner
    sd = np.sqrt(np.einsum("ij,jk,ik->i", slopes[at], covariance, slopes[at]))
    return slopes[at], information_of(taking.outcomes, line.value[at], sd, line.doubt[at])


def joint(
    belief: ShopBelief, names: Sequence[str], scatter: Sequence[tuple[str, str, float]] = ()
) -> tuple[Array, Array]:
    """Return mean and covariance of coordinates, those never seen as the books have them.

    belief : of the shop; names : any names, each once; scatter : of the processes' links (`inputs.Links`)
    Returns (names,) and (names, names), in prior sds; a new fire's luck is as wide as `ShopBelief.drawn`
    makes it, on the mean.
    """
    place = {name: index for index, name in enumerate(belief.names)}
    known = [index for index, name in enumerate(names) if name in place]
    at = [place[names[index]] for index in known]
    mean = np.zeros(len(names))
    covariance = np.eye(len(names))
    mean[known] = belief.mean[at]
    covariance[np.ix_(known, known)] = belief.covariance.full(np.array(at, dtype=np.intp))
    for latent, scale, share in scatter:
        if latent in names and latent not in place:
            index = names.index(latent)
            covariance[index, index] *= _widened(belief, scale, share)
    return mean, covariance


def _widened(belief: ShopBelief, scale: str, share: float) -> float:
    """Return by how much the variance of a fire's luck is wider than the books have it."""
    (middle,), ((variance,),) = joint(belief, (scale,))
    places = middle + np.sqrt(variance) * ndtri((np.arange(SCALES) + 0.5) / SCALES)
    return float(np.mean(scatter_factor(scale, places, share) ** 2))


def _constant(want: Want) -> dict[str, float]:
    """Return the slopes of a want that is a constant of the shop itself, by coordinate; none for others."""
    if want.quantity not in INPUT_OF:
        return {}
    row, slopes = ROW[INPUT_OF[want.quantity]], dict[str, float]()
    for name, at, coefficient in links(want.process).terms:
        if at == row and not name.startswith(LATENTS):
            slopes[name] = slopes.get(name, 0.0) + coefficient
    return slopes


def _told_by_checks(checks: Sequence[Check], names: Sequence[str]) -> Array:
    """Return the precision that checks add, (names, names)."""
    told = np.zeros((len(names), len(names)))
    if checks:
        evidence = Evidence((), checks, look_by_forecast)
        at = [names.index(name) for name in evidence.names]
        told[np.ix_(at, at)] = evidence.check_precision
    return told
