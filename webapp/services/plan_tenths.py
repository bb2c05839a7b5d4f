"""Odds in tenths, as a shop speaks of them."""

from __future__ import annotations


def in_ten(tenths: int) -> str:
    """Return odds in words: 7 in 10."""
    if tenths <= 0:
        return "hardly a chance"
    return "almost sure" if tenths >= 10 else f"{tenths} in 10"


def tenths_of(*shares: float) -> tuple[int, ...]:
    """Return shares as tenths that sum to ten: whole ones first, the rest where most is left over."""
    tenths = [int(10.0 * share) for share in shares]
    by_rest = sorted(range(len(shares)), key=lambda k: 10.0 * shares[k] - tenths[k], reverse=True)
    for k in by_rest[: 10 - sum(tenths)]:
        tenths[k] += 1
    return tuple(tenths)
