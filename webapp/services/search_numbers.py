"""Numbers with their unit that a search asks for, as 62 HRC or 1/2 in: which batches hold one so written.

A number stands for all that would be written so: 62 HRC for 61.5 to 62.5, 0.50 mm for 0.495 to 0.505.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from sqlalchemy import bindparam, text
from sqlmodel import Session

from model.errors import NumberProblem
from model.units import Kind, from_si, parse_number, to_si
from webapp.services.reading_words import KIND_WORDS
from webapp.services.step_rules import ACTION_WORDS

_UNITS: Final[Mapping[str, tuple[str, Kind]]] = {
    "c": ("C", "temperature"), "f": ("F", "temperature"), "mm": ("mm", "length"), "in": ("in", "length"),
    '"': ("in", "length"), "thou": ("thou", "length"), "h": ("h", "duration"), "min": ("min", "duration"),
    "hrc": ("HRC", "number"), "hra": ("HRA", "number"), "hv": ("HV", "number"), "hr15n": ("HR15N", "number"),
}  # fmt: skip
_ASKED = re.compile(
    r"(?<![\w.,/-])(\d+[ -]\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?)"
    r"\s?°?(hr15n|hrc|hra|hv|thou|mm|min|in|c|f|h|\")(?!\w)",
    re.IGNORECASE,
)
FINEST_FRACTION: Final = 1.0 / 128.0
SLACK: Final = 1e-6  # of a number that lies just on the edge

_STEPS = (
    "SELECT step.batch_id AS batch_id, NULL AS item_id, step.kind AS what, {value} AS value FROM step "
    "WHERE step.deleted_at IS NULL AND step.batch_id IS NOT NULL UNION ALL "
    "SELECT item.batch_id, item.id, step.kind, {value} FROM step JOIN item ON item.id = step.item_id "
    "WHERE step.deleted_at IS NULL AND item.deleted_at IS NULL"
)
_HELD: Final[Mapping[Kind, str]] = {
    "temperature": _STEPS.format(value="step.temperature_K") + " UNION ALL "
    "SELECT batch.id, NULL, 'heat', heatnote.temperature_K FROM heatnote "
    "JOIN batch ON batch.fire_id = heatnote.fire_id WHERE heatnote.deleted_at IS NULL",
    "duration": _STEPS.format(value="step.seconds"),
    "length": "SELECT batch_id, id AS item_id, 'size' AS what, size_m AS value FROM item "
    "WHERE deleted_at IS NULL UNION ALL SELECT batch_id, id, 'bore', bore_m FROM item "
    "WHERE deleted_at IS NULL UNION ALL SELECT item.batch_id, item.id, reading.kind, reading.value "
    "FROM reading JOIN item ON item.id = reading.item_id WHERE reading.deleted_at IS NULL "
    "AND item.deleted_at IS NULL AND reading.kind = 'depth'",
    "number": "SELECT item.batch_id AS batch_id, item.id AS item_id, reading.kind AS what, "
    "reading.value AS value FROM reading JOIN item ON item.id = reading.item_id "
    "WHERE reading.deleted_at IS NULL AND item.deleted_at IS NULL AND reading.kind = 'hardness' "
    "AND reading.unit = :unit",
}
_WORDS: Final[Mapping[str, str]] = {
    **KIND_WORDS, **ACTION_WORDS, "heat": "Heat noted", "size": "Size", "bore": "Bore",
}  # fmt: skip


@dataclass(frozen=True)
class AskedNumber:
    """A number with its unit as it was typed, and the SI values that would be written so."""

    said: str
    kind: Kind
    unit: str
    low: float
    high: float


@dataclass(frozen=True)
class HeldNumber:
    """A number that a batch holds: of which piece, if of one, what it is and how it is said."""

    batch_id: int
    item_id: int | None
    what: str
    said: str


def find_numbers(typed: str) -> tuple[AskedNumber, ...]:
    """Return the numbers with a unit in what was typed."""
    return tuple(asked for found in _ASKED.finditer(typed) if (asked := _asked(found)) is not None)


def _asked(found: re.Match[str]) -> AskedNumber | None:
    number, unit_typed = found.groups()
    unit, kind = _UNITS[unit_typed.lower()]
    try:
        value = parse_number(number)
    except NumberProblem:
        return None
    decimals = len(number.replace(",", ".").partition(".")[2])
    half = FINEST_FRACTION if "/" in number else 0.5 * 10.0**-decimals
    ends = (value - half - SLACK, value + half + SLACK)
    low, high = (end if kind == "number" else to_si(end, unit, kind) for end in ends)
    return AskedNumber(found.group(0), kind, unit, low, high)


def batches_holding(session: Session, asked: AskedNumber) -> set[int]:
    """Return the ids of the batches that hold a number; those in the bin are among them."""
    return {held.batch_id for held in _held(session, asked, None)}


def numbers_in(
    session: Session, asked: Iterable[AskedNumber], batch_ids: Collection[int]
) -> tuple[HeldNumber, ...]:
    """Return where in some batches the numbers stand."""
    return tuple(held for one in asked for held in _held(session, one, batch_ids))


def _held(session: Session, asked: AskedNumber, batch_ids: Collection[int] | None) -> list[HeldNumber]:
    within = "" if batch_ids is None else "AND batch_id IN (SELECT value FROM json_each(:batches))"
    query = text(f"SELECT DISTINCT * FROM ({_HELD[asked.kind]}) WHERE value BETWEEN :low AND :high {within}")
    told: dict[str, object] = {"low": asked.low, "high": asked.high}
    if asked.kind == "number":
        told["unit"] = asked.unit
    if batch_ids is not None:
        told["batches"] = json.dumps(list(batch_ids))
    rows = session.execute(query.bindparams(*(bindparam(name) for name in told)), told)
    return [
        HeldNumber(batch_id, item_id, _WORDS.get(what, what.replace("_", " ")), _say(value, asked))
        for batch_id, item_id, what, value in rows
    ]


def _say(value: float, asked: AskedNumber) -> str:
    shown = value if asked.kind == "number" else from_si(value, asked.unit, asked.kind)
    degree = "°" if asked.kind == "temperature" else ""
    return f"{round(shown, 3):g} {degree}{asked.unit}"
