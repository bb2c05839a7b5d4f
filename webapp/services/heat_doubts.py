"""Noted temperatures that cannot both be right, and numbers that look typed in the other unit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from itertools import pairwise

from model.units import from_si, to_si
from webapp.services.batch_rows import aware, row_id
from webapp.services.showing import Showing, say_duration
from webapp.store.tables import HeatNote

# A shut, packed box changes by 300 K/h when its fire is out (see `model.process`); common practice, no
# source. Twice the doubt of an eye stays below this, and a door open for a look does not reach it.
APART_K = 150.0
CLOSE_IN_TIME = timedelta(minutes=15)
FAR_FROM_SOAK_K = 150.0
NEAR_SOAK_K = 75.0


def contradictions(notes: Sequence[HeatNote], showing: Showing) -> dict[int, str]:
    """Return, by the later note's id, what is wrong with two that contradict each other."""
    found = {}
    for first, second in pairwise(sorted(notes, key=lambda note: aware(note.noted_at))):
        if contradict(first, second):
            between_s = (aware(second.noted_at) - aware(first.noted_at)).total_seconds()
            found[row_id(second)] = (
                f"{showing.temperature(first.temperature_K)} was noted {say_duration(between_s)} before. A "
                "packed box does not change so fast: one of the two is wrong. Both are kept; the time left "
                "goes by the one nearer the soak's heat. Take the wrong one back."
            )
    return found


def contradict(first: HeatNote, second: HeatNote) -> bool:
    """Tell whether of two temperatures, one noted after the other, one must be wrong."""
    apart_K = abs(second.temperature_K - first.temperature_K)
    return apart_K >= APART_K and aware(second.noted_at) - aware(first.noted_at) <= CLOSE_IN_TIME


def other_unit(noted_K: float, soak_K: float, unit: str) -> str:
    """Return the number with the unit that was likely meant; blank where it fits the soak or neither does."""
    if abs(noted_K - soak_K) < FAR_FROM_SOAK_K:
        return ""
    typed = from_si(noted_K, unit, "temperature")
    other = "F" if unit == "C" else "C"
    meant_K = to_si(typed, other, "temperature")
    return f"{typed:.0f} {other}" if abs(meant_K - soak_K) <= NEAR_SOAK_K else ""
