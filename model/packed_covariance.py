"""A covariance as plain values for storage, as it is summed: what all share, and each fire's own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from model.arrow import Covariance, Layout
from model.packed import Half, packed, unpacked


def packed_covariance(covariance: Covariance) -> dict[str, Any]:
    """Return a covariance as plain values, exactly; `by_fire` marks the form."""
    layout = covariance.layout
    held = layout.own < layout.size
    return {
        "by_fire": [own[real].tolist() for own, real in zip(layout.own, held, strict=True)],
        "shared_at": layout.shared.tolist(),
        "shared": Half.of(covariance.shared).packed(),
        "gain": packed(covariance.gain[held]),
        "alone": packed(covariance.alone),
    }


def unpacked_covariance(stored: Mapping[str, Any], size: int) -> Covariance:
    """Return the covariance of so many coordinates out of what `packed_covariance` gave.

    Raises ValueError, KeyError, IndexError or TypeError where the pieces do not fit together.
    """
    shared = np.array(stored["shared_at"], dtype=np.intp)
    each = [np.array(own, dtype=np.intp) for own in stored["by_fire"]]
    own = np.full((len(each), max((len(one) for one in each), default=0)), size, dtype=np.intp)
    for fire, one in enumerate(each):
        own[fire, : len(one)] = one
    if sorted(np.concatenate([shared, *each]).tolist()) != list(range(size)):
        raise ValueError("each coordinate must be shared or one fire's own")
    gain = np.zeros((*own.shape, len(shared)))
    gain[own < size] = unpacked(stored["gain"])
    alone = unpacked(stored["alone"])
    if alone.shape != (*own.shape, own.shape[1]):
        raise ValueError(f"{alone.shape} numbers for {own.shape} coordinates of fires")
    whole = Half.unpacked(stored["shared"], len(shared)).whole()
    if not all(np.isfinite(one).all() for one in (whole, gain, alone)):
        raise ValueError("numbers that are none")
    return Covariance(Layout(size, shared, own), whole, gain, alone)
