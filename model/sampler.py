"""Draws of a whole belief, which no bell curve need be near: many chains side by side, off surfaces.

Two moves in turn. Preconditioned Crank-Nicolson (Cotter, Roberts, Stuart, White, Statistical Science 28
(2013) 424) about the quick fit: proposals leave its Gaussian as it is, so that only what that gets wrong is
put to the test; later on, about where the chains have been. Then every fire's own coordinates by themselves,
as the books have them: given what fires share, none sees another, so each is judged alone and all at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.density import coordinates_of, normal_of, own_of_fires, told_by_checks, told_by_fire
from model.evidence import Evidence
from model.variational import Gaussian

Array = NDArray[np.float64]

CHAINS: Final = 64
STEPS: Final = (600, 3000)  # least and most a chain goes; the first half is not kept
LEANED_AT: Final = 0.4  # share of the steps after which proposals lean on where the chains have been
LEANED_EVERY: Final = 10  # every so manieth step before it counts, of its second half
LEANED_BY: Final = 0.7  # how much they lean on it; the rest stays with the quick fit
ALONE: Final = 3  # every so manieth step is one of the fires by themselves
BEGUN_WIDER: Final = (
    1.5  # the chains begin that much wider apart than the quick fit, to show if they do not mix
)
SAMPLER_SEED: Final = 40
ADAPTED_BY: Final = 0.1  # how much one step's acceptance changes the stride that follows [ln]
WANTED_ACCEPTANCE: Final = 0.3
STRIDES: Final = (0.03, 0.95)
BEGUN_STRIDE: Final = 0.3
JITTER: Final = 1e-10
SLOPE_OVER: Final = 0.3


@dataclass(frozen=True)
class Chains:
    """What the chains went through after they settled.

    normal : (kept, chains, coordinates) of `density`; draws : the same as the belief's own coordinates, the
        scales of the fires' scatter last
    accepted : share of proposals that move all coordinates; stride : of these, at the end
    rounds : how often the chains were asked to go on, from 1
    """

    normal: Array
    draws: Array
    accepted: float
    stride: float
    rounds: int


def steps_for(evidence: Evidence) -> int:
    """Return how many steps the sampler may take for a logbook, 0 where too few to be of use."""
    steps = evidence.most_predicted // (CHAINS * max(1, len(evidence.processes)))
    return 0 if steps < STEPS[0] else min(steps, STEPS[1])


def sample(
    evidence: Evidence, fitted: Gaussian, steps: int, kept: int, before: Chains | None = None
) -> Chains:
    """Draw from the belief off surfaces, beginning at the quick fit or going on from where the chains are.

    evidence : what was read; fitted : the quick fit; steps : 3 or more; kept : of each chain, 1 or more
    before : what the same chains went through; they lean on all of it at once and go the rest of the steps
    The same logbook gives the same draws.
    """
    walk = _Walk(evidence, fitted)
    if before is not None:
        walk.go_on_from(before)
    leaned, burnt = int(LEANED_AT * steps), steps // 2
    keep = set(np.linspace(burnt, steps - 1, kept).astype(int).tolist())
    seen, found, accepted = [], [], []
    for step in range(leaned if before else 0, steps):
        if step % ALONE == ALONE - 1:
            walk.move_each_fire()
        else:
            accepted.append(walk.move_all(adapts=step < burnt))
        if leaned // 2 <= step < leaned and step % LEANED_EVERY == 0:
            seen.append(walk.normal.copy())
        if step == leaned and seen:
            walk.lean_on(np.concatenate(seen))
        if step in keep:
            found.append(walk.normal.copy())
    normal = np.array(found)
    draws = coordinates_of(evidence, normal.reshape(-1, normal.shape[2])).reshape(normal.shape)
    share, rounds = float(np.mean(accepted[len(accepted) // 2 :])), before.rounds + 1 if before else 1
    return Chains(normal, draws, share, walk.stride, rounds)


class _Walk:
    """Where all chains are, and how likely the readings are there."""

    def __init__(self, evidence: Evidence, fitted: Gaussian) -> None:
        """Begin about the quick fit."""
        self.evidence = evidence
        self.mean, self.root = _reference(evidence, fitted)
        self.whitens = np.linalg.inv(self.root)
        self.owner = own_of_fires(evidence)
        self.rng = np.random.default_rng([SAMPLER_SEED, len(self.mean)])
        self.white = BEGUN_WIDER * self.rng.standard_normal((CHAINS, len(self.mean)))
        self.normal = self.mean + self.white @ self.root.T
        self.readings, self.checks = self._told(self.normal)
        self.stride = BEGUN_STRIDE

    def go_on_from(self, before: Chains) -> None:
        """Take up the chains where they are, with other chance than before."""
        self.rng = np.random.default_rng([SAMPLER_SEED, len(self.mean), before.rounds])
        self.normal = before.normal[-1].copy()
        self.lean_on(before.normal.reshape(-1, len(self.mean)))
        self.readings, self.checks = self._told(self.normal)
        self.stride = before.stride

    def lean_on(self, seen: Array) -> None:
        """Propose from now on about where the chains have been, (draws, coordinates)."""
        own = self.root @ self.root.T
        covariance = LEANED_BY * np.cov(seen.T) + (1.0 - LEANED_BY) * own
        self.mean, self.root = seen.mean(axis=0), np.asarray(np.linalg.cholesky(covariance), dtype=float)
        self.whitens = np.linalg.inv(self.root)
        self.white = (self.normal - self.mean) @ self.whitens.T

    def move_all(self, adapts: bool) -> float:
        """Move all coordinates of each chain, or none; return the share that moved."""
        own = np.clip(self.stride * np.exp(0.5 * self.rng.standard_normal((CHAINS, 1))), *STRIDES)
        white = np.sqrt(1.0 - own**2) * self.white + own * self.rng.standard_normal(self.white.shape)
        normal = self.mean + white @ self.root.T
        readings, checks = self._told(normal)
        gain = _worth(white, normal, readings, checks)
        gain -= _worth(self.white, self.normal, self.readings, self.checks)
        goes = np.log(self.rng.uniform(size=CHAINS)) < gain
        self.white[goes], self.normal[goes] = white[goes], normal[goes]
        self.readings[goes], self.checks[goes] = readings[goes], checks[goes]
        share = float(goes.mean())
        if adapts:
            longer = np.exp(ADAPTED_BY * (share - WANTED_ACCEPTANCE))
            self.stride = float(np.clip(self.stride * longer, *STRIDES))
        return share

    def move_each_fire(self) -> None:
        """Draw what only one fire sees anew from the books, fire by fire as its readings allow."""
        own = np.clip(self.rng.uniform(size=(CHAINS, 1)), *STRIDES)
        fresh = np.sqrt(1.0 - own**2) * self.normal + own * self.rng.standard_normal(self.normal.shape)
        normal = np.where(self.owner >= 0, fresh, self.normal)
        readings, _ = self._told(normal)
        goes = np.log(self.rng.uniform(size=readings.shape)) < readings - self.readings
        moves = np.concatenate([goes, np.zeros((CHAINS, 1), dtype=bool)], axis=1)[:, self.owner]
        self.normal = np.where(moves, normal, self.normal)
        self.readings = np.where(goes, readings, self.readings)
        self.white = (self.normal - self.mean) @ self.whitens.T

    def _told(self, normal: Array) -> tuple[Array, Array]:
        coordinates = coordinates_of(self.evidence, normal)
        readings = told_by_fire(self.evidence, coordinates, roughly=True)
        return readings, told_by_checks(self.evidence, coordinates)


def _worth(white: Array, normal: Array, readings: Array, checks: Array) -> Array:
    """Return by how much the belief differs from the quick fit at some draws, in ln."""
    books = 0.5 * np.sum(white**2, axis=1) - 0.5 * np.sum(normal**2, axis=1)
    return np.asarray(readings.sum(axis=1) + checks + books)


def _reference(evidence: Evidence, fitted: Gaussian) -> tuple[Array, Array]:
    """Return mean and lower root of covariance of the quick fit, in coordinates that begin as N(0, 1)."""
    middle, sd = evidence.scatter.coordinates(fitted.scale)
    size = len(fitted.mean)
    root = np.zeros((size + len(sd), size + len(sd)))
    root[:size, :size] = np.linalg.cholesky(fitted.covariance + JITTER * np.eye(size))
    root[range(size, len(root)), range(size, len(root))] = sd
    at = np.concatenate([fitted.mean, middle])
    either = normal_of(evidence, np.stack([at, at + SLOPE_OVER, at - SLOPE_OVER]))
    slope = (either[1, :size] - either[2, :size]) / (2.0 * SLOPE_OVER)
    root[:size] *= slope[:, None]
    return either[0], root
