"""A bar's own page: what it is believed to be, what taught that, and where it was used."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sqlmodel import Session, col

from webapp.services.bar_tests import TestsView, view_tests
from webapp.services.bars import BARS
from webapp.services.batch_rows import kept, row_id
from webapp.services.fitting import newest_summary
from webapp.services.forge_epochs import change_days
from webapp.services.forge_rows import RowGroup, name_of, view_groups
from webapp.services.forge_view import told_of_forge
from webapp.services.parts import Link
from webapp.services.sheets import CardView, card_of, get_from_sheet, own_lines_of
from webapp.services.showing import Showing, plural
from webapp.services.step_rules import STATE_WORDS
from webapp.store.tables import Batch, Item, Part

OF_A_BAR = ("bar_carbon", "hardenability")


@dataclass(frozen=True)
class BarView:
    """The page of a bar."""

    card: CardView
    is_mystery: bool
    tests: TestsView
    groups: tuple[RowGroup, ...]
    batches: tuple[Link, ...]
    parts: tuple[Link, ...]


def view_bar(session: Session, bar_id: int, showing: Showing) -> BarView:
    """Return a bar with what the books and this forge say of it, or raise `NotFound`."""
    bar = get_from_sheet(session, BARS, bar_id)
    items = kept(session, Item, Item.bar_id == bar_id)
    counted = Counter(item.batch_id for item in items)
    batches = {row_id(row): row for row in kept(session, Batch, col(Batch.id).in_(counted))}
    return BarView(
        card_of(session, bar, BARS, showing, own_lines_of(session, BARS)),
        bar.grade is None,
        view_tests(bar),
        _believed(session, bar_id, bar.name, items, batches, showing),
        tuple(_batch_link(row, counted[row_id(row)], showing) for row in reversed(batches.values())),
        tuple(Link(row.name, "", f"/parts/{row.id}") for row in kept(session, Part, Part.bar_id == bar_id)),
    )


def _believed(
    session: Session,
    bar_id: int,
    name: str,
    items: list[Item],
    batches: dict[int, Batch],
    showing: Showing,
) -> tuple[RowGroup, ...]:
    names = {"bar": {bar_id: name}}
    told = told_of_forge(session, newest_summary(session))["rows"]
    rows = [row for row in told if row["kind"] in OF_A_BAR and name_of(row["kind"], row["of"], names)]
    pieces = {
        str(item.id): (f"{batches[item.batch_id].number} {item.mark} {item.name}", f"/items/{item.id}")
        for item in items
        if item.batch_id in batches
    }
    return view_groups(rows, names, showing, pieces, days=change_days(session))


def _batch_link(batch: Batch, count: int, showing: Showing) -> Link:
    state = STATE_WORDS.get(batch.state, batch.state)
    return Link(
        f"Batch {batch.number}",
        f"{showing.day(batch.day)}, {plural(count, 'piece')} of it, {state}",
        f"/batches/{batch.id}",
    )
