"""Bars in the rack: a standard grade, or a mystery bar with what its screening told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

from sqlmodel import Session

from model.errors import NotPossible
from model.steels import BrokenSlip, QuenchedScrap, Sparks, screened_carbon, steel_grades, steel_of_grade
from webapp.forms.ask import Choice
from webapp.forms.bars import MYSTERY_GRADE, TESTS, BarForm
from webapp.services.batch_rows import row_id
from webapp.services.sheets import Line, NotAccepted, SheetKind, rows_of
from webapp.services.showing import Showing
from webapp.services.words import label_of
from webapp.store.tables import Bar

# Above about this much carbon a bar hardens by itself. Common practice, no source.
NEEDS_NO_CASE_WT = 0.35
FREE_CUTTING_DESCRIPTIONS = ("free-cutting", "leaded")
NO_CASE = (
    "This bar hardens through by itself: it needs no case. Heat and quench a test piece first; in the pack "
    "it would only become brittle."
)
MAY_NOT_NEED = (
    "Part of its range hardens by itself. Quench a scrap and try a file before you spend a day on it."
)
NOT_MAGNETIC = (
    "A magnet hardly pulls it, so it is no plain steel: most likely stainless. Charcoal does not case "
    "harden that."
)
FREE_CUTTING = (
    "Free-cutting steel takes an uneven case and cracks more easily; leaded bar fumes when it is hot."
)


ZINC = (
    "Zinc makes a poisonous fume when it is hot: take it off before this bar sees fire or grinder, by a way "
    "that you know to be safe, or use another bar."
)
TEST_WORDS = {
    "coating": "Its skin",
    "magnet": "Magnet",
    "file_as_bought": "A file, as it came",
    "sparks": "Sparks",
    "quenched_scrap": "Quenched scrap",
    "broken_slip": "Quenched slip, bent",
}


@dataclass(frozen=True)
class Screening:
    """What is known of a bar's carbon [wt%], and why."""

    low_wt: float
    high_wt: float
    reason: str


def grade_choices() -> dict[str, tuple[Choice, ...]]:
    """Return the grades of the model's table, and the mystery bar first among them."""
    mystery = Choice(MYSTERY_GRADE, "Mystery bar", "not sure what it is")
    known = (Choice(row.grade, row.grade, f"{row.description}, {row.standard}") for row in steel_grades())
    return {"grade": (mystery, *known)}


def screen(form: BarForm) -> Screening:
    """Return the carbon that a bar's grade, certificate or tests leave; raises `NotAccepted`."""
    if form.grade == MYSTERY_GRADE:
        low, high, reason = screened_carbon(
            cast(QuenchedScrap | None, form.quenched_scrap),
            cast(Sparks | None, form.sparks),
            cast(BrokenSlip | None, form.broken_slip),
            "file skates" if form.file_as_bought == "file skates" else None,
        )
        found = Screening(low, high, reason)
    else:
        found = _of_grade(form.grade)
    if form.carbon_low_wt is None or form.carbon_high_wt is None:
        return found
    return Screening(form.carbon_low_wt, form.carbon_high_wt, "as typed, from its certificate or a test")


def _of_grade(grade: str) -> Screening:
    try:
        steel = steel_of_grade(grade)
    except NotPossible as problem:
        raise NotAccepted({"grade": f"{problem.what}. {problem.advice}"}) from None
    standard = next((row.standard for row in steel_grades() if row.grade == steel.name), "")
    return Screening(steel.carbon_low_wt, steel.carbon_high_wt, f"the range of {steel.name} in {standard}")


def bar_fields(form: BarForm) -> dict[str, Any]:
    """Return the row's fields of a bar form."""
    found = screen(form)
    is_mystery = form.grade == MYSTERY_GRADE
    tests = {test: getattr(form, test) for test in TESTS}
    tried = {test: answer for test, answer in tests.items() if answer} if is_mystery else {}
    return {
        "name": form.name,
        "grade": None if is_mystery else form.grade,
        "carbon_low_wt": found.low_wt,
        "carbon_high_wt": found.high_wt,
        "screening": {**tried, "reason": found.reason, "is_typed": form.carbon_low_wt is not None},
        "note": form.note,
    }


def bar_values(bar: Bar) -> dict[str, Any]:
    """Return a bar's fields as its form takes them."""
    tests = {test: bar.screening.get(test) for test in TESTS}
    is_typed = bool(bar.screening.get("is_typed"))
    return {
        "name": bar.name,
        "grade": bar.grade or MYSTERY_GRADE,
        "carbon_low_wt": bar.carbon_low_wt if is_typed else None,
        "carbon_high_wt": bar.carbon_high_wt if is_typed else None,
        "note": bar.note,
        **tests,
    }


def bar_lines(bar: Bar, _showing: Showing) -> tuple[Line, ...]:
    """Return what a bar's card says."""
    lines = [
        Line("Steel", bar.grade or "mystery bar"),
        Line("Carbon", carbon_text(bar)),
        Line("Because", str(bar.screening.get("reason") or "it was written down so")),
    ]
    for test, choices in TESTS.items():
        if bar.screening.get(test):
            lines.append(Line(TEST_WORDS[test], label_of(choices, bar.screening[test])))
    return tuple(lines)


def carbon_text(bar: Bar) -> str:
    """Return a bar's carbon as 0.15 to 0.2 %."""
    low, high = (f"{end:.2f}" for end in (bar.carbon_low_wt, bar.carbon_high_wt))
    return f"{low} %" if low == high else f"{low} to {high} %"


def bar_warnings(bar: Bar) -> tuple[str, ...]:
    """Return what a bar's card warns of."""
    found = []
    if bar.screening.get("coating") == "zinc":
        found.append(ZINC)
    if bar.screening.get("magnet") in ("weak", "none"):
        found.append(NOT_MAGNETIC)
    if bar.carbon_low_wt >= NEEDS_NO_CASE_WT:
        found.append(NO_CASE)
    elif bar.carbon_high_wt > NEEDS_NO_CASE_WT:
        found.append(MAY_NOT_NEED)
    descriptions = {row.grade: row.description for row in steel_grades()}
    if descriptions.get(bar.grade or "") in FREE_CUTTING_DESCRIPTIONS:
        found.append(FREE_CUTTING)
    return tuple(found)


def bar_choices(session: Session) -> tuple[Choice, ...]:
    """Return the bars of the rack, to pick from."""
    return tuple(
        Choice(str(row_id(bar)), bar.name, f"{bar.grade or 'mystery'}, {carbon_text(bar)} carbon")
        for bar in rows_of(session, BARS)
    )


def bar_leads_to(bar: Bar) -> str:
    """Return where a new bar leads: to the first quick test of one that nobody knows, else to the rack."""
    untried = next((test for test in TESTS if not bar.screening.get(test)), "")
    return f"/bars/{bar.id}/tests/{untried}" if bar.grade is None and untried else "/bars"


BARS = SheetKind(
    key="bars",
    title="Steel in the rack",
    one="bar",
    teach=(
        "A bar with less than 0.25 % carbon takes a case well and keeps a tough core. If you do not know "
        "what it is, a scrap, a file and the grinder tell enough."
    ),
    row=Bar,
    form=BarForm,
    fields_of=bar_fields,
    values_of=bar_values,
    lines_of=bar_lines,
    base="/bars",
    more="Test a mystery bar, and more",
    choices_of=lambda _session: grade_choices(),
    warnings_of=bar_warnings,
    leads_to=bar_leads_to,
    about="bar",
)
