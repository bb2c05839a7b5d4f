"""From the forms of readings to what the logbook keeps, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from webapp.forms.readings import (
    READING_FORMS,
    BendForm,
    DepthForm,
    FilesForm,
    FirstReadingForm,
    HardnessForm,
    OneFileForm,
    ReadingForm,
    SeenForm,
    SizeForm,
    SparkForm,
    TraverseForm,
)
from webapp.services.batch_rows import get_row
from webapp.services.readings import ReadingEntry, parse_points
from webapp.store.tables import Reading

SIZES = ("size_m", "bow_m", "off_a_m", "off_b_m")


def first_entries(form: FirstReadingForm, typed: Mapping[str, str]) -> list[ReadingEntry]:
    """Return the readings of a coupon's first view: a hardness, what a file did, a depth."""
    entries = []
    if form.hardness is not None:
        own = {"value": form.hardness, "unit": form.unit, "instrument_id": form.instrument_id}
        entries.append(_entry("hardness", form, _typed(typed, "hardness"), own))
    if form.file_result:
        own = {"details": {"result": form.file_result}, "instrument_id": form.file_id}
        entries.append(_entry("one_file", form, {}, own))
    if form.depth_m is not None:
        own = {"value": form.depth_m, "unit": "m", "details": {"how": "break"}}
        entries.append(_entry("depth", form, _typed(typed, "depth_m"), own))
    return entries


def _typed(typed: Mapping[str, str], name: str) -> dict[str, str]:
    """Return the text of one number under the name that the row gives it."""
    return {"value": typed[name]} if name in typed else {}


def reading_entry(kind: str, form: ReadingForm, typed: Mapping[str, str], length_unit: str) -> ReadingEntry:
    """Return what the form of one kind of reading tells."""
    return _entry(kind, form, dict(typed), _own_fields(form, length_unit))


def _entry(kind: str, form: ReadingForm, typed: dict[str, Any], own: dict[str, Any]) -> ReadingEntry:
    return ReadingEntry(
        kind=kind,
        after=form.after,
        place=form.place,
        surface=form.surface,
        removed_m=form.removed_m or 0.0,
        at=form.at,
        insisted=form.insisted,
        note=form.note,
        typed=typed,
        **own,
    )


def _own_fields(form: ReadingForm, length_unit: str) -> dict[str, Any]:
    """Return the fields that only this kind of reading has."""
    match form:
        case HardnessForm():
            return {"value": form.value, "unit": form.unit, "instrument_id": form.instrument_id}
        case FilesForm():
            return {"low": form.low, "high": form.high, "unit": "HRC", "instrument_id": form.instrument_id}
        case OneFileForm():
            return {"details": {"result": form.result}, "instrument_id": form.instrument_id}
        case DepthForm():
            return {"value": form.value, "unit": "m", "details": {"how": form.how}}
        case TraverseForm():
            points = parse_points(form.points, length_unit)
            return {
                "details": {"points": points, "as_typed": form.points},
                "instrument_id": form.instrument_id,
            }
        case SparkForm():
            return {"details": {"high_carbon": form.high_carbon}}
        case SeenForm():
            return {"details": {"seen": form.seen}}
        case BendForm():
            return {"details": {"result": form.result, "angle_deg": form.angle_deg}}
        case SizeForm():
            return {"details": {"when": form.when, **{name: getattr(form, name) for name in SIZES}}}
        case _:
            raise TypeError(f"no reading is made of {type(form).__name__}")


@dataclass(frozen=True)
class ReadingForEdit:
    """A reading as the form that puts it right takes it."""

    kind: str
    values: dict[str, Any]
    typed: dict[str, str]
    version: int
    item_href: str


def reading_for_edit(session: Session, reading_id: int) -> ReadingForEdit:
    """Return a reading's fields as the form of its kind takes them."""
    row = get_row(session, Reading, reading_id)
    own = ("value", "unit", "low", "high", "instrument_id", "after", "place", "surface", "note")
    values = {
        **row.details,
        **{name: getattr(row, name) for name in own},
        "points": row.details.get("as_typed"),
        "removed_m": row.removed_m or None,
        "at": row.measured_at,
    }
    form = READING_FORMS[row.kind]
    asked = {name: value for name, value in values.items() if name in form.model_fields}
    return ReadingForEdit(row.kind, asked, row.typed, row.version, f"/items/{row.item_id}")
