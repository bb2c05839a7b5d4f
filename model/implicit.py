"""One implicit step of the carbon balance of M sections.

ROS2 in its W form: J. G. Verwer, E. J. Spee, J. G. Blom, W. Hundsdorfer, SIAM J. Sci. Comput. 20 (1999)
1456 (from memory; the order tests hold it). Second order whatever matrix is used, L-stable, with a
first-order companion for the error. The matrix is the Jacobian of the fluxes with D taken at each cell,
which makes it symmetric in the unknown D dC: one positive definite tridiagonal system for all members,
solved by LAPACK without pivoting.
The gain through each face is a further unknown of the same scheme, so cells and gains balance to round-off.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpttrf, dpttrs

from model.segments import Segment
from model.transport import Fluxes, Transport

Array = NDArray[np.float64]

GAMMA = 1.0 - 0.5**0.5
"""The root that gives L-stability and the smaller error."""


class State(NamedTuple):
    """Carbon of the cells (M, n) [wt%], and gain through both faces (M,) [wt% m over the outer area]."""

    carbon_wt: Array
    outer: Array
    inner: Array


@dataclass(frozen=True)
class _Matrix:
    """Factors of V/D + reach * couplings, whose solution is D dC/ds."""

    diagonal: Array
    off_diagonal: Array
    mobility: Array
    outer_coupling: Array
    inner_coupling: Array

    @classmethod
    def of(cls, transport: Transport, fluxes: Fluxes, reach_s: Array) -> _Matrix:
        """Return the factored matrix; reach_s is gamma times each member's step, (M,) [s]."""
        coupling = (2.0 * reach_s[:, None]) * transport.half_conductance
        coupling[:, 0] *= fluxes.outer_share
        coupling[:, -1] *= fluxes.inner_share
        diagonal = transport.grid.volume_m / fluxes.mobility
        diagonal += coupling[:, :-1]
        diagonal += coupling[:, 1:]
        off = -coupling[:, 1:]
        off[:, -1] = 0.0  # members do not touch
        factors = dpttrf(diagonal.ravel(), off.ravel()[:-1], overwrite_d=1, overwrite_e=1)
        return cls(factors[0], factors[1], fluxes.mobility, coupling[:, 0], coupling[:, -1])

    def rates(self, right: State) -> State:
        """Return the rates that answer a right-hand side: cells by the system, gains from the end cells."""
        solved: Array = dpttrs(self.diagonal, self.off_diagonal, right.carbon_wt.ravel(), overwrite_b=1)[0]
        solved = solved.reshape(right.carbon_wt.shape)
        outer = right.outer - self.outer_coupling * solved[:, 0]
        inner = right.inner - self.inner_coupling * solved[:, -1]
        return State(solved / self.mobility, outer, inner)


def rosenbrock_step(
    transport: Transport, segment: Segment, state: State, s: float, step: float
) -> tuple[State, float]:
    """Return the state one step further in a segment that is spread, and the error of that step.

    s, step : fractions of the segment [-]
    returns : the new state; the root mean square over the cells of the worst member's error [wt%]
    source : Verwer et al. 1999, ROS2. Its terms gamma h dF/dt are had by taking the two stages' moments
        gamma h later and earlier, which costs nothing and keeps second order on a ramp
    """
    seconds = segment.duration_s
    now = transport.fluxes(state.carbon_wt, segment.moment(s + GAMMA * step))
    matrix = _Matrix.of(transport, now, GAMMA * step * seconds)
    first = matrix.rates(_per_fraction(now, seconds))
    later = segment.moment(s + (1.0 - GAMMA) * step)
    ahead = transport.fluxes(state.carbon_wt + step * first.carbon_wt, later)
    right = _per_fraction(ahead, seconds)
    right.carbon_wt[...] -= (2.0 * transport.grid.volume_m) * first.carbon_wt
    second = matrix.rates(
        State(right.carbon_wt, right.outer - 2.0 * first.outer, right.inner - 2.0 * first.inner)
    )
    parts = zip(state, first, second, strict=True)
    moved = State(*(old + (1.5 * step) * one + (0.5 * step) * two for old, one, two in parts))
    error = first.carbon_wt + second.carbon_wt
    worst = np.einsum("ij,ij->i", error, error).max() / error.shape[1]
    return moved, 0.5 * step * float(worst) ** 0.5


def _per_fraction(fluxes: Fluxes, seconds: Array) -> State:
    """Return fluxes per unit of the segment's fraction, in fresh arrays."""
    return State(seconds[:, None] * fluxes.net, seconds * fluxes.outer, seconds * fluxes.inner)
