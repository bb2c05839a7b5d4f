"""Arrays as short text for storage: their bytes in base 64, a tenth of what their decimals take."""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EXACT: Final = "<f8"
ROUGH: Final = "<f2"
"""Eleven bits of each number: right to 1 in 2000, that is 0.001 at 2."""


def packed(array: Array, kind: str = EXACT) -> dict[str, Any]:
    """Return an array as plain values; kind : `EXACT`, or `ROUGH` for numbers up to 60,000 either way."""
    text = b64encode(array.astype(kind).tobytes()).decode("ascii")
    return {"kind": kind, "shape": list(array.shape), "packed": text}


def unpacked(stored: Any) -> Array:
    """Return an array out of what `packed` gave, or out of plain lists; ValueError where it is neither."""
    if not isinstance(stored, Mapping):
        return np.asarray(stored, dtype=float)
    if stored["kind"] not in (EXACT, ROUGH):
        raise ValueError(f"numbers of kind {stored['kind']!r}")
    flat = np.frombuffer(b64decode(stored["packed"], validate=True), dtype=stored["kind"])
    return flat.astype(float).reshape(stored["shape"])


def packed_half(matrix: Array) -> dict[str, Any]:
    """Return a symmetric matrix as plain values: its lower half, exactly."""
    return packed(matrix[np.tri(len(matrix), dtype=bool)])


def unpacked_half(stored: Any, size: int) -> Array:
    """Return a symmetric matrix, (size, size), of its packed lower half, or of plain rows as they are."""
    if not isinstance(stored, Mapping):
        return np.asarray(stored, dtype=float).reshape((0, 0) if not stored else (len(stored), -1))
    matrix, half = np.zeros((size, size)), np.tri(size, dtype=bool)
    matrix[half] = unpacked(stored)
    matrix.T[half] = matrix[half]
    return matrix
