"""How far each reading lies from what the other fires foretell of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from model.learnt import NORMAL_90
from model.units import from_si
from webapp.services.forge_charts import FitRows
from webapp.services.reading_words import say_reading
from webapp.services.showing import Showing
from webapp.services.whole_book import grouped
from webapp.store.tables import Reading

LEAST_SCORE = 1.0e-6


@dataclass(frozen=True)
class Miss:
    """One reading beside what the other fires foretell of it, in the unit that is shown.

    limit : how far off nine readings in ten lie, by its own scatter and the doubt of what is foretold; None
        where the fit does not tell
    """

    reading_id: int
    kind: str
    words: str
    href: str
    day: date
    mix: str
    box: str
    read: str
    measured: float
    foretold: float
    unit: str
    digits: int
    is_odd: bool
    limit: float | None = None

    @property
    def by(self) -> float:
        """How far it was read above what was foretold."""
        return self.measured - self.foretold

    @property
    def said(self) -> str:
        """The miss in words."""
        return f"{self.by:+.{self.digits}f} {self.unit}".replace("-", "−")

    @property
    def is_outside(self) -> bool:
        """True where nine readings in ten lie nearer to what was foretold."""
        return self.limit is not None and abs(self.by) > self.limit


def misses_of(
    predictions: Sequence[Mapping[str, Any]],
    rows: FitRows,
    names: Mapping[str, Mapping[int, str]],
    odd: Mapping[int, str],
    showing: Showing,
) -> tuple[Miss, ...]:
    """Return every depth by eye and every Rockwell C reading that has one value, oldest first."""
    found = []
    for key, own in grouped(predictions, lambda row: str(row["key"])).items():
        reading, row = rows.readings.get(int(key)), own[0]
        is_value = len(own) == 1 and row["measured_low"] is not None
        if reading is None or not is_value or row["measured_low"] != row["measured_high"]:
            continue
        if _kind(reading) and row.get("foretold") is not None:
            found.append(_miss(row, reading, rows, names, odd, showing))
    return tuple(sorted(found, key=lambda one: one.day))


def _kind(reading: Reading) -> str:
    if reading.kind == "depth":
        return "depth"
    return "hardness" if reading.kind == "hardness" and reading.unit == "HRC" else ""


def _miss(
    row: Mapping[str, Any],
    reading: Reading,
    rows: FitRows,
    names: Mapping[str, Mapping[int, str]],
    odd: Mapping[int, str],
    showing: Showing,
) -> Miss:
    item = rows.items[reading.item_id]
    batch = rows.batches[item.batch_id]
    kind = _kind(reading)
    is_depth = kind == "depth"
    unit = showing.length_unit if is_depth else "HRC"

    def shown(value: float) -> float:
        return float(from_si(value, unit, "length")) if is_depth else value

    return Miss(
        reading_id=reading.id or 0,
        kind=kind,
        words=f"{batch.number} {item.mark} {item.name}".replace("  ", " "),
        href=f"/items/{item.id}",
        day=batch.day,
        mix=names["mix"].get(batch.mix_id, ""),
        box=names["box"].get(batch.box_id, ""),
        read=say_reading(reading, showing),
        measured=shown(row["measured_low"]),
        foretold=shown(row["foretold"]),
        unit=unit,
        digits=(3 if unit == "in" else 2) if is_depth else 1,
        is_odd=batch.fire_id in odd,
        limit=_limit(row, shown),
    )


def _limit(row: Mapping[str, Any], shown: Callable[[float], float]) -> float | None:
    """Return nine in ten of the sds that the score counts in: a reading that hits to the dot tells none."""
    if abs(row.get("score") or 0.0) < LEAST_SCORE:
        return None
    return NORMAL_90 * abs(shown((row["measured_low"] - row["foretold"]) / row["score"]))
