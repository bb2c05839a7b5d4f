"""A state that the carbon solver has come to, and its profile, which is worked out when it is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from model.grid import Grid
from model.line import Line
from model.profile import CarbonProfile
from model.stretch import Stretch
from model.transport import PACK_VOLUME_m

Array = NDArray[np.float64]

DENSITY_kg_per_m3 = 7600.0
"""Density of austenite near 925 C (value from memory); it only turns wt% into mass."""
_OF_PACK_kg_per_m2 = -PACK_VOLUME_m * DENSITY_kg_per_m3 / 100.0
"""What a face has taken up for each wt% that its pack has gained."""


@dataclass(frozen=True)
class Reached:
    """The nodes of all members at a moment: few of a process are looked at, and each costs a step or two.

    nodes : carbon of the cells [wt%], and of the packs at the faces since the start [wt%]
    stretch, s : where that is, as a fraction of the stretch; None before the first
    before : the state at the end of the stretch before; without it no member keeps its faces
    """

    grid: Grid
    line: Line
    nodes: Array
    stretch: Stretch | None = None
    s: float = 0.0
    before: Reached | None = None

    @cached_property
    def profile(self) -> CarbonProfile:
        """Carbon by depth, and what came in."""
        outer, inner = self.line.apart(_OF_PACK_kg_per_m2 * self.nodes.ravel()[self.line.faces])
        fed, area = self.grid.inner_fed > 0.0, self.grid.area[:, -1]
        inner = np.divide(inner, area, out=np.zeros(len(inner)), where=fed)
        cells = self.line.cells_of(self.nodes)
        return CarbonProfile(self.grid, cells, *self._faces_wt, outer, inner)

    @cached_property
    def _faces_wt(self) -> tuple[Array, Array]:
        """Carbon at outer and inner faces, (M,) each; members that the stretch leaves alone keep theirs."""
        if self.stretch is None:
            return self.line.apart(self.nodes.ravel()[self.line.ends])
        lasts = self.stretch.segment.duration_s > 0.0
        if self.before is not None and not lasts.any():
            return self.before._faces_wt
        found = self.line.apart(self.stretch.face_carbon(self.nodes, *self.stretch.at(self.s)))
        if self.before is None or lasts.all():
            return found
        outer, inner = (np.where(lasts, *both) for both in zip(found, self.before._faces_wt, strict=True))
        return outer, inner
