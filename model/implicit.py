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

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpttrf, dpttrs

from model.line import Line
from model.stretch import Flow, Stretch
from model.transport import Room

Array = NDArray[np.float64]

GAMMA = 1.0 - 0.5**0.5
"""The root that gives L-stability and the smaller error."""


@dataclass(frozen=True)
class _Matrix:
    """Factors of V/D + reach * couplings, whose solution is D dC/ds."""

    line: Line
    diagonal: Array
    off_diagonal: Array
    mobility: Array
    end_coupling: Array

    @classmethod
    def of(cls, stretch: Stretch, flow: Flow, reach: float, room: Room) -> _Matrix:
        """Return the factored matrix; reach is gamma times the step [-]; it stands while its room does."""
        line, diagonal, coupling = stretch.transport.line, room.driving, room.flux
        inside = np.multiply(stretch.conductance, 2.0 * reach, out=coupling[1:-1])
        end_coupling = flow.share * coupling[line.end_links]
        coupling[line.end_links] = end_coupling
        np.divide(stretch.transport.volume_m, flow.mobility, out=diagonal)
        diagonal += coupling[:-1]
        diagonal += coupling[1:]
        # no cell answers to what a face has taken up: faces stand apart, and follow their cells in `rates`
        diagonal[line.faces] = 1.0
        coupling[line.end_links] = 0.0
        factors = dpttrf(diagonal, np.negative(inside, out=inside), overwrite_d=1, overwrite_e=1)
        return cls(line, factors[0], factors[1], flow.mobility, end_coupling)

    def rates(self, right: Array) -> Array:
        """Return the rates that answer a right-hand side: cells by the system, faces from the end cells."""
        solved: Array = dpttrs(self.diagonal, self.off_diagonal, right, overwrite_b=1)[0]
        solved[self.line.faces] += self.end_coupling * solved[self.line.ends]
        solved /= self.mobility
        return solved


def rosenbrock_step(stretch: Stretch, carbon_wt: Array, s: float, step: float) -> tuple[Array, float]:
    """Return the nodes one step further in a stretch, and the error of that step.

    carbon_wt : (N,) carbon of the cells [wt%], and less what came in at the faces [wt% m]
    s, step : fractions of the stretch [-]
    returns : the new nodes; the root mean square over the cells of the worst member's error [wt%]
    source : Verwer et al. 1999, ROS2. Its terms gamma h dF/dt are had by taking the two stages' moments
        gamma h later and earlier, which costs nothing and keeps second order on a ramp
    """
    transport = stretch.transport
    here, there, matrix_room = transport.rooms
    early, late = stretch.at(s + GAMMA * step, s + (1.0 - GAMMA) * step)
    now = stretch.flow(carbon_wt, early, here)
    matrix = _Matrix.of(stretch, now, GAMMA * step, matrix_room)
    first = matrix.rates(now.net)
    ahead = carbon_wt + step * first
    right = stretch.flow(ahead, late, there).net
    right -= np.multiply(transport.twice_volume_m, first, out=there.spare)
    both = matrix.rates(right)
    both += first
    both *= 0.5 * step
    ahead += both
    return ahead, transport.line.worst_rms(both)
