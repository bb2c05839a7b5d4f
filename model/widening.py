"""How surprises widen a fit: what was read counts for less, what the books say counts in full.

With s as how much the fires surprise, P the precision of the fit and B what the books give of it, the
precision becomes P/s^2 + B (1 - 1/s^2): whatever surprised, nothing is less sure than with no reading.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance, Pairs

Array = NDArray[np.float64]

# s = sqrt((8 + sum u^2)/(8 + n)) with surprises clipped at 4 (simulation study, section 4).
WIDENING_WEIGHT: Final = 8.0
MOST_SURPRISE: Final = 4.0


def widening(surprises: Iterable[float]) -> float:
    """Return s, 1 or more, by which every reading's own sd counts as wider.

    surprises : of every fire by what the others foretell, 0 or more [sd]; none of them gives 1
    """
    squares = [min(surprise, MOST_SURPRISE) ** 2 for surprise in surprises]
    return float(max(1.0, ((WIDENING_WEIGHT + sum(squares)) / (WIDENING_WEIGHT + len(squares))) ** 0.5))


def widened(covariance: Array, books: Array | float, spread: float) -> Array:
    """Return a fit's covariance as its surprises leave it, (names, names).

    covariance : of the fit, (names, names); books : precision that counts in full, (names,), 0 for none
    spread : s of `widening`, 1 or more
    """
    if spread == 1.0:
        return covariance
    kept = (1.0 - spread**-2) * np.eye(len(covariance)) * books
    return _inverse(_inverse(covariance) / spread**2 + kept)


def widened_by_fire(precision: Pairs, books: Array, spread: float) -> Covariance:
    """Return the covariance as surprises leave it, from the precision of the fit; otherwise as `widened`."""
    return precision.over(spread**2).plus((1.0 - spread**-2) * books).inverse()


def narrowed(covariance: Array, books: Array | float, spread: float) -> Array:
    """Return what `widened` made its result from."""
    if spread == 1.0:
        return covariance
    kept = (1.0 - spread**-2) * np.eye(len(covariance)) * books
    return _inverse(spread**2 * (_inverse(covariance) - kept))


def stretch(covariance: Array, books: Array, spread: float) -> Array:
    """Return the matrix A that takes what is drawn of a fit to what its surprises leave of it.

    Parameters as `widened`, books above 0; A C A' is its result. Each direction is stretched by itself, those
    that readings said much of by nearly s and those that only the books know not at all.
    """
    root = np.sqrt(books)
    told, axes = np.linalg.eigh(_inverse(covariance) / np.outer(root, root))
    longer = np.sqrt(told / (told / spread**2 + 1.0 - spread**-2))
    return np.asarray((axes * longer) @ axes.T * root / root[:, None])


def _inverse(matrix: Array) -> Array:
    inverse = np.linalg.inv(matrix)
    return np.asarray(0.5 * (inverse + inverse.T))
