"""Which coupons and checks a shop could do next, each with what is read: the menu that is weighed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain
from typing import Literal

from webapp.services.coupon_asked import CouponAsked, key_of
from webapp.services.coupon_reads import BREAK, Read, reads_of
from webapp.services.coupon_shop import Piece, ShopThings

PULL_S = 2 * 3600.0
LONG_SOAK_S = 8 * 3600.0
SHORT_FOR_A_PULL_S = 3 * 3600.0  # a soak shorter than this is pulled halfway
LEAST_PULL_S = 900.0
MOST_OTHERS = 3
MOST_PAIRS = 4
CheckKind = Literal["", "warm_up", "heat", "tester", "oven"]


@dataclass(frozen=True)
class Offer:
    """Coupons of one fire with what is read of each, or a check of one thing; `effort` counts up from 0."""

    key: str
    pieces: tuple[CouponAsked, ...] = ()
    reads: tuple[Read, ...] = ()
    check: CheckKind = ""
    of_id: int = 0
    effort: int = 0

    @property
    def pieces_key(self) -> str:
        """What its button sends: its coupons alone."""
        return key_of(self.pieces)


def forge_offers(things: ShopThings) -> tuple[Offer, ...]:
    """Return what a shop may run next beside its usual work, and its checks."""
    usual = usual_coupon(things)
    mixes, boxes = list(things.mixes)[1 : 1 + MOST_OTHERS], list(things.boxes)[1 : 1 + MOST_OTHERS]
    others = [
        *(replace(usual, mix_id=key) for key in mixes),
        *(replace(usual, box_id=key) for key in boxes),
        *[replace(usual, mix_id=mix, box_id=box) for mix in mixes for box in boxes][:MOST_PAIRS],
        *(replace(usual, bath_id=key) for key in list(things.baths)[1 : 1 + MOST_OTHERS]),
        *(replace(usual, heat_id=key) for key in list(things.heats)[1 : 1 + MOST_OTHERS]),
        replace(usual, soak_s=LONG_SOAK_S),
    ]
    near = [usual, *(_of_section(usual, one) for one in things.sections[1:]), pulled(usual)]
    return (*_coupons(near, things, 0), *_coupons(others, things, 2), _pair(usual), *_checks(things))


def plan_offers(things: ShopThings, asked: CouponAsked, sections: tuple[Piece, ...]) -> tuple[Offer, ...]:
    """Return what may lie in the box beside a planned part; `asked` is a coupon of the part's own section."""
    stays = [_of_section(asked, one) for one in sections]
    coupons = list(chain.from_iterable((pulled(one), one) for one in stays))
    return (*_coupons(coupons, things, 0), _pair(stays[0]), *_checks(things))


def usual_coupon(things: ShopThings) -> CouponAsked:
    """Return the coupon that a shop would pack without thinking."""
    first = things.sections[0]
    return CouponAsked(
        first.bar_id,
        first.shape,
        first.size_m,
        mix_id=next(iter(things.mixes)),
        box_id=next(iter(things.boxes)),
        heat_id=next(iter(things.heats)),
        bath_id=next(iter(things.baths)),
        temperature_K=things.temperature_K,
        soak_s=things.soak_s,
    )


def pulled(coupon: CouponAsked) -> CouponAsked:
    """Return a coupon as one that is pulled at 2 h, out of a short soak halfway."""
    at_s = PULL_S if coupon.soak_s >= SHORT_FOR_A_PULL_S else 0.5 * coupon.soak_s
    quarters = max(round(at_s / LEAST_PULL_S), 1) * LEAST_PULL_S
    return replace(coupon, pull_s=min(quarters, coupon.soak_s))


def _of_section(coupon: CouponAsked, section: Piece) -> CouponAsked:
    return replace(coupon, bar_id=section.bar_id, shape=section.shape, size_m=section.size_m)


def _coupons(coupons: list[CouponAsked], things: ShopThings, effort: int) -> tuple[Offer, ...]:
    return tuple(
        _offer((coupon,), reads, effort)
        for coupon in dict.fromkeys(coupons)
        for reads in reads_of(things.testers)
    )


def _pair(coupon: CouponAsked) -> Offer:
    """Return a pin pulled and a coupon that stays, both broken: they part a slow start from a slow pack."""
    return _offer((pulled(coupon), coupon), (BREAK,), 1)


def _offer(pieces: tuple[CouponAsked, ...], reads: tuple[Read, ...], effort: int) -> Offer:
    told = "+".join(f"{read.kind}{read.tester_id or ''}" for read in reads)
    more = sum({"etch": 1, "traverse": 3}.get(read.kind, 0) for read in reads) + len(reads) - 1
    return Offer(f"{key_of(pieces)} {told}", pieces, reads, effort=1 + effort + more)


def _checks(things: ShopThings) -> tuple[Offer, ...]:
    """Return what may be checked without a coupon."""
    tips = [key for key, row in things.heats.items() if row.method == "thermocouple"]
    testers = [key for key, row in things.testers.items() if row.method in ("rockwell", "vickers")]
    asked: list[tuple[CheckKind, int]] = [
        *(("warm_up", key) for key in things.boxes if tips),
        *(("heat", key) for key in tips),
        *(("tester", key) for key in testers),
        *(("oven", key) for key in things.ovens),
    ]
    return tuple(Offer(f"{kind} {key}", check=kind, of_id=key) for kind, key in asked)
