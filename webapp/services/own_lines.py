"""Lines of a shop's own: which there are, what a record says to them, how forms ask for them.

What was noted lies with the record by the line's id, so a renamed line keeps its answers and a retired one
is only asked no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

from sqlmodel import Session

from webapp.forms.kit import OWN, Form
from webapp.forms.numbers import amount
from webapp.forms.own_lines import NUMBER, OwnQuestion, with_own_lines
from webapp.services.batch_rows import kept, row_id
from webapp.store.tables import Bar, Batch, Item, OwnLine, Part

F = TypeVar("F", bound=Form)
Bears = Bar | Batch | Item | Part


def lines_about(session: Session, about: str) -> list[OwnLine]:
    """Return the lines about something, retired ones among them, oldest first."""
    return kept(session, OwnLine, OwnLine.about == about)


def asking_own(session: Session, form: type[F], about: str) -> type[F]:
    """Return a form that asks the shop's own lines too."""
    return with_own_lines(form, questions_about(session, about))


def questions_about(session: Session, about: str) -> tuple[OwnQuestion, ...]:
    """Return the lines about something that are asked, as a form asks for them."""
    return tuple(_question(line) for line in lines_about(session, about) if not line.is_retired)


def _question(line: OwnLine) -> OwnQuestion:
    return OwnQuestion(row_id(line), line.label, line.kind, line.unit, tuple(line.choices))


def merged(before: Mapping[str, Any], answers: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a record says after a form: what was not asked stays as it was."""
    together = {**before, **answers}
    return {key: value for key, value in together.items() if value is not None}


def typed_with_own(row: Bears, typed: Mapping[str, str]) -> dict[str, str]:
    """Return what a form typed, and what was typed before to lines that it did not ask."""
    said = {f"{OWN}{key}" for key in row.own_lines}
    return {**{name: text for name, text in row.typed.items() if name in said}, **typed}


def say_own(lines: Iterable[OwnLine], about: str, row: Bears) -> tuple[tuple[str, str], ...]:
    """Return what a record says to the shop's own lines, each as its label and its words."""
    held = ((line, row.own_lines.get(str(line.id))) for line in lines if line.about == about)
    return tuple((line.label, _words(line, value, row)) for line, value in held if value is not None)


def own_lines_open(lines: Iterable[OwnLine], about: str, row: Bears) -> tuple[str, ...]:
    """Return the lines that a record is asked and does not answer yet, each with its unit."""
    asked = (line for line in lines if line.about == about and not line.is_retired)
    return tuple(
        f"{line.label} ({line.unit})" if line.unit else line.label
        for line in asked
        if str(line.id) not in row.own_lines
    )


def _words(line: OwnLine, value: Any, row: Bears) -> str:
    if line.kind != NUMBER:
        return str(value)
    typed = row.typed.get(f"{OWN}{line.id}", "")
    number = typed.removesuffix(line.unit).strip() or amount(float(value), "", "number")
    return f"{number} {line.unit}".strip()


def copied(session: Session, about: str, row: Bears) -> dict[str, Any]:
    """Return what of a record's own lines comes along when it is done again."""
    along = {str(line.id) for line in lines_about(session, about) if line.is_copied}
    return {key: value for key, value in row.own_lines.items() if key in along}


def own_headings(lines: Sequence[OwnLine]) -> tuple[str, ...]:
    """Return the headings of the shop's own lines in a table; no other column is called so."""
    return tuple(
        f"own line: {line.label} ({line.unit})" if line.unit else f"own line: {line.label}" for line in lines
    )


def own_cells(lines: Sequence[OwnLine], row: Bears) -> tuple[Any, ...]:
    """Return a record's cells below `own_headings`."""
    return tuple(row.own_lines.get(str(line.id), "") for line in lines)
