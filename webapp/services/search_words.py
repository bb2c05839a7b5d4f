"""What the search box asks: marks in the steel, as 3 notches, numbers, as 62 HRC, and every other word."""

from __future__ import annotations

from collections.abc import Iterator

from sqlmodel import Session, col, select

from webapp.services.search_numbers import batches_holding, find_numbers
from webapp.services.steel_marks import Mark, find_marks
from webapp.services.word_hits import batches_with, words_of
from webapp.store.tables import Item


def batches_asked_for(session: Session, typed: str) -> frozenset[int]:
    """Return the ids of the batches that hold all that is asked for; those in the bin may be among them."""
    found = list(_each(session, typed))
    return frozenset(set.intersection(*found)) if found else frozenset()


def _each(session: Session, typed: str) -> Iterator[set[int]]:
    rest = typed
    for mark, said in find_marks(typed):
        rest = rest.replace(said, " ", 1)
        yield _bearing(session, mark) | batches_with(session, words_of(said))
    for number in find_numbers(rest):
        rest = rest.replace(number.said, " ", 1)
        yield batches_holding(session, number) | batches_with(session, words_of(number.said))
    if words := words_of(rest):
        yield batches_with(session, words)


def _bearing(session: Session, mark: Mark) -> set[int]:
    bears = (col(Item.steel_mark) == mark.kind, col(Item.steel_sign) == mark.sign)
    query = select(Item.batch_id).where(col(Item.deleted_at).is_(None), *bears)
    return set(session.exec(query))


def asked_marks(typed: str) -> frozenset[Mark]:
    """Return the marks in the steel that are asked for."""
    return frozenset(mark for mark, _ in find_marks(typed))
