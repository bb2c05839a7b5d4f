"""One way to keep any list of the shop: what a sheet says of itself; add, change, remove, put back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar
from zoneinfo import ZoneInfo

from sqlmodel import Session

from webapp.forms.ask import Choice
from webapp.forms.kit import Form
from webapp.forms.own_lines import own_answers, own_values
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.heats_seen import COLUMN_OF, seen_words
from webapp.services.own_lines import (
    Bears,
    asking_own,
    lines_about,
    merged,
    say_own,
    typed_with_own,
)
from webapp.services.shop_cautions import Caution
from webapp.services.shop_view import ShopView
from webapp.services.showing import Showing
from webapp.store.tables import OwnLine, Record
from webapp.store.unit_of_work import UnitOfWork

R = TypeVar("R", bound=Record)
F = TypeVar("F", bound=Form)
ASSUMED = "assumed: change it to yours"


class NotAccepted(ValueError):
    """A form that reads well and still cannot be kept: messages by field, or a stop for the whole page."""

    def __init__(self, errors: Mapping[str, str], stop: str = "") -> None:
        """Keep the messages; the field "" is the form as a whole."""
        self.errors, self.stop = dict(errors), stop
        super().__init__(stop or "; ".join(self.errors.values()))


@dataclass(frozen=True)
class Line:
    """One line of a card: what it is, and its value as text."""

    label: str
    text: str


@dataclass(frozen=True)
class CardView:
    """A record as its card on a page shows it."""

    record_id: int
    name: str
    lines: tuple[Line, ...]
    note: str
    version: int
    href: str
    is_assumed: bool = False
    warnings: tuple[str, ...] = ()
    checks_href: str = ""
    checks_words: str = ""
    changes_href: str = ""


@dataclass(frozen=True)
class Removal:
    """What was put in the bin, where to go on, and where to send the wish to have it back."""

    words: str
    location: str
    undo_action: str


@dataclass(frozen=True)
class SheetKind(Generic[R, F]):
    """One list of the shop: its words, its rows, its form, and how one becomes the other."""

    key: str
    title: str
    one: str
    teach: str
    row: type[R]
    form: type[F]
    fields_of: Callable[[F], dict[str, Any]]
    values_of: Callable[[R], dict[str, Any]]
    lines_of: Callable[[R, Showing], tuple[Line, ...]]
    base: str = "/shop"
    more: str = "More"
    defaults: Mapping[str, Any] = field(default_factory=dict)
    choices_of: Callable[[Session], Mapping[str, Sequence[Choice]]] = lambda _session: {}
    warnings_of: Callable[[R], tuple[str, ...]] = lambda _row: ()
    fixed: Mapping[str, Any] = field(default_factory=dict)
    cautions: tuple[Caution, ...] = ()
    checked_words: Callable[[Session, int, Showing], str] | None = None
    leads_to: Callable[[R], str] | None = None
    """Where a new record leads, if not to its list."""
    about: str = ""
    """What the shop's own lines may be about, for a list whose records bear them."""
    before_change: Callable[[UnitOfWork, R, Mapping[str, Any]], None] | None = None
    """What must be kept of the past before a record becomes another."""

    @property
    def list_href(self) -> str:
        """Return where the list stands: its sheet on the shop page, or a page of its own."""
        return f"{self.base}#{self.key}" if self.base == "/shop" else self.base

    def after_adding(self, row: R) -> str:
        """Return where to go on once a record was added."""
        return self.leads_to(row) if self.leads_to else self.list_href

    @property
    def records_href(self) -> str:
        """Return the address under which its records lie."""
        return f"{self.base}/{self.key}" if self.base == "/shop" else self.base

    def href(self, record_id: int) -> str:
        """Return where one record is edited."""
        return f"{self.records_href}/{record_id}"


@dataclass(frozen=True)
class SheetView:
    """One list with its cards, as a page shows it."""

    key: str
    title: str
    one: str
    teach: str
    new_href: str
    cards: tuple[CardView, ...]
    cautions: tuple[Caution, ...]


def showing_of(shop: ShopView) -> Showing:
    """Return how this shop sees numbers and times."""
    return Showing(shop.temperature_unit, shop.length_unit, ZoneInfo(shop.zone))


def rows_of(session: Session, kind: SheetKind[R, F]) -> list[R]:
    """Return the records of a list that are not in the bin, oldest first."""
    return [row for row in kept(session, kind.row) if _belongs(row, kind)]


def get_from_sheet(session: Session, kind: SheetKind[R, F], record_id: int) -> R:
    """Return one record of a list, or raise `NotFound`; a record of a sister list is not found either."""
    row = get_row(session, kind.row, record_id)
    if not _belongs(row, kind):
        return get_row(session, kind.row, -record_id)
    return row


