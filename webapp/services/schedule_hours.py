"""When the shop opens, when one leaves and when a fire is usually lit: as kept, and as one run asks."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time
from typing import Final

from webapp.services.schedule import Hours
from webapp.services.sheets import NotAccepted
from webapp.services.shop_view import SHOP_ID, ShopView
from webapp.store.tables import Shop
from webapp.store.unit_of_work import UnitOfWork

USUAL_OPENS: Final = time(8, 0)
USUAL_LEAVES: Final = time(18, 0)
"""What a schedule goes by while nobody said; common practice, no source."""
OPENS: Final = "opens"
LEAVES: Final = "leaves"
"""What an address calls the hours of one run."""
BACKWARDS: Final = "You leave before the shop opens. Type a later time."


def are_told(shop: ShopView) -> bool:
    """Tell whether the shop ever said when it opens and when one leaves."""
    return shop.opens_at is not None and shop.leaves_at is not None


def hours_of(shop: ShopView) -> Hours:
    """Return the shop's hours, the usual ones while nobody said."""
    return Hours(shop.opens_at or USUAL_OPENS, shop.leaves_at or USUAL_LEAVES, shop.zone, shop.starts_at)


def asked_hours(
    shop: ShopView, query: Mapping[str, str]
) -> tuple[Hours, tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Return the hours that an address asks for one run, what carries them on, and what could not be read."""
    usual, read, mistakes = hours_of(shop), {}, []
    for name in (OPENS, LEAVES):
        text = query.get(name, "")
        if not text:
            continue
        found = _read(text)
        if found is None:
            mistakes.append(f"{_not_a_time(text)} The shop's own hours stay.")
        else:
            read[name] = found
    opens, leaves = read.get(OPENS, usual.opens_at), read.get(LEAVES, usual.leaves_at)
    if opens >= leaves:
        return usual, (), (*mistakes, f"{BACKWARDS} The shop's own hours stay.")
    own = {OPENS: usual.opens_at, LEAVES: usual.leaves_at}
    carried = tuple((name, f"{at:%H:%M}") for name, at in read.items() if at != own[name])
    return Hours(opens, leaves, shop.zone, usual.starts_at), carried, tuple(mistakes)


def keep_hours(
    work: UnitOfWork, opens: str, leaves: str, starts: str, version: int | None, back: str
) -> None:
    """Remember when the shop opens, when one leaves and, if it was said, when a fire is usually lit."""
    opens_at, leaves_at = _time(opens, "opens_at"), _time(leaves, "leaves_at")
    starts_at = _time(starts, "starts_at") if starts.strip() else None
    problem = hours_problem(opens_at, leaves_at, starts_at)
    if problem is not None:
        raise NotAccepted(dict([problem]))
    fields = {"opens_at": opens_at, "leaves_at": leaves_at, "starts_at": starts_at}
    work.change(work.get(Shop, SHOP_ID), version=version, **fields)
    work.answered_at(back)


def hours_problem(
    opens_at: time | None, leaves_at: time | None, starts_at: time | None
) -> tuple[str, str] | None:
    """Return the field and the words of what is wrong with the shop's hours; None where nothing is."""
    if (opens_at is None) != (leaves_at is None):
        missing = "opens_at" if opens_at is None else "leaves_at"
        return missing, "Give both, when the shop opens and when you leave, or neither."
    if opens_at is None or leaves_at is None:
        return None if starts_at is None else ("opens_at", "Say when the shop opens and when you leave, too.")
    if opens_at >= leaves_at:
        return "leaves_at", BACKWARDS
    if starts_at is not None and not opens_at <= starts_at < leaves_at:
        return "starts_at", f"Between {opens_at:%H:%M} and {leaves_at:%H:%M}, while somebody is there."
    return None


def _time(text: str, field: str) -> time:
    found = _read(text)
    if found is None:
        raise NotAccepted({field: f"{_not_a_time(text)} Type it as 08:00."})
    return found


def _read(text: str) -> time | None:
    try:
        return time.fromisoformat(text.strip()).replace(second=0, microsecond=0, tzinfo=None)
    except ValueError:
        return None


def _not_a_time(text: str) -> str:
    return f"“{text[:20]}” is not a time of day."
