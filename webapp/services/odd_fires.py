"""Fires that came out otherwise than all the others foretell: which, how, and what is likely behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from webapp.services.odd_likely import Likely
from webapp.services.whole_book import grouped
from webapp.store.tables import Batch, Event

# Both are passed by clean fires in about 1 of 100 (DEVELOPERS.md, "Drift and failed seals").
DEEP_SCORE = 2.5
SEAL_ODDS = 0.5
SHALLOW_SCORE = -3.0  # shallower than luck alone, whatever the hardness says of a leak
COUPONS_DISAGREE = 4.0  # the score at which the fit itself stops listening

SHALLOW = (
    "Check the seal: through a crack the gas goes out and air comes in.",
    "Was the fire cooler than it read, or the soak shorter than noted?",
    "Was the pack spent or damp, or did it sink away from the pieces?",
    "If only the hardness is low: is the tester true, and was the skin scaly where it was read?",
)
DEEP = (
    "Was the fire hotter than it read, or the soak longer than noted?",
    "Was the pack fresher or livelier than its mix says?",
    "Is the bar richer in carbon than its label?",
)
DISAGREE = (
    "Were two coupons mixed up?",
    "Did they lie at the hot end and the cold end of the box?",
    "Look for a slip in a number or its unit.",
)
WORDS = {
    "shallow": ("came out shallower or softer than your other fires foretell", SHALLOW),
    "deep": ("came out deeper or harder than your other fires foretell", DEEP),
    "disagree": ("has coupons that do not agree with one another", DISAGREE),
}


@dataclass(frozen=True)
class OddBatch:
    """A batch of an odd fire, with the way to set it aside."""

    batch_id: int
    number: int
    href: str
    aside_href: str


@dataclass(frozen=True)
class OddFire:
    """One odd fire in words; `likely` is what its own readings point to, empty where they do not."""

    batches: tuple[OddBatch, ...]
    how: str
    noted: tuple[str, ...]
    causes: tuple[str, ...]
    likely: str = ""


def odd_fires(summary: Mapping[str, Any]) -> dict[int, str]:
    """Return how each odd fire of a fit is odd, by the fire's id: shallow, deep or disagree."""
    found = {}
    for fire in summary.get("fires", ()):
        how = _how(fire["score"], fire["surprise"], fire["seal"])
        if how and str(fire["fire"]).isdecimal():
            found[int(fire["fire"])] = how
    return found


def _how(score: float, surprise: float, seal: float) -> str:
    if seal >= SEAL_ODDS or score <= SHALLOW_SCORE:
        return "shallow"
    if score >= DEEP_SCORE:
        return "deep"
    return "disagree" if surprise >= COUPONS_DISAGREE else ""


def view_odd(
    odd: Mapping[int, str],
    batches: Sequence[Batch],
    events: Sequence[Event],
    likely: Mapping[int, Likely] | None = None,
) -> tuple[OddFire, ...]:
    """Return the odd fires with their batches, what was noted in them, and likely plain causes."""
    by_fire = grouped(batches, lambda batch: batch.fire_id)
    by_batch = grouped(events, lambda event: event.batch_id)
    found = []
    for fire_id, how in odd.items():
        own = by_fire[fire_id]
        words, causes = WORDS[how]
        noted = tuple(dict.fromkeys(event.kind for batch in own for event in by_batch[batch.id or 0]))
        one = (likely or {}).get(fire_id)
        batches_of = tuple(_view(batch, one.reason if one else "") for batch in own)
        found.append(OddFire(batches_of, words, noted, causes, one.words if one else ""))
    return tuple(fire for fire in found if fire.batches)


def _view(batch: Batch, reason: str) -> OddBatch:
    """Return a batch with the way to set it aside, for a reason that may be changed there."""
    href = f"/batches/{batch.id}"
    aside = f"{href}/set-aside" + (f"?{urlencode({'why': reason})}" if reason else "")
    return OddBatch(batch.id or 0, batch.number, href, aside)
