"""The list of a shop's own lines: written down, put right, asked no more and asked again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import func
from sqlmodel import Session, col, select

from webapp.forms.kit import FieldProblem
from webapp.forms.own_lines import ABOUT, CHOICE, KINDS, OwnLineChangeForm, OwnLineForm, read_choices
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.own_lines import Bears, lines_about
from webapp.services.sheets import NotAccepted
from webapp.services.showing import plural
from webapp.services.words import label_of
from webapp.store.tables import Bar, Batch, Item, OwnLine, Part
from webapp.store.unit_of_work import UnitOfWork

HREF = "/shop/own-lines"
MOST_ASKED = 12
BEARERS: dict[str, tuple[type[Bears], str, str]] = {
    "batch": (Batch, "batch", "batches"),
    "piece": (Item, "piece", "pieces"),
    "part": (Part, "part", "parts"),
    "bar": (Bar, "bar", "bars"),
}


@dataclass(frozen=True)
class OwnLineView:
    """One line of the list: what is noted, how, and how often it was answered."""

    record_id: int
    version: int
    label: str
    kind: str
    said: str
    is_retired: bool
    href: str


@dataclass(frozen=True)
class OwnGroupView:
    """The lines about one kind of thing."""

    title: str
    lines: tuple[OwnLineView, ...]


def view_own_lines(session: Session) -> tuple[OwnGroupView, ...]:
    """Return the shop's own lines by what they are about, those that are asked first."""
    groups = []
    for choice in ABOUT:
        lines = sorted(lines_about(session, choice.value), key=lambda line: line.is_retired)
        if lines:
            groups.append(OwnGroupView(choice.label, tuple(_view(session, line) for line in lines)))
    return tuple(groups)


def _view(session: Session, line: OwnLine) -> OwnLineView:
    kind = label_of(KINDS, line.kind).lower()
    if line.unit:
        kind = f"{kind}, {line.unit}"
    if line.choices:
        kind = f"{kind}: {', '.join(line.choices)}"
    _, one, many = BEARERS[line.about]
    times = times_answered(session, line)
    said = f"noted of {plural(times, one, many)}" if times else "not noted yet"
    return OwnLineView(
        row_id(line), line.version, line.label, kind, said, line.is_retired, f"{HREF}/{line.id}"
    )


def times_answered(session: Session, line: OwnLine, answer: str | None = None) -> int:
    """Return how many records answer a line, or answer it so; those in the bin may come back, and count."""
    kind, _, _ = BEARERS[line.about]
    held = func.json_extract(col(kind.own_lines), f'$."{line.id}"')
    told = held.is_not(None) if answer is None else held == answer
    return session.exec(select(func.count()).select_from(kind).where(told)).one()


def add_own_line(work: UnitOfWork, form: OwnLineForm) -> str:
    """Write down a line; raises `NotAccepted` beside the field."""
    asked = _asked(work.session, form.about)
    _refuse_twin(form.label, asked)
    if len(asked) >= MOST_ASKED:
        raise NotAccepted({"about": f"{MOST_ASKED} lines are asked already. Retire one that is not needed."})
    choices = _choices(form.choices) if form.kind == CHOICE else []
    work.add(OwnLine(**form.model_dump(exclude={"choices"}), choices=choices))
    return HREF


def change_own_line(
    work: UnitOfWork, line_id: int, form: OwnLineChangeForm, version: int | None = None
) -> str:
    """Put a line right; an answer of its list that was given stays in the list."""
    line = work.get(OwnLine, line_id)
    _refuse_twin(form.label, (one for one in _asked(work.session, line.about) if one.id != line_id))
    choices = _choices(form.choices) if line.kind == CHOICE else []
    for gone in line.choices:
        if gone not in choices and (times := times_answered(work.session, line, gone)):
            _, one, many = BEARERS[line.about]
            words = f"“{gone}” is noted of {plural(times, one, many)}: keep it in the list."
            raise NotAccepted({"choices": words})
    work.change(line, version, label=form.label, choices=choices, is_copied=form.is_copied)
    return HREF


def retire_own_line(work: UnitOfWork, line_id: int, version: int | None) -> str:
    """Ask a line no more; what was noted stays."""
    work.change(work.get(OwnLine, line_id), version, is_retired=True)
    return HREF


def ask_again(work: UnitOfWork, line_id: int, version: int | None = None) -> str:
    """Ask a retired line again."""
    line = work.get(OwnLine, line_id)
    _refuse_twin(line.label, (one for one in _asked(work.session, line.about) if one.id != line_id))
    work.change(line, version, is_retired=False)
    return HREF


def own_line_for_edit(session: Session, line_id: int) -> OwnLine:
    """Return a line that is in the list."""
    return get_row(session, OwnLine, line_id)


def _asked(session: Session, about: str) -> list[OwnLine]:
    return [line for line in kept(session, OwnLine, OwnLine.about == about) if not line.is_retired]


def _refuse_twin(label: str, others: Iterable[OwnLine]) -> None:
    if any(label.casefold() == other.label.casefold() for other in others):
        raise NotAccepted({"label": "There is a line of this name. Give it another."})


def _choices(text: str) -> list[str]:
    try:
        return read_choices(text)
    except FieldProblem as problem:
        raise NotAccepted({problem.field_name: problem.message}) from None
