"""The dated checks of an instrument: what it read against something known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from webapp.forms.ask import Choice
from webapp.forms.instruments import HARDNESS_CHECKS, HEAT_CHECKS, HardnessCheckForm, HeatCheckForm
from webapp.forms.kit import Form
from webapp.forms.numbers import amount
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.instruments import HEATS, OVENS, TESTERS
from webapp.services.sheets import Removal, SheetKind, get_from_sheet
from webapp.services.showing import Showing
from webapp.services.words import label_of
from webapp.store.tables import Instrument, InstrumentCheck
from webapp.store.unit_of_work import UnitOfWork

CHECKED_KINDS: dict[str, SheetKind[Instrument, Any]] = {kind.key: kind for kind in (HEATS, TESTERS, OVENS)}
KNOWN_FOR: dict[str, tuple[Choice, ...]] = {
    HEATS.key: HEAT_CHECKS,
    OVENS.key: tuple(choice for choice in HEAT_CHECKS if choice.value != "magnet point"),
    TESTERS.key: HARDNESS_CHECKS,
}


@dataclass(frozen=True)
class CheckView:
    """One check as a line of the list."""

    record_id: int
    day: str
    against: str
    known: str
    reading: str
    off_by: str
    note: str
    version: int
    remove_href: str


@dataclass(frozen=True)
class ChecksView:
    """An instrument with its checks, newest first."""

    instrument: str
    give_or_take: str
    action: str
    back_href: str
    checks: tuple[CheckView, ...]


def check_form_of(kind_key: str) -> type[Form]:
    """Return the form of a check of this kind of instrument."""
    return HardnessCheckForm if kind_key == TESTERS.key else HeatCheckForm


def view_checks(session: Session, kind_key: str, record_id: int, showing: Showing) -> ChecksView:
    """Return an instrument with its checks."""
    kind = CHECKED_KINDS[kind_key]
    row = get_from_sheet(session, kind, record_id)
    rows = kept(session, InstrumentCheck, InstrumentCheck.instrument_id == record_id)
    rows.sort(key=lambda check: (check.checked_on, check.id or 0), reverse=True)
    href = f"{kind.href(record_id)}/checks"
    return ChecksView(
        row.name,
        next(line.text for line in kind.lines_of(row, showing) if line.label == "Give or take"),
        href,
        kind.list_href,
        tuple(_check_view(check, kind_key, showing, href) for check in rows),
    )


def add_check(
    work: UnitOfWork,
    kind_key: str,
    record_id: int,
    form: Form,
    typed: Mapping[str, str],
) -> str:
    """Save a check of an instrument; return where its list is."""
    kind = CHECKED_KINDS[kind_key]
    get_from_sheet(work.session, kind, record_id)
    work.add(
        InstrumentCheck(
            instrument_id=record_id,
            **form.model_dump(),
            typed=dict(typed),
            created_at=work.now,
            updated_at=work.now,
        )
    )
    location = f"{kind.href(record_id)}/checks"
    work.answered_at(location)
    return location


def remove_check(
    work: UnitOfWork, kind_key: str, record_id: int, check_id: int, version: int | None
) -> Removal:
    """Put a check in the bin."""
    work.remove(_check_of(work.session, kind_key, record_id, check_id), version=version)
    href = f"{CHECKED_KINDS[kind_key].href(record_id)}/checks"
    work.answered_at(href)
    return Removal("The check was removed.", href, f"{href}/{check_id}/put-back")


def put_back_check(work: UnitOfWork, kind_key: str, record_id: int, check_id: int) -> str:
    """Take a check out of the bin again."""
    row = work.session.get(InstrumentCheck, check_id)
    if row is None or row.instrument_id != record_id:
        get_row(work.session, InstrumentCheck, -check_id)
    elif row.deleted_at is not None:
        work.put_back(row)
    location = f"{CHECKED_KINDS[kind_key].href(record_id)}/checks"
    work.answered_at(location)
    return location


def _check_of(session: Session, kind_key: str, record_id: int, check_id: int) -> InstrumentCheck:
    get_from_sheet(session, CHECKED_KINDS[kind_key], record_id)
    row = get_row(session, InstrumentCheck, check_id)
    return row if row.instrument_id == record_id else get_row(session, InstrumentCheck, -check_id)


def _check_view(check: InstrumentCheck, kind_key: str, showing: Showing, href: str) -> CheckView:
    hardness = kind_key == TESTERS.key
    check_id = row_id(check)
    return CheckView(
        check_id,
        showing.day(check.checked_on),
        label_of(KNOWN_FOR[kind_key], check.against),
        _value(check.known, hardness, showing),
        _value(check.reading, hardness, showing),
        off_by(check.reading - check.known, hardness, showing),
        check.note,
        check.version,
        f"{href}/{check_id}/remove",
    )


def off_by(difference: float, hardness: bool, showing: Showing) -> str:
    """Return how far an instrument was off, in words."""
    unit = "HRC" if hardness else f"°{showing.temperature_unit}"
    size = (
        amount(abs(difference), "", "number")
        if hardness
        else amount(abs(difference), showing.temperature_unit, "temperature difference")
    )
    if float(size) == 0:
        return "spot on"
    return f"{size} {unit} too {'high' if difference > 0 else 'low'}"


def _value(value: float, hardness: bool, showing: Showing) -> str:
    return f"{amount(value, '', 'number')} HRC" if hardness else showing.temperature(value)
