"""Corners and thin edges of a part, where carbon comes from two sides and the case runs deeper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from model.edge_depth import edge_depth
from model.process import Shape
from model.traverse import interpolate_rows
from webapp.forms.numbers import amount
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import EdgeFigures
from webapp.services.plan_sums import Settled
from webapp.services.showing import Showing

LEAST_SHARE: Final = 0.02  # nearer its ends the share of the carbon that marks the case says nothing
WHAT_TO_DO: Final = "leave it thick, mask it with copper plate or clay, or grind it after"
OPEN_BORE: Final = (
    "The bore is not packed, so the wall is reckoned from outside only. Pack gas gets into an open bore "
    "all the same: plug it with clay, or count the wall as thin."
)


@dataclass(frozen=True)
class EdgesView:
    """What corners and thin edges come to; `is_warning` where the part itself goes hard right through."""

    words: str
    bore: str
    is_warning: bool


def edges_figures(found: Settled) -> EdgeFigures | None:
    """Return the case at a square corner and in a thin edge; None where a flat face has no case."""
    section = found.process.section
    face_m = np.maximum(found.case_m + found.goal.grinding_allowance_m, 0.0)
    carbon_wt, depth_m = found.drawn.carbon_wt, found.drawn.depth_m
    limit_wt = interpolate_rows(face_m[:, None], depth_m, carbon_wt)[:, 0]
    rise_wt = carbon_wt[:, 0] - found.drawn.base_carbon_wt
    share = (limit_wt - found.drawn.base_carbon_wt) / np.maximum(rise_wt, 1e-6)
    clear = (face_m > 0.0) & (share > LEAST_SHARE) & (share < 1.0 - LEAST_SHARE)
    if clear.mean() < 0.5:
        return None
    edge = edge_depth(face_m[clear], share[clear])
    return EdgeFigures(
        face_m=float(np.median(face_m[clear])),
        corner_m=float(np.median(edge.from_tip_m)),
        through_m=float(np.median(edge.through_m)),
        is_open_bore=section.shape is Shape.TUBE and not section.bore_packed,
    )


def view_edges(figures: PlanFigures, showing: Showing) -> EdgesView | None:
    """Return what corners and thin edges come to in words; None where there is nothing to say."""
    edges = figures.more.edges
    if edges is None:
        return None
    corner, face, through = (
        _size(length_m, showing) for length_m in (edges.corner_m, edges.face_m, edges.through_m)
    )
    words = (
        f"At a square corner the case runs up to about {corner} in from the tip, {face} on a flat face. "
        f"A lug, tooth or edge thinner than about {through} goes hard right through and will chip: "
        f"{WHAT_TO_DO}."
    )
    is_through = not edges.is_open_bore and figures.thickness_m <= edges.through_m
    if is_through:
        words = f"This section goes hard right through, as it is fed from both sides. {words}"
    return EdgesView(words, OPEN_BORE if edges.is_open_bore else "", is_through)


def _size(length_m: float, showing: Showing) -> str:
    """Return a length to a tenth of a millimetre: nobody knows a corner better."""
    return f"{amount(round(length_m, 4), showing.length_unit, 'length')} {showing.length_unit}"
