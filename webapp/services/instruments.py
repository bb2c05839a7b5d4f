"""Whatever tells heat or hardness, and the tempering oven: each with its honest give or take."""

from __future__ import annotations

from typing import Any

from sqlmodel import Session, col, select

from webapp.forms.instruments import HEAT_WAYS, TESTER_WAYS, HeatForm, OvenForm, TesterForm
from webapp.forms.numbers import amount
from webapp.services.heat_words import METHODS
from webapp.services.sheets import Line, SheetKind
from webapp.services.showing import Showing
from webapp.services.words import give_or_take, label_of
from webapp.store.tables import Instrument, InstrumentCheck

USUAL_OLD_FILE_HRC = 65.0


def usual_spread(method: str) -> float:
    """Return the give or take that is usual for a way of telling heat or hardness [K or HRC]."""
    return METHODS[method].spread


def heat_fields(form: HeatForm | OvenForm) -> dict[str, Any]:
    """Return the row's fields of a heat or oven form; a blank give or take is the usual one."""
    method = form.method if isinstance(form, HeatForm) else "oven"
    spread = usual_spread(method) if form.spread is None else form.spread
    return {"name": form.name, "method": method, "spread": spread, "note": form.note}


def heat_values(row: Instrument) -> dict[str, Any]:
    """Return an instrument's fields as its form takes them; a usual give or take stays blank."""
    spread = None if row.spread == usual_spread(row.method) else row.spread
    return {"name": row.name, "method": row.method, "spread": spread, "note": row.note}


def tester_fields(form: TesterForm) -> dict[str, Any]:
    """Return the row's fields of a tester form, with the hardness of its files."""
    spread = usual_spread(form.method) if form.spread is None else form.spread
    settings: dict[str, Any] = {}
    if form.method == "file_set":
        settings["files_HRC"] = list(form.file_values())
    elif form.method == "one_file":
        settings["files_HRC"] = list(form.file_values()) or [USUAL_OLD_FILE_HRC]
    return {
        "name": form.name,
        "method": form.method,
        "spread": spread,
        "settings": settings,
        "note": form.note,
    }


def tester_values(row: Instrument) -> dict[str, Any]:
    """Return a tester's fields as its form takes them."""
    return {**heat_values(row), "files_HRC": files_text(row)}


def files_text(row: Instrument) -> str:
    """Return the hardness of an instrument's files as 40 45 50."""
    return " ".join(amount(float(value), "", "number") for value in row.settings.get("files_HRC", []))


def heat_lines(row: Instrument, showing: Showing) -> tuple[Line, ...]:
    """Return what the card of a way of telling heat says."""
    return (
        Line("How", label_of(HEAT_WAYS, row.method)),
        Line("Give or take", give_or_take(showing, row.spread, is_hardness=False)),
        Line("Mind", METHODS[row.method].hint),
    )


def oven_lines(row: Instrument, showing: Showing) -> tuple[Line, ...]:
    """Return what an oven's card says."""
    return (
        Line("Give or take", give_or_take(showing, row.spread, is_hardness=False)),
        Line("Mind", METHODS[row.method].hint),
    )


def tester_lines(row: Instrument, showing: Showing) -> tuple[Line, ...]:
    """Return what a tester's card says."""
    lines = [
        Line("What", label_of(TESTER_WAYS, row.method)),
        Line("Give or take", give_or_take(showing, row.spread, is_hardness=True)),
    ]
    if files_text(row):
        lines.append(Line("Files", f"{files_text(row)} HRC"))
    return (*lines, Line("Mind", METHODS[row.method].hint))


def last_check_words(session: Session, instrument_id: int, showing: Showing) -> str:
    """Return when an instrument was last checked, as its card says it."""
    newest = session.exec(
        select(InstrumentCheck)
        .where(InstrumentCheck.instrument_id == instrument_id, col(InstrumentCheck.deleted_at).is_(None))
        .order_by(col(InstrumentCheck.checked_on).desc(), col(InstrumentCheck.id).desc())
        .limit(1)
    ).first()
    return f"last {showing.day(newest.checked_on)}" if newest else "none yet"


HEATS: SheetKind[Instrument, Any] = SheetKind(
    key="heats",
    title="How the heat is known",
    one="way of knowing the heat",
    teach="An eye is off by more than a thermocouple; the plan's give or take grows with it.",
    row=Instrument,
    form=HeatForm,
    fields_of=heat_fields,
    values_of=heat_values,
    lines_of=heat_lines,
    fixed={"role": "heat"},
    defaults={"method": "colour"},
    checked_words=last_check_words,
)
TESTERS = SheetKind(
    key="testers",
    title="How hardness is told",
    one="hardness tester",
    teach="One old file is enough to start with; a tester or a lab teaches more from each coupon.",
    row=Instrument,
    form=TesterForm,
    fields_of=tester_fields,
    values_of=tester_values,
    lines_of=tester_lines,
    fixed={"role": "hardness"},
    defaults={"method": "one_file"},
    checked_words=last_check_words,
)
OVENS: SheetKind[Instrument, Any] = SheetKind(
    key="ovens",
    title="Tempering oven",
    one="oven",
    teach=(
        "A temper 20 °C (35 °F) off moves the skin by about a point of hardness. Check where the work lies."
    ),
    row=Instrument,
    form=OvenForm,
    fields_of=heat_fields,
    values_of=heat_values,
    lines_of=oven_lines,
    fixed={"role": "oven"},
    checked_words=last_check_words,
)
