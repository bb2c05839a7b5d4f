"""Arrays as short text for storage: their bytes in base 64, a tenth of what their decimals take."""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EXACT: Final = "<f8"
ROUGH: Final = "<f2"
"""Eleven bits of each number: right to 1 in 2000, that is 0.001 at 2."""


def packed(array: Array, kind: str = EXACT) -> dict[str, Any]:
    """Return an array as plain values; kind : `EXACT`, or `ROUGH` for numbers up to 60,000 either way."""
    text = b64encode(np.ascontiguousarray(array, dtype=kind).data).decode("ascii")
    return {"kind": kind, "shape": list(array.shape), "packed": text}


def unpacked(stored: Any) -> Array:
    """Return an array out of what `packed` gave; ValueError where it is something else."""
    if not isinstance(stored, Mapping) or stored["kind"] not in (EXACT, ROUGH):
        raise ValueError("numbers of a kind that is not known")
    flat = np.frombuffer(b64decode(stored["packed"], validate=True), dtype=stored["kind"])
    return flat.astype(float, copy=False).reshape(stored["shape"])


@dataclass(frozen=True)
class Half:
    """A symmetric matrix of which only the lower half is kept, row by row, (size (size + 1) / 2,)."""

    flat: Array
    size: int

    @classmethod
    def of(cls, matrix: Array) -> Half:
        """Return the half of a symmetric matrix, (size, size)."""
        return cls(matrix[np.tri(len(matrix), dtype=bool)], len(matrix))

    @classmethod
    def unpacked(cls, stored: Any, size: int) -> Half:
        """Return it out of what `packed` gave of its flat half; ValueError where it is something else."""
        half = cls(unpacked(stored), size)
        if half.flat.shape != (size * (size + 1) // 2,):
            raise ValueError(f"{half.flat.shape} numbers for half of {size} rows")
        return half

    def packed(self) -> dict[str, Any]:
        """Return it as plain values, exactly."""
        return packed(self.flat)

    def whole(self) -> Array:
        """Return the matrix, (size, size)."""
        matrix, half = np.zeros((self.size, self.size)), np.tri(self.size, dtype=bool)
        matrix[half] = self.flat
        matrix.T[half] = matrix[half]
        return matrix