def view_sheet(session: Session, kind: SheetKind[R, F], showing: Showing) -> SheetView:
    """Return a list as its page shows it."""
    seen = seen_words(session, kind.key, showing) if kind.key in COLUMN_OF else {}
    own = own_lines_of(session, kind)
    return SheetView(
        kind.key,
        kind.title,
        kind.one,
        kind.teach,
        f"{kind.records_href}/new",
        tuple(
            card_of(session, row, kind, showing, own, seen.get(row_id(row), ""))
            for row in rows_of(session, kind)
        ),
        kind.cautions,
    )


def own_lines_of(session: Session, kind: SheetKind[R, F]) -> list[OwnLine]:
    """Return the shop's own lines about the records of a list."""
    return lines_about(session, kind.about) if kind.about else []


def card_of(
    session: Session,
    row: R,
    kind: SheetKind[R, F],
    showing: Showing,
    own: Sequence[OwnLine],
    seen: str = "",
) -> CardView:
    """Return one record as its card shows it; `own` as `own_lines_of`, `seen` how many heats it has seen."""
    record_id = row_id(row)
    return CardView(
        record_id,
        str(row.name),  # type: ignore[attr-defined]
        (
            *kind.lines_of(row, showing),
            *([Line("Has seen", seen)] if seen else []),
            *_own_said(own, row, kind),
        ),
        without_assumed(row.note),
        row.version,
        kind.href(record_id),
        is_assumed=row.note.startswith(ASSUMED),
        warnings=kind.warnings_of(row),
        checks_href=f"{kind.href(record_id)}/checks" if kind.checked_words else "",
        checks_words=kind.checked_words(session, record_id, showing) if kind.checked_words else "",
        changes_href=f"{kind.href(record_id)}/changes" if kind.key in COLUMN_OF else "",
    )


def _own_said(own: Sequence[OwnLine], row: Record, kind: SheetKind[Any, Any]) -> tuple[Line, ...]:
    if not isinstance(row, Bears):
        return ()
    return tuple(Line(*said) for said in say_own(own, kind.about, row))


def form_class(session: Session, kind: SheetKind[R, F]) -> type[F]:
    """Return a list's form, the shop's own lines at its end."""
    return asking_own(session, kind.form, kind.about) if kind.about else kind.form


def values_for_form(kind: SheetKind[R, F], row: R) -> dict[str, Any]:
    """Return a record's fields as its form takes them."""
    own = own_values(row.own_lines) if isinstance(row, Bears) else {}
    return {**kind.values_of(row), **own, "note": without_assumed(row.note)}


def without_assumed(note: str) -> str:
    """Return a note without the mark that its record was assumed."""
    return note.removeprefix(ASSUMED).lstrip(" .\n")


def add_to_sheet(work: UnitOfWork, kind: SheetKind[R, F], value: F, typed: Mapping[str, str]) -> int:
    """Save a new record of a list; return its id. Where it leads is the list's own."""
    fields: dict[str, Any] = {**kind.fields_of(value), **kind.fixed, "typed": dict(typed)}
    if kind.about:
        fields["own_lines"] = merged({}, own_answers(value))
    row = work.add(kind.row(**fields, created_at=work.now, updated_at=work.now))
    work.answered_at(kind.after_adding(row))
    return row_id(row)


def change_on_sheet(
    work: UnitOfWork,
    kind: SheetKind[R, F],
    record_id: int,
    value: F,
    typed: Mapping[str, str],
    version: int | None,
) -> None:
    """Save what was changed on a record, unless it moved on since the form was opened."""
    row = get_from_sheet(work.session, kind, record_id)
    fields = kind.fields_of(value)
    if kind.before_change is not None:
        kind.before_change(work, row, fields)
    work.change(row, version=version, **with_own(row, fields, value, typed))
    work.answered_at(kind.list_href)


def with_own(row: Record, fields: Mapping[str, Any], value: Form, typed: Mapping[str, str]) -> dict[str, Any]:
    """Return a changed record's fields with what it says to the shop's own lines."""
    if not isinstance(row, Bears):
        return {**fields, "typed": dict(typed)}
    own = merged(row.own_lines, own_answers(value))
    return {**fields, "own_lines": own, "typed": typed_with_own(row, typed)}


def remove_from_sheet(
    work: UnitOfWork, kind: SheetKind[R, F], record_id: int, version: int | None
) -> Removal:
    """Put a record in the bin."""
    row = work.remove(get_from_sheet(work.session, kind, record_id), version=version)
    work.answered_at(kind.list_href)
    name = str(row.name)  # type: ignore[attr-defined]
    return Removal(f"{name} was removed.", kind.list_href, f"{kind.href(record_id)}/put-back")


def put_back_on_sheet(work: UnitOfWork, kind: SheetKind[R, F], record_id: int) -> None:
    """Take a record out of the bin again; one that is there already stays as it is."""
    row = work.session.get(kind.row, record_id)
    if row is None or not _belongs(row, kind):
        get_row(work.session, kind.row, -record_id)
    elif row.deleted_at is not None:
        work.put_back(row)
    work.answered_at(kind.list_href)


def _belongs(row: Record, kind: SheetKind[Any, Any]) -> bool:
    return all(getattr(row, name) == value for name, value in kind.fixed.items())
