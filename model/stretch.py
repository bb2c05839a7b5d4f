"""Carbon fluxes in the cells of M sections while one stretch of a process lasts.

Each link has one flux, which leaves one node and enters its neighbour, so that no carbon is made or lost.
What has come in through a face stands, negative, at its node: the carbon that the pack has left.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import OfCarbon, at_temperature
from model.segments import Segment
from model.transport import Room, Transport

Array = NDArray[np.float64]

_FREE_TRANSFER = 1.0e9
"""A transfer coefficient that already acts as a held surface [m/s] and stays finite in arithmetic."""
_NEVER_ZERO = 1.0e-300
_NOTHING = np.zeros(1), np.zeros(1)


class Flow(NamedTuple):
    """Flows over a whole stretch at the pace of one moment, and what the matrix of a step needs.

    net : (N,) into each node [wt% m over the outer area]
    mobility : (N,) diffusivity with which a cell answers to a change of its carbon [m2/s]; 1 at faces
    share : (2M,) part of offered less end cell that lies across the half cell [-]
    """

    net: Array
    mobility: Array
    share: Array


@dataclass(frozen=True)
class Conditions:
    """What a moment does to the work, spread over the nodes (N,) and the faces (2M,).

    diffusivity, saturation_wt : of the nodes; transfer_m : of the faces, over a whole stretch and outer area
    offered_wt : carbon that a face can take up
    held_wt, near, far : weights by which a face's carbon is guessed from what is held there and two cells
    """

    diffusivity: OfCarbon
    saturation_wt: Array
    transfer_m: Array
    offered_wt: Array
    held_wt: Array
    near: Array
    far: Array


@dataclass(frozen=True)
class Stretch:
    """Transport while a segment lasts; segment is spread over the members."""

    transport: Transport
    segment: Segment

    @classmethod
    def of(cls, transport: Transport, segment: Segment) -> Stretch:
        """Return the transport in a stretch of time."""
        return cls(transport, segment.spread(transport.line.members))

    @cached_property
    def conductance(self) -> Array:
        """Half conductance of the links over the whole stretch, (N - 1,) [s/m]."""
        seconds = self.transport.line.spread(self.segment.duration_s)
        return np.asarray(self.transport.half_conductance[1:-1] * seconds[:-1])

    @cached_property
    def _area_s(self) -> Array:
        """Area of the faces over the whole stretch, (2M,) [s]."""
        seconds = self.segment.duration_s
        return np.asarray(self.transport.area * np.concatenate([seconds, seconds]))

    def at(self, *fractions: float) -> tuple[Conditions, ...]:
        """Return what fractions of the stretch, 0 to 1, do to the work: worked out together, or once."""
        return self._always * len(fractions) or self._conditions(fractions)

    @cached_property
    def _always(self) -> tuple[Conditions, ...]:
        """What a stretch at one heat always does; nothing where it changes."""
        segment = self.segment
        return self._conditions((0.0,)) if np.array_equal(segment.start_K, segment.end_K) else ()

    def _conditions(self, fractions: tuple[float, ...]) -> tuple[Conditions, ...]:
        transport, moment = self.transport, self.segment.moment(np.array(fractions)[:, None])
        line, count = transport.line, len(fractions)
        saturation = transport.saturation_wt(moment.temperature_K)
        (transfer, offered), (inner_transfer, inner_offered) = moment.outer, moment.inner or _NOTHING
        transfer = np.minimum(line.both(transfer, inner_transfer, count), _FREE_TRANSFER)
        offered = line.both(np.minimum(offered, saturation), np.minimum(inner_offered, saturation), count)
        runs_on = transfer < _FREE_TRANSFER
        far = transport.lever * runs_on
        columns = (
            line.spread(saturation),
            transfer * self._area_s,
            offered,
            offered * ~runs_on,
            far + runs_on,
            far,
        )
        return tuple(
            Conditions(at_temperature(transport.diffusivity, kelvin, line.cells + 2), *rows)
            for kelvin, *rows in zip(moment.temperature_K, *columns, strict=True)
        )

    def flow(self, carbon_wt: Array, now: Conditions, room: Room) -> Flow:
        """Return the flows of a state.

        carbon_wt : (N,) total carbon of the cells [wt%]; now : the conditions; room : to work in
        source : Fick's law on driving carbon min(C, saturation), D as the mean of a link's two sides;
            at a fed face transfer and half cell in series
        Cells above saturation keep their mobility, though in truth they answer to nothing: the method's
        order does not depend on the matrix, and a matrix that froze them would let their free neighbours
        overshoot as the line falls, at hundreds of tiny steps.
        """
        line, driving, inside = self.transport.line, room.driving, room.flux[1:-1]
        np.minimum(carbon_wt, now.saturation_wt, out=driving)
        guess = now.held_wt + now.near * driving[line.ends] - now.far * driving[line.beyond]
        driving[line.faces] = guess
        mobility = now.diffusivity(driving, room.mobility, room.spare)
        driving[line.faces] = now.offered_wt
        np.add(mobility[:-1], mobility[1:], out=inside)
        inside *= self.conductance
        half_cell = room.flux[line.end_links]
        share = now.transfer_m / (now.transfer_m + half_cell + _NEVER_ZERO)
        room.flux[line.end_links] = share * half_cell
        inside *= np.subtract(driving[:-1], driving[1:], out=room.spare[:-1])
        mobility[line.faces] = 1.0
        net = np.subtract(room.flux[:-1], room.flux[1:], out=room.net)
        return Flow(net, mobility, share)

    def face_carbon(self, carbon_wt: Array, now: Conditions) -> Array:
        """Return the total carbon at each face, (2M,) [wt%], with as much carbide as in its end cell."""
        line = self.transport.line
        end = carbon_wt[line.ends]
        driving = np.minimum(end, now.saturation_wt[line.ends])
        share = self.flow(carbon_wt, now, self.transport.rooms[0]).share
        return end + share * (now.offered_wt - driving)
