"""Which saves may tell the fit something else: never a no where the mark of what is told moves."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import event
from sqlmodel import delete

from tests.web.one_batch import LIT, NOW, add_read_batch, begin_batch, begin_shop, reading, soak, step
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.fit_news import NEVER_TOLD, News, may_tell_more, news_of
from webapp.services.observations import tell
from webapp.services.starting import clear_tables
from webapp.store.engine import Store, read, read_beside
from webapp.store.errors import CannotSave
from webapp.store.tables import (
    Bar,
    Batch,
    Box,
    Event,
    HeatNote,
    Item,
    Mix,
    Part,
    Reading,
    Record,
    Reminder,
    ShopChange,
    Step,
)  # fmt: skip
from webapp.store.unit_of_work import Actor, UnitOfWork, write

READ, QUIET = 1, 2  # the batch of which a rim was read, and the one still in the fire
Saved = Callable[[UnitOfWork], object]


@pytest.fixture
def book(store: Store) -> Store:
    with write(store, Actor("bench"), NOW) as work:
        begin_shop(work)
        add_read_batch(work, 0.9e-3)
        batch_id, _ = begin_batch(work)
        step(work, batch_id, "box_in", 0, 6.0)
        soak(work, batch_id, started_at=LIT + timedelta(hours=7), seconds=None)
    return store


def piece_of(work: UnitOfWork, batch_id: int) -> Item:
    return kept(work.session, Item, Item.batch_id == batch_id)[0]


def noted(table: type[Record], **fields: Any) -> Saved:
    return lambda work: work.add(table(**fields))


def changed(kind: type[Record], record_id: int, **fields: Any) -> Saved:
    return lambda work: work.change(get_row(work.session, kind, record_id), **fields)


def heat(fire: int) -> HeatNote:
    at = LIT + timedelta(hours=2)
    return HeatNote(fire_id=fire, instrument_id=1, noted_at=at, temperature_K=1180.0, typed={})


TOLD: dict[str, Saved] = {
    "a reading": lambda work: work.add(reading(piece_of(work, READ), "depth", value=1e-3)),
    "a reading put right": changed(Reading, 1, value=1e-3),
    "the soak of what was read": lambda work: work.change(
        kept(work.session, Step, Step.batch_id == READ, Step.kind == "soak")[0], seconds=9000.0
    ),
    "a heat of its fire": lambda work: work.add(heat(get_row(work.session, Batch, READ).fire_id)),
    "its fire out": noted(Event, batch_id=READ, kind="burner_out", happened_at=LIT + timedelta(hours=2)),
    "its batch set aside": changed(Batch, READ, left_out_why="the seal failed"),
    "its piece put right": lambda work: step(
        work, None, "temper", 9, 11.0, item_id=1, life=2, temperature_K=473.15, seconds=3600.0
    ),
    "its box": changed(Box, 1, wall_m=0.006),
    "a new tin": noted(
        Mix, name="new", charcoal="lump", grain_m=0.005, substance="none", substance_percent=0.0
    ),
    "a batch taken out with its piece": lambda work: (
        work.remove(piece_of(work, QUIET)),
        work.remove(get_row(work.session, Batch, QUIET)),
    ),
    "a change of the shop": noted(ShopChange, kind="box_mended", changed_on=NOW.date(), box_id=1),
}
NOT_TOLD: dict[str, Saved] = {
    "a heat of another fire": lambda work: work.add(heat(get_row(work.session, Batch, QUIET).fire_id)),
    "another batch's quench": lambda work: step(work, QUIET, "quench", 5, 11.0),
    "a cracked seal there": noted(Event, batch_id=QUIET, kind="seal_cracked", happened_at=NOW),
    "a note of it": changed(Batch, QUIET, note="left by the door"),
    "a piece more in it": lambda work: work.change(piece_of(work, QUIET), name="spare"),
    "a reminder": noted(Reminder, what="clean the burner", after_days=30, done_on=NOW.date()),
    "a new bar": noted(Bar, name="new", grade="1018", carbon_low_wt=0.15, carbon_high_wt=0.2, screening={}),
    "a new part": noted(
        Part,
        name="lever",
        bar_id=1,
        shape="rod",
        size_m=0.02,
        wanted_depth_low_m=5e-4,
        wanted_depth_high_m=8e-4,
    ),
}


def news_in(store: Store) -> News:
    with read(store) as session:
        return news_of(session, tell(session, NOW))


def is_news(store: Store, news: News) -> bool:
    with read(store) as session:
        return may_tell_more(session, news)


def test_a_save_is_news_where_it_may_tell_more_and_is_none_where_it_cannot(book: Store) -> None:
    news = news_in(book)
    assert not is_news(book, news)
    found = {}
    for what, saved in (NOT_TOLD | TOLD).items():
        with write(book, Actor("bench"), NOW) as work:
            saved(work)
        before, news = news, news_in(book)
        found[what] = is_news(book, before)
        assert found[what] or before.fingerprint == news.fingerprint, what
    assert found == dict.fromkeys(NOT_TOLD, False) | dict.fromkeys(TOLD, True)


def test_many_saves_and_an_emptied_book_are_news(book: Store) -> None:
    news = news_in(book)
    with write(book, Actor("bench"), NOW) as work:
        for number in range(101):
            work.add(Reminder(what=f"clean burner {number}", after_days=30, done_on=NOW.date()))
    assert is_news(book, news)
    with write(book, Actor("bench"), NOW) as work:
        clear_tables(work.session)
    assert is_news(book, news)


def test_nothing_is_read_to_tell_the_fit_of_what_is_said_to_be_never_told(book: Store) -> None:
    asked: list[str] = []
    event.listen(book.reader, "before_cursor_execute", lambda *args: asked.append(args[2]))
    with read(book) as session:
        tell(session, NOW)
    tables = {name for one in asked for name in re.findall(r"(?:FROM|JOIN) (\w+)", one)}
    assert {"reading", "step", "shopchange"} <= tables
    assert tables & set(NEVER_TOLD) <= {"plan"}  # which comes with each batch, and says nothing of it


def test_who_reads_beside_the_server_cannot_write(book: Store) -> None:
    def spoil() -> list[int]:
        with read_beside(book.folder) as session:
            found = [row_id(row) for row in kept(session, Batch)]
            assert found == [READ, QUIET]
            session.exec(delete(Reminder))
            return found

    with pytest.raises(CannotSave, match="read-only"):
        spoil()
