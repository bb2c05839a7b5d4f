"""Hardness worked out at few depths of a profile, and a smooth curve through it between.

A grid's nodes lie evenly by their count, whatever its section: one curve over the count serves all members.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.curves import monotone_curve

Array = NDArray[np.float64]

EVERY: Final = 2
FURTHER_DOWN: Final = 0.6
"""Share of the nodes from which on twice as many are left out: below most cases, where nothing is steep."""


def thinned(at_nodes: Array) -> Array:
    """Return every second node of profiles, further down every fourth, with both faces.

    at_nodes : (M, n + 2), faces and cells as `CarbonProfile.nodes` has them
    Returns (M, k), the first and the last node among them.
    """
    return at_nodes[:, _kept(at_nodes.shape[1])]


def filled_in(thin: Array, nodes: int) -> Array:
    """Return what is known at the nodes of `thinned` at all of them.

    thin : (M, k), not finite where it is not known of a member; nodes : n + 2
    Returns (M, n + 2), nan for such members.
    Source: own choice, the monotone cubic over the count of cells; a test says how near it comes.
    """
    count = np.clip(np.arange(nodes) - 0.5, 0.0, nodes - 2.0)  # faces lie half a cell from the first centre
    found = np.full((len(thin), nodes), np.nan)
    known = np.isfinite(thin).all(axis=1)
    found[known] = monotone_curve(count[_kept(nodes)], thin[known].T)(count).T
    return found


def _kept(nodes: int) -> NDArray[np.intp]:
    """Return the nodes that are kept."""
    bend = int(FURTHER_DOWN * nodes) // EVERY * EVERY
    return np.concatenate([np.arange(0, bend, EVERY), np.arange(bend, nodes - 1, 2 * EVERY), [nodes - 1]])
