"""How far fires scatter over what the books say: learnt with all else, one scale a kind of telling heat.

The scale is fitted to what is left of it once the fires' own latents are averaged over: its slope is that of
restricted maximum likelihood, its doubt from the information that the readings hold of it (Patterson &
Thompson, Biometrika 58 (1971) 545; Student's t as a scale mixture, Lange et al. 1989; both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance, Pairs
from model.inputs import Links
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE
from model.priors import prior_for

Array = NDArray[np.float64]
Places = NDArray[np.intp]

STEPS: Final = 3  # of Newton's method each time; the belief around it moves on between
MOST_STEP: Final = 0.5
# Share of the information on a scale that the heavy tails of Student's t leave (Lange et al. 1989).
INFORMED: Final = LATENT_FREEDOM / (LATENT_FREEDOM + 3.0)


@dataclass(frozen=True)
class Scale:
    """What is believed of each scale: middle and sd of its logarithm, (kinds,) each [ln]."""

    mean: Array
    sd: Array


@dataclass(frozen=True)
class Scatter:
    """Which coordinates are a fire's own luck, and which scale each follows.

    names : of the scales; size : number of coordinates
    column, kind, share : (latents,) place of each, its scale, and the share of its variance that scales: what
        is doubted in a record does not
    """

    names: tuple[str, ...]
    size: int
    column: Places
    kind: Places
    share: Array

    @classmethod
    def of(cls, names: Sequence[str], linked: Sequence[Links]) -> Scatter:
        """Gather them from the links of all processes; names : the coordinates, in order."""
        place = {name: index for index, name in enumerate(names)}
        found = {latent: (scale, share) for one in linked for latent, scale, share in one.scatter}
        scales = tuple(dict.fromkeys(scale for scale, _ in found.values()))
        return cls(
            scales,
            len(names),
            np.array([place[latent] for latent in found], dtype=np.intp),
            np.array([scales.index(scale) for scale, _ in found.values()], dtype=np.intp),
            np.array([share for _, share in found.values()], dtype=float),
        )

    def books(self) -> Scale:
        """Return what the books say of the scales."""
        priors = [prior_for(name) for name in self.names]
        return Scale(np.array([one.mean for one in priors]), np.array([one.sd for one in priors]))

    def begun(self, known: Mapping[str, tuple[float, float]]) -> Scale | None:
        """Return the scales as a belief has them, None where it does not speak of all.

        known : middle and sd of whitened coordinates by name
        """
        if not set(self.names) <= set(known):
            return None
        books, told = self.books(), np.array([known[name] for name in self.names]).reshape(-1, 2)
        return Scale(books.mean + books.sd * told[:, 0], books.sd * told[:, 1])

    def room(self, scale: Scale) -> Array:
        """Return the variance of every coordinate over that of the books, (coordinates,), at the middle."""
        room = np.ones(self.size)
        room[self.column] = self._variance(scale.mean)
        return room

    def rooms(self, coordinates: Array) -> Array:
        """Return the variance of each latent over that of the books, (draws, latents).

        coordinates : (draws, scales) whitened
        """
        books = self.books()
        factor = np.exp(2.0 * (books.mean + books.sd * coordinates))
        return np.asarray(self.share * factor[:, self.kind] + 1.0 - self.share)

    def coordinates(self, scale: Scale) -> tuple[Array, Array]:
        """Return middle and sd of the scales' own whitened coordinates, (kinds,) each."""
        books = self.books()
        return (scale.mean - books.mean) / books.sd, scale.sd / books.sd

    def learnt(
        self,
        scale: Scale,
        precision: Pairs,
        information: Array,
        weight: Array,
        counted: Array | None = None,
    ) -> Scale:
        """Return what readings say of the scales, the fires' own latents averaged over.

        scale : where to begin
        precision, information : of the coordinates, from readings and checks alone
        weight : (coordinates,) precision of the books, with Student's t weight of the latents
        counted : (coordinates,) how much of each latent counts, 0 to 1; all of it where it is not told
        """
        if not self.names:
            return scale
        mean, weight, books = scale.mean.copy(), weight.copy(), self.books()
        counts = np.ones(len(self.column)) if counted is None else counted[self.column]
        told, variance = books.sd**-2, self._variance(mean)
        for _ in range(STEPS):
            covariance = precision.plus(weight).inverse()
            moves = counts * (1.0 - (1.0 - self.share) / variance)
            own, doubt = weight[self.column], covariance.diagonal[self.column]
            square = covariance.times(information)[self.column] ** 2 + doubt
            pull = self._summed(moves * (own * square - 1.0))
            told = books.sd**-2 + 2.0 * INFORMED * self._heard(covariance, doubt, own, moves)
            step = (pull - (mean - books.mean) / books.sd**2) / told
            mean += np.clip(step, -MOST_STEP, MOST_STEP)
            variance = self._variance(mean)
            weight[self.column] = student_weight(square, variance)
        return Scale(mean, told**-0.5)

    def _heard(self, covariance: Covariance, variance: Array, weight: Array, moves: Array) -> Array:
        """Return how much is known of the latents' sizes: squares of 1 - root weight, covariance, root."""
        known = weight * variance
        counted = np.zeros((len(self.names), covariance.layout.size))
        counted[self.kind, self.column] = moves * weight
        # the square of what is known is among the pairs too
        return self._summed(moves**2 * (1.0 - 2.0 * known)) + covariance.squared(counted)

    def _variance(self, mean: Array) -> Array:
        return np.asarray(self.share * np.exp(2.0 * mean[self.kind]) + 1.0 - self.share)

    def _summed(self, values: Array) -> Array:
        return np.asarray(np.bincount(self.kind, values, minlength=len(self.names)), dtype=float)


def student_weight(square: Array, variance: Array | float) -> Array:
    """Return the precision that Student's t of a fire gives a coordinate: less, the odder the fire.

    square : its expected square; variance : that of the books, broadcasting, above 0
    """
    return np.asarray((LATENT_FREEDOM + 1.0) / (LATENT_FREEDOM * LATENT_SCALE**2 * variance + square))
