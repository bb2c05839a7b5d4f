"""When the fire was out during a soak, and what that does to its clock and to the heat of the box.

The soak's clock stands still from "burner out" to "lit again". The model counts that time for what it was:
the box falls from the heat it had at the rate of a slow cool in the shut forge, and climbs back as fast as
it fell. Common practice, no source; a temperature that was noted meanwhile stands in place of the guess.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from model.process import SLOW_COOL_END_K, SLOW_COOL_K_PER_H
from model.units import HOUR_s
from webapp.services.batch_rows import aware
from webapp.store.tables import Event

FIRE_OUT = ("burner out", "burning back", "gas ran out")
LIT_AGAIN = "lit again"
FALL_K_PER_S = SLOW_COOL_K_PER_H / HOUR_s


@dataclass(frozen=True)
class Pause:
    """A time without a fire; `ended` None while it lasts."""

    kind: str
    began: datetime
    ended: datetime | None = None


def pauses_of(events: Iterable[Event]) -> tuple[Pause, ...]:
    """Return the times without a fire, in order; of several things that put it out the first counts."""
    pauses: list[Pause] = []
    for event in sorted(events, key=lambda event: (aware(event.happened_at), event.id or 0)):
        is_out = bool(pauses) and pauses[-1].ended is None
        if event.kind in FIRE_OUT and not is_out:
            pauses.append(Pause(event.kind, aware(event.happened_at)))
        elif event.kind == LIT_AGAIN and is_out:
            pauses[-1] = Pause(pauses[-1].kind, pauses[-1].began, aware(event.happened_at))
    return tuple(pauses)


def open_pause(pauses: Sequence[Pause]) -> Pause | None:
    """Return the pause that still lasts."""
    return pauses[-1] if pauses and pauses[-1].ended is None else None


def paused_s(pauses: Iterable[Pause], since: datetime, until: datetime) -> float:
    """Return how long the fire was out between two moments [s]."""
    return sum(end - start for start, end in spans_of(pauses, since, (until - since).total_seconds()))


def spans_of(pauses: Iterable[Pause], since: datetime, seconds: float) -> list[tuple[float, float]]:
    """Return each pause within so many seconds after a moment, as seconds after it."""
    spans = []
    for pause in pauses:
        start = max((pause.began - since).total_seconds(), 0.0)
        end = seconds if pause.ended is None else min((pause.ended - since).total_seconds(), seconds)
        if start < end:
            spans.append((start, end))
    return spans


def with_pauses(
    points: dict[float, float], spans: Iterable[tuple[float, float]], seconds: float
) -> dict[float, float]:
    """Return the noted heat of a soak, seconds to kelvin, with the dips where the fire was out."""
    known = dict(points)
    for start, end in spans:
        before_K = known[max(at for at in known if at <= start)]
        known.setdefault(start, before_K)
        seen_at = max(at for at in known if at <= end)
        bottom_K = _fallen(known[seen_at], end - seen_at)
        known.setdefault(end, bottom_K)
        climb_s = max(before_K - bottom_K, 0.0) / FALL_K_PER_S
        back = min(end + climb_s, seconds)
        if back > end and not any(end < at <= back for at in known):
            known[back] = bottom_K + FALL_K_PER_S * (back - end)
    return known


def _fallen(from_K: float, seconds: float) -> float:
    return min(from_K, max(from_K - FALL_K_PER_S * seconds, SLOW_COOL_END_K))
