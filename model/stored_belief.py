"""A belief out of storage, whole or of some fires: a long logbook's is nearly all single fires' own luck."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief
from model.errors import NotPossible
from model.inputs import LATENTS
from model.packed import Half, unpacked

Array = NDArray[np.float64]


@dataclass(frozen=True)
class StoredBelief:
    """What `ShopBelief.to_dict` stored, as its fields say, but half of its covariance as it was stored."""

    names: tuple[str, ...]
    mean: Array
    covariance: Half
    spread: float
    coupons: int
    draws: Array | None
    books: Array

    @classmethod
    def read(cls, stored: Mapping[str, Any]) -> StoredBelief:
        """Return what was stored, of old in plain lists; NotPossible when the pieces do not fit together."""
        names, spread = tuple(str(name) for name in stored["names"]), float(stored["spread"])
        mean = np.asarray(stored["mean"], dtype=float)
        try:
            covariance = Half.unpacked(stored["covariance"], len(names))
            draws = None if stored.get("draws") is None else unpacked(stored["draws"])
        except (ValueError, KeyError):
            raise _spoilt() from None
        books = np.asarray(stored.get("books", 0.0), dtype=float)
        fits = mean.shape == (len(names),) and books.shape in ((), mean.shape)
        fits &= draws is None or draws.shape[1:] == mean.shape
        numbers = (mean, covariance.flat, books, np.zeros(0) if draws is None else draws)
        if not (fits and all(np.isfinite(one).all() for one in numbers)):
            raise _spoilt()
        if draws is not None and "books" not in stored:
            draws = mean + spread * (draws - mean)  # an older model widened them as it drew
        return cls(names, mean, covariance, spread, int(stored["coupons"]), draws, books)

    def whole(self) -> ShopBelief:
        """Return all of it."""
        whole = self.covariance.whole()
        return ShopBelief(self.names, self.mean, whole, self.spread, self.coupons, self.draws, self.books)

    def of_fires(self, *fires: str) -> ShopBelief:
        """Return the belief of what all fires share and of some fires' own luck, without that of the others.

        fires : their keys. Of a bell curve and of draws alike this is exact, and what is left of a long
        logbook's belief is small: nothing that a process of these fires asks for is lost.
        """
        keep = [place for place, name in enumerate(self.names) if _is_wanted(name, fires)]
        return ShopBelief(
            tuple(self.names[place] for place in keep),
            self.mean[keep],
            self.covariance.among(keep),
            self.spread,
            self.coupons,
            None if self.draws is None else self.draws[:, keep],
            self.books if self.books.ndim == 0 else self.books[keep],
        )


def _is_wanted(name: str, fires: Sequence[str]) -> bool:
    """Tell whether a coordinate is shared by all fires, or one of these fires' own."""
    return not name.startswith(LATENTS) or name.partition("/")[2].partition("|")[0] in fires


def read_belief(stored: Mapping[str, Any]) -> ShopBelief:
    """Return the belief that `ShopBelief.to_dict` stored; NotPossible as `StoredBelief.read`."""
    return StoredBelief.read(stored).whole()


def _spoilt() -> NotPossible:
    return NotPossible("belief", "what was stored does not fit together", "Fit the logbook again.")
