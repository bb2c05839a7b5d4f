"""Draws of several coordinates that have nothing to do with one another, not even by chance.

Two streams of 200 draws agree or disagree by 0.07 by chance, the same names always in the same way: a band
made of a dozen of them comes out several percent too wide or too narrow, in every shop alike.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DRAWS_A_COLUMN: Final = 2  # with fewer there is no room to stand at right angles to all others


def evened(columns: Array, size: Array) -> Array:
    """Return columns in another order each, so that none goes with those before it, sized as asked.

    columns : (draws, several) around 0; size : (several,) root mean square of each, above 0
    Columns that there is no room for stay in their order, all do where there are fewer than four draws; one
    that comes later changes none before it.
    Source: Iman and Conover, Commun. Stat. B 11 (1982) 311, from memory: ranks as columns at right angles
    have them; the correlations left are 0.005 of 200 draws, 0.02 of 64.
    """
    draws = len(columns)
    several = min(columns.shape[1], draws // DRAWS_A_COLUMN - 1)
    if several < 1:
        return columns
    sized = columns * size / np.sqrt(np.mean(columns**2, axis=0))
    axes, upper = np.linalg.qr(np.column_stack([np.ones(draws), columns[:, :several]]))
    apart = axes[:, 1:] * np.sign(np.diag(upper))[1:]
    ranks = np.argsort(np.argsort(apart, axis=0), axis=0)
    even = np.take_along_axis(np.sort(sized[:, :several], axis=0), ranks, axis=0)
    return np.hstack([even, sized[:, several:]])
