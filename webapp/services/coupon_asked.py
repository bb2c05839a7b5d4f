"""A coupon that may be packed, as plain numbers: what a button sends and what the sums are made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from urllib.parse import parse_qsl, urlencode

from webapp.services.step_rules import StepRefused

BETWEEN = "|"
MOST_PIECES = 4
LONGEST_KEY = 1200
LARGEST_ID = 2**53
NOT_READ = "That coupon cannot be read any more. Look at the page again and pick it afresh."


@dataclass(frozen=True)
class CouponAsked:
    """One coupon: its section of a bar, the box it would lie in, how long, and the bath it goes into.

    `soak_s` is the batch's soak at heat; `pull_s` is when it is pulled out of it, 0 for one that stays.
    """

    bar_id: int
    shape: str
    size_m: float
    mix_id: int
    box_id: int
    heat_id: int
    bath_id: int
    temperature_K: float
    soak_s: float
    pull_s: float = 0.0

    @property
    def ids(self) -> tuple[int, ...]:
        """The ids of all it is made of and with."""
        return self.bar_id, self.mix_id, self.box_id, self.heat_id, self.bath_id

    @property
    def hours_s(self) -> float:
        """How long it is fed at heat."""
        return self.pull_s or self.soak_s


def key_of(pieces: tuple[CouponAsked, ...]) -> str:
    """Return coupons as one line of text."""
    return BETWEEN.join(urlencode(asdict(piece)) for piece in pieces)


def pieces_of(key: str) -> tuple[CouponAsked, ...]:
    """Return the coupons of a line of text; raises `StepRefused` for one that was not made here."""
    pieces = key.split(BETWEEN) if key and len(key) <= LONGEST_KEY else []
    if not 0 < len(pieces) <= MOST_PIECES:
        raise StepRefused("", NOT_READ)
    return tuple(_piece(dict(parse_qsl(piece))) for piece in pieces)


def _piece(told: Mapping[str, str]) -> CouponAsked:
    try:
        found = CouponAsked(
            bar_id=int(told["bar_id"]),
            shape=told["shape"],
            size_m=float(told["size_m"]),
            mix_id=int(told["mix_id"]),
            box_id=int(told["box_id"]),
            heat_id=int(told["heat_id"]),
            bath_id=int(told["bath_id"]),
            temperature_K=float(told["temperature_K"]),
            soak_s=float(told["soak_s"]),
            pull_s=float(told["pull_s"]),
        )
    except (KeyError, ValueError):
        raise StepRefused("", NOT_READ) from None
    is_sound = (
        found.shape in ("rod", "plate")
        and 1e-3 <= found.size_m <= 0.1
        and 900.0 <= found.temperature_K <= 1400.0
        and 60.0 <= found.soak_s <= 2e5
        and 0.0 <= found.pull_s <= found.soak_s
        and all(0 < one <= LARGEST_ID for one in found.ids)
    )
    if not is_sound:
        raise StepRefused("", NOT_READ)
    return found
