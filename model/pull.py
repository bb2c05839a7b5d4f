"""How hard each member of a Gaussian process pulls at its surface, over the length that foretells them best.

M members in F units, with O levels. A place is read off by what its units, their square and 1 come to across
all members (`read_off`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

Array = NDArray[np.float64]

LENGTHS: Final = (2.5, 6.0)
"""Over how many widths of the belief a surface bends [-]; each takes the one it is best foretold by."""
STRAIGHT: Final = 10.0
"""Variance of the straight part over that of what bends [-]; ten times more or less changes nothing."""
NUGGET: Final = 1e-4


@dataclass(frozen=True)
class Pull:
    """What a surface is made of.

    across : (F + 2, M) members: what bends at a place, in ln; pull : (M, O) of each of them
    straight : (F + 2, O) what the straight parts of all of them come to
    error : (O,) by which each member is foretold by all others, rms
    """

    across: Array
    pull: Array
    straight: Array
    error: Array


def best_pull(units: Array, level: Array, share: Array) -> Pull:
    """Return the pull over the length that the first half of the levels is best foretold by.

    units : (M, F); level : (M, O); share : (M,) of the error that each member stands for
    """
    product = units @ units.T
    half = 0.5 * np.diag(product)
    bends, straight = product - half[:, None] - half, STRAIGHT * (1.0 + product)
    judged, found = level.shape[1] // 2, []
    for length in LENGTHS:
        pull, left_out = _solved(np.exp(bends * length**-2) + straight, level)
        error = np.sqrt(share @ left_out**2)
        found.append((float((error[:judged] ** 2).sum()), length, pull, error))
    _, length, pull, error = min(found, key=lambda one: one[0])
    return Pull(_across(units, half, length), pull, _straight(units, pull), error)


def read_off(places: Array, across: Array, pull: Array, straight: Array) -> Array:
    """Return the levels at places of several surfaces, (G, N, F + 2) to (G, N, O); the others as in `Pull`.

    places : in the units of the members; the last two columns are filled in here
    Worked in place: it is most of what a fit of a large logbook costs.
    """
    units = places[:, :, :-2]
    np.einsum("gnf,gnf->gn", units, units, out=places[:, :, -2])
    places[:, :, -1] = 1.0
    bends = places @ across
    np.exp(bends, out=bends)
    return np.asarray(bends @ pull + places @ straight)


def _across(units: Array, half_square: Array, length: float) -> Array:
    rows = np.column_stack([units, np.full(len(units), -0.5), -half_square])
    return np.ascontiguousarray(rows.T * length**-2)


def _straight(units: Array, pull: Array) -> Array:
    return STRAIGHT * np.vstack([units.T @ pull, np.zeros(pull.shape[1]), pull.sum(axis=0)])


def _solved(kernel: Array, level: Array) -> tuple[Array, Array]:
    """Return the pull of members and by how much all others foretell each one wrong, (M, O) each.

    kernel : (M, M), overwritten
    By the inverse of the Cholesky root, less than half the price of the whole inverse.
    Source: leave-one-out residuals in closed form (Rasmussen & Williams, Gaussian Processes for Machine
    Learning, 2006, section 5.4.2).
    """
    kernel[np.diag_indices(len(kernel))] += NUGGET
    root, _ = dpotrf(kernel.T, lower=1, clean=1, overwrite_a=1)
    inverse, _ = dtrtri(root, lower=1, overwrite_c=1)
    pull = inverse.T @ (inverse @ level)
    return pull, pull / np.einsum("ij,ij->j", inverse, inverse)[:, None]
