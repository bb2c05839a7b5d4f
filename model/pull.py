"""How hard each member of a Gaussian process pulls at its surface, over the length that foretells them best.

M members in F units, with O levels, of G surfaces. A place is read off by what its units, their square and 1
come to across all members (`read_off`).
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
KERNELS_AT_ONCE: Final = 16_000
"""Numbers of the kernels worked together: what fits a processor's cache with all that is made of them."""


@dataclass(frozen=True)
class Pull:
    """What G surfaces are made of.

    length : (G,) over which each surface bends; pull : (G, M, O) of each member
    straight : (G, F + 2, O) what the straight parts of all of them come to
    error : (G, O) by which each member is foretold by all others, rms
    """

    length: Array
    pull: Array
    straight: Array
    error: Array


def best_pull(units: Array, level: Array, share: Array) -> Pull:
    """Return the pull of each surface over the length that the first half of its levels is best foretold by.

    units : (G, M, F); level : (G, M, O); share : (G, M) of the error that each member stands for
    """
    several, members, _ = units.shape
    length, pull, error = np.empty(several), np.empty(level.shape), np.empty((several, level.shape[2]))
    at_once = max(1, KERNELS_AT_ONCE // members**2)
    for first in range(0, several, at_once):
        some = slice(first, first + at_once)
        length[some], pull[some], error[some] = _best(units[some], level[some], share[some])
    return Pull(length, pull, _straight(units, pull), error)


def members_across(rows: Array, length: Array) -> Array:
    """Return what bends at a place by each member, in ln, (G, F + 2, M); length : (G,).

    rows : (G, F + 2, M) units of the members, overwritten; the last two rows are filled in here
    """
    units = rows[:, :-2]
    rows[:, -2] = -0.5
    np.einsum("gfm,gfm->gm", units, units, out=rows[:, -1])
    rows[:, -1] *= -0.5
    rows *= length[:, None, None] ** -2
    return rows


def read_off(places: Array, across: Array, pull: Array, straight: Array) -> Array:
    """Return the levels at places of several surfaces, (G, N, F + 2) to (G, N, O).

    across : as `members_across` gives it; pull, straight : as in `Pull`

    places : in the units of the members; the last two columns are filled in here
    Worked in place: it is most of what a fit of a large logbook costs.
    """
    units = places[:, :, :-2]
    np.einsum("gnf,gnf->gn", units, units, out=places[:, :, -2])
    places[:, :, -1] = 1.0
    bends = places @ across
    np.exp(bends, out=bends)
    return np.asarray(bends @ pull + places @ straight)


def _best(units: Array, level: Array, share: Array) -> tuple[Array, Array, Array]:
    """Return length (G,), pull (G, M, O) and error (G, O) of a few surfaces."""
    product = units @ units.transpose(0, 2, 1)
    half = 0.5 * np.einsum("gmm->gm", product)
    bends = product - half[:, :, None]
    bends -= half[:, None]
    product += 1.0
    product *= STRAIGHT
    judged, found = level.shape[2] // 2, []
    for length in LENGTHS:
        kernel = bends * length**-2
        np.exp(kernel, out=kernel)
        kernel += product
        pull, left_out = _solved(kernel, level)
        found.append((pull, np.sqrt((share[:, None] @ left_out**2)[:, 0])))
    pulls, errors = (np.stack(side) for side in zip(*found, strict=True))
    best, each = (errors[:, :, :judged] ** 2).sum(axis=2).argmin(axis=0), np.arange(len(units))
    return np.array(LENGTHS)[best], pulls[best, each], errors[best, each]


def _straight(units: Array, pull: Array) -> Array:
    all_pull = pull.sum(axis=1, keepdims=True)
    rows = [units.transpose(0, 2, 1) @ pull, np.zeros_like(all_pull), all_pull]
    return STRAIGHT * np.concatenate(rows, axis=1)


def _solved(kernel: Array, level: Array) -> tuple[Array, Array]:
    """Return the pull of members and by how much all others foretell each one wrong, (G, M, O) each.

    kernel : (G, M, M), overwritten
    By the inverse of the Cholesky root, less than half the price of the whole inverse.
    Source: leave-one-out residuals in closed form (Rasmussen & Williams, Gaussian Processes for Machine
    Learning, 2006, section 5.4.2).
    """
    places = np.arange(kernel.shape[1])
    kernel[:, places, places] += NUGGET
    root = _inverse_roots(kernel)
    pull = root @ (root.transpose(0, 2, 1) @ level)
    return pull, pull / np.einsum("gij,gij->gi", root, root)[:, :, None]


def _inverse_roots(kernel: Array) -> Array:
    """Return upper matrices (G, M, M) whose square, the lower one behind, is each kernel's inverse.

    kernel : overwritten
    Halves are inverted alone and put together by products, which are quicker than LAPACK in so small ones.
    """
    half = kernel.shape[1] // 2
    first, other = slice(half), slice(half, None)
    for one in kernel:
        root, _ = dpotrf(one.T, lower=1, clean=1, overwrite_a=1)
        one[:] = root.T
        for own in (first, other):
            one[own, own] = dtrtri(one[own, own].T, lower=1)[0].T
    across = kernel[:, first, first] @ kernel[:, first, other] @ kernel[:, other, other]
    np.negative(across, out=kernel[:, first, other])
    return kernel
