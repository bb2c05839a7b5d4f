"""Carbon fluxes in the cells of M sections while one stretch of a process lasts.

Each link has one flux, which leaves one node and enters its neighbour, so that no carbon is made or lost.
A face's node is its pack, whose vast volume (`transport`) keeps what has come in through the face.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy import add, minimum, subtract
from numpy.typing import NDArray

from model.diffusivity import OfCarbon, at_temperatures
from model.faces import Faces, FewFaces, ManyFaces
from model.segments import Segment
from model.transport import Room, Transport

Array = NDArray[np.float64]

_NOTHING = np.zeros(1), np.zeros(1)


@dataclass(slots=True)
class Conditions:
    """What a moment does to the work.

    diffusivity, saturation_wt : of the nodes, as `Line.spread` has them
    conductance : half of the links' between nodes, over a whole stretch, times the diffusivity's factor, so
        that it goes with what a `Room` calls mobility [m]
    faces : what they are offered
    """

    diffusivity: OfCarbon
    saturation_wt: Array
    conductance: Array
    faces: Faces


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
    def _half_s_per_m(self) -> Array:
        """Half conductance of the links over the whole stretch [s/m]."""
        line = self.transport.line
        return np.asarray(
            self.transport.laid.half_per_m * line.of_links(line.spread(self.segment.duration_s))
        )

    @cached_property
    def _area_s(self) -> Array:
        """Area of the faces over the whole stretch, (2M,) [s]."""
        seconds, laid = self.segment.duration_s, self.transport.laid
        return np.asarray(laid.area * laid.line.both(seconds, seconds)[0])

    def at(self, *fractions: float) -> tuple[Conditions, ...]:
        """Return what fractions of the stretch, 0 to 1, do to the work: worked out together, or once."""
        return self._always * len(fractions) or self._conditions(fractions)

    @cached_property
    def _always(self) -> tuple[Conditions, ...]:
        """What a stretch at one heat always does; nothing where it changes."""
        segment = self.segment
        return self._conditions((0.0,)) if np.all(segment.start_K == segment.end_K) else ()

    def _conditions(self, fractions: tuple[float, ...]) -> tuple[Conditions, ...]:
        transport, moment = self.transport, self.segment.moment(np.array(fractions)[:, None])
        line, count = transport.line, len(fractions)
        saturation = transport.saturation_wt(moment.temperature_K)
        (transfer, offered), (inner_transfer, inner_offered) = moment.outer, moment.inner or _NOTHING
        transfer = line.both(transfer, inner_transfer, count)
        offered = line.both(minimum(offered, saturation), minimum(inner_offered, saturation), count)
        diffusivities = at_temperatures(transport.diffusivity, moment.temperature_K, line.spread)
        rows = zip(diffusivities, line.spread(saturation), transfer, offered, strict=True)
        return tuple(self._at(*row) for row in rows)

    def _at(
        self, diffusivity: OfCarbon, saturation_wt: Array, transfer_m_per_s: Array, offered_wt: Array
    ) -> Conditions:
        """Return the conditions of one moment."""
        laid, line = self.transport.laid, self.transport.line
        kind = FewFaces if line.members == 1 else ManyFaces
        conductance = self._half_s_per_m * line.of_links(diffusivity.factor)
        faces = kind.of(laid, self._area_s, transfer_m_per_s, offered_wt)
        return Conditions(diffusivity, saturation_wt, conductance, faces)

    def flow(self, carbon_wt: Array, now: Conditions, room: Room) -> Room:
        """Fill a room with the flows of a state, and return it.

        carbon_wt : total carbon of the nodes [wt%]; now : the conditions
        source : Fick's law on driving carbon min(C, saturation), D as the mean of a link's two sides;
            at a fed face transfer and half cell in series
        Cells above saturation keep their mobility, though in truth they answer to nothing: the method's
        order does not depend on the matrix, and a matrix that froze them would let their free neighbours
        overshoot as the line falls, at hundreds of tiny steps.
        """
        driving, inside = room.driving, room.inside
        minimum(carbon_wt, now.saturation_wt, out=driving)
        now.faces.guess(room.driving_flat)
        now.diffusivity.fill(room.mobility, driving, room.spare)
        add(room.mobility_before, room.mobility_after, inside)
        inside *= now.conductance
        now.faces.feed(room)
        inside *= subtract(room.driving_before, room.driving_after, room.fall)
        subtract(room.comes, room.leaves, room.net)
        return room

    def face_carbon(self, carbon_wt: Array, now: Conditions) -> Array:
        """Return the total carbon at each face, (2M,) [wt%], with as much carbide as in its end cell."""
        line, room = self.transport.line, self.transport.rooms[0]
        self.flow(carbon_wt, now, room)
        fall = room.driving_flat[line.faces] - room.driving_flat[line.ends]
        return carbon_wt.ravel()[line.ends] + room.share * fall
