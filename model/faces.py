"""What a moment offers the faces of M sections, and how carbon comes in through them.

All faces are worked together as arrays; those of a single section one by one in plain numbers, by the same
sums, since a call of numpy on one face costs as much as on a hundred.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from model.line import Line
from model.transport import Laid, Room

Array = NDArray[np.float64]

_FREE_TRANSFER = 1.0e9
"""A transfer coefficient that already acts as a held surface [m/s] and stays finite in arithmetic."""
_NEVER_ZERO = 1.0e-30


class Faces(Protocol):
    """The faces at one moment, as a flow and the matrix of a step need them.

    A face's carbon is guessed for its diffusivity alone: what is held there, or straight on from two cells.
    """

    def guess(self, driving: Array) -> None:
        """Set the driving carbon of the faces, laid flat, to what it may be, for their diffusivity."""
        ...

    def feed(self, room: Room) -> None:
        """Set the driving carbon of the faces to what is offered, and let it through to the end cells.

        In a room with the conductance of all links, those to the faces as if these were held.
        """
        ...

    def couple(self, share: Array, links: Array) -> None:
        """Let only the shares that `feed` left in its room act on a matrix's flat links at the faces."""
        ...


@dataclass(slots=True)
class ManyFaces:
    """All faces, (2M,) each.

    held_wt, near, far : weights by which a face's carbon is guessed from what is held there and two cells
    offered_wt : carbon that a face can take up
    transfer_m : over a whole stretch and outer area
    """

    line: Line
    held_wt: Array
    near: Array
    far: Array
    offered_wt: Array
    transfer_m: Array

    @classmethod
    def of(cls, laid: Laid, area_s: Array, transfer_m_per_s: Array, offered_wt: Array) -> ManyFaces:
        """Return the faces at a moment, with their area over a whole stretch, all (2M,)."""
        transfer = np.minimum(transfer_m_per_s, _FREE_TRANSFER)
        runs_on = transfer < _FREE_TRANSFER
        far = laid.lever * runs_on
        return cls(laid.line, offered_wt * ~runs_on, far + runs_on, far, offered_wt, transfer * area_s)

    def guess(self, driving: Array) -> None:
        """Set the faces' driving carbon, as `Faces` says."""
        near = self.near * driving[self.line.ends]
        near -= self.far * driving[self.line.beyond]
        near += self.held_wt
        driving[self.line.faces] = near

    def feed(self, room: Room) -> None:
        """Let carbon through the faces, as `Faces` says: transfer and half cell in series."""
        half_cell = room.flux_flat[self.line.end_links]
        resists = half_cell + self.transfer_m
        resists += _NEVER_ZERO
        np.divide(self.transfer_m, resists, room.share)
        half_cell *= room.share
        room.flux_flat[self.line.end_links] = half_cell
        room.driving_flat[self.line.faces] = self.offered_wt

    def couple(self, share: Array, links: Array) -> None:
        """Hold a matrix's links to the shares, as `Faces` says."""
        links[self.line.end_links] *= share


@dataclass(slots=True)
class FewFaces:
    """The same as plain numbers, fed faces only: each tuple is what one of them needs for one of the sums."""

    guesses: list[tuple[int, int, int, float, float, float]]
    feeds: list[tuple[int, int, int, float, float]]

    @classmethod
    def of(cls, laid: Laid, area_s: Array, transfer_m_per_s: Array, offered_wt: Array) -> FewFaces:
        """Return the faces at a moment, as `ManyFaces` does."""
        guesses, feeds = [], []
        for place, node, end, beyond, link, lever in laid.fed:
            offered, transfer = offered_wt.item(place), min(transfer_m_per_s.item(place), _FREE_TRANSFER)
            near, far, held = (1.0 + lever, lever, 0.0) if transfer < _FREE_TRANSFER else (0.0, 0.0, offered)
            guesses.append((node, end, beyond, near, far, held))
            feeds.append((place, node, link, offered, transfer * area_s.item(place)))
        return cls(guesses, feeds)

    def guess(self, driving: Array) -> None:
        """Set the faces' driving carbon, as `Faces` says."""
        for node, end, beyond, near, far, held_wt in self.guesses:
            driving[node] = near * driving.item(end) - far * driving.item(beyond) + held_wt

    def feed(self, room: Room) -> None:
        """Let carbon through the faces, as `Faces` says."""
        for place, node, link, offered_wt, transfer_m in self.feeds:
            half_cell = room.flux.item(link)
            share = transfer_m / (half_cell + transfer_m + _NEVER_ZERO)
            room.share[place] = share
            room.flux[link] = share * half_cell
            room.driving[node] = offered_wt

    def couple(self, share: Array, links: Array) -> None:
        """Hold a matrix's links to the shares, as `Faces` says."""
        for place, _node, link, _offered_wt, _transfer_m in self.feeds:
            links[link] = share.item(place) * links.item(link)
