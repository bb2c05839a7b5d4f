"""A belief out of storage."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from model.belief import ShopBelief
from model.errors import NotPossible
from model.packed import unpacked
from model.packed_covariance import unpacked_covariance


def read_belief(stored: Mapping[str, Any]) -> ShopBelief:
    """Return the belief that `ShopBelief.to_dict` stored; NotPossible when the pieces do not fit together."""
    try:
        return _read(stored)
    except (ValueError, KeyError, IndexError, TypeError):
        raise NotPossible(
            "belief", "what was stored does not fit together", "Fit the logbook again."
        ) from None


def _read(stored: Mapping[str, Any]) -> ShopBelief:
    names, mean = tuple(str(name) for name in stored["names"]), np.asarray(stored["mean"], dtype=float)
    draws = None if stored["draws"] is None else unpacked(stored["draws"])
    books = np.asarray(stored["books"], dtype=float)
    fits = mean.shape == (len(names),) and books.shape in ((), mean.shape)
    fits &= draws is None or draws.shape[1:] == mean.shape
    numbers = (mean, books, np.zeros(0) if draws is None else draws)
    if not (fits and all(np.isfinite(one).all() for one in numbers)):
        raise ValueError("pieces of other lengths, or numbers that are none")
    return ShopBelief(
        names,
        mean,
        unpacked_covariance(stored["covariance"], len(names)),
        float(stored["spread"]),
        int(stored["coupons"]),
        draws,
        books,
    )
