"""One implicit step of the carbon balance of M sections.

ROS2 in its W form: J. G. Verwer, E. J. Spee, J. G. Blom, W. Hundsdorfer, SIAM J. Sci. Comput. 20 (1999)
1456 (from memory; the order tests hold it). Second order whatever matrix is used, L-stable, with a
first-order companion for the error. The matrix is the Jacobian of the fluxes with D taken at each cell,
which makes it symmetric in the unknown D dC: positive definite tridiagonal systems (`tridiagonal`), solved
without pivoting.
The gain through each face is a further unknown of the same system, so cells and gains balance to round-off.
"""

from __future__ import annotations

import numpy as np
from numpy import divide, multiply
from numpy.typing import NDArray

from model.stretch import Conditions, Stretch
from model.transport import GAMMA, MatrixRoom, Room, Transport

Array = NDArray[np.float64]


def _matrix(transport: Transport, now: Conditions, flow: Room, step: float) -> MatrixRoom:
    """Return the matrix of a step [-] at a flow: V/D over the step, and gamma times the couplings."""
    room = transport.matrix_room
    # conductances are halves, for the mean of two mobilities
    multiply(now.conductance, room.less_reach, room.inside)
    now.faces.couple(flow.share, room.links_flat)
    divide(transport.laid.volume_m, step, room.pace)
    diagonal = divide(room.pace, flow.mobility, room.diagonal)
    diagonal -= room.before
    diagonal -= room.after
    return room


def rosenbrock_step(stretch: Stretch, carbon_wt: Array, s: float, step: float) -> tuple[Array, float]:
    """Return the nodes one step further in a stretch, and the error of that step.

    carbon_wt : carbon of the cells, and of the packs at their faces, as `Line.laid` has them [wt%]
    s, step : fractions of the stretch [-]
    returns : the new nodes; the root mean square over the cells of the worst member's error [wt%]
    source : Verwer et al. 1999, ROS2. Its terms gamma h dF/dt are had by taking the two stages' moments
        gamma h later and earlier, which costs nothing and keeps second order on a ramp
    """
    transport = stretch.transport
    here, there = transport.rooms
    early, late = stretch.at(s + GAMMA * step, s + (1.0 - GAMMA) * step)
    now = stretch.flow(carbon_wt, early, here).net
    matrix = _matrix(transport, early, here, step)
    # the unknowns are gains in the whole step, times D
    first = matrix.systems.first(matrix.diagonal, matrix.inside, now)
    first /= here.mobility
    ahead = carbon_wt + first
    right = stretch.flow(ahead, late, there).net
    twice = multiply(matrix.pace, first, there.spare)
    right -= twice
    right -= twice
    both = matrix.systems.second(right)
    both /= here.mobility
    both += first
    both *= matrix.half
    ahead += both
    return ahead, transport.laid.line.worst_rms(both, there.spare)
