"""The index of every word in the book: it cannot go stale, and comes back by itself if it is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import Column, Integer
from sqlalchemy.engine import Connection
from sqlmodel import AutoString, select

from tests.conftest import A_SPRING_DAY
from tests.web.many_batches import fill
from webapp.services.starting import clear_tables
from webapp.services.word_hits import batches_with, words_of
from webapp.store import migrate
from webapp.store.backup import copy_database
from webapp.store.checks import ALLOWED_WORDS
from webapp.store.engine import LOGBOOK_FILE, Store, open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Batch, Box, Item, metadata
from webapp.store.unit_of_work import Actor, write
from webapp.store.word_index import FIELDS, INDEX, count_stray, ensure_words

BATCHES = 8
# columns of text that are no words: choices of a list, names of files and devices, and the marks in the
# steel, which are looked up as what they are
NOT_WORDS = {
    ("reminder", "list_key"), ("ownline", "unit"), ("ownline", "note"),
    # a table that was brought in stands on a page of its own
    *(("broughtin", name) for name in ("file_name", "sha256", "note")),
    ("shop", "name"), ("shop", "zone"), ("shop", "address"), ("shop", "note"), ("forge", "hot_end"),
    ("box", "shape"), ("instrument", "role"), ("bath", "agitation"), ("part", "depth_definition"),
    ("part", "soft_kept"), ("prices", "money"), ("prices", "note"), ("partprice", "note"),
    ("gasweighing", "valve"), ("gasweighing", "second_valve"), ("plansupplies", "valve"),
    ("shop", "mark_habit"), ("item", "steel_mark"), ("item", "steel_sign"), ("photo", "sha256"),
    ("item", "place"), ("item", "layer"), ("reading", "after"), ("reading", "place"),
    ("reading", "surface"), ("reading", "unit"),
}  # fmt: skip
NO_RECORDS = {"fit", "change", "formuse"}


@pytest.fixture
def filled(store: Store) -> Store:
    ensure_words(store)
    fill(store, BATCHES)
    return store


def stray(store: Store) -> int:
    with store.writer.connect() as connection:
        return count_stray(connection)


def found(store: Store, typed: str) -> set[int]:
    with read(store) as session:
        return batches_with(session, words_of(typed))


def change(store: Store, kind: type[Batch] | type[Item] | type[Box], record_id: int, **fields: str) -> None:
    with write(store, Actor("test bench"), A_SPRING_DAY) as work:
        work.change(work.get(kind, record_id), **fields)


def test_every_column_of_words_is_found_or_left_out_by_name() -> None:
    texts = {
        (table.name, column.name)
        for table in metadata.sorted_tables
        for column in table.columns
        if isinstance(column.type, AutoString)
        and table.name not in NO_RECORDS
        and (table.name, column.name) not in ALLOWED_WORDS
    }
    indexed = {(field.table, field.name) for field in FIELDS if not field.key}
    told = indexed - {("batch", "number")}
    assert texts - NOT_WORDS == told


def test_what_was_written_past_the_app_is_found_too(filled: Store) -> None:
    assert found(filled, "gauge") == {7}
    assert found(filled, "gas ran out") == {4}
    assert stray(filled) == 0


def test_a_change_takes_the_old_words_out_and_puts_the_new_ones_in(filled: Store) -> None:
    change(filled, Batch, 7, note="the lid warped")
    change(filled, Item, 1, mark="three notches", note="")
    assert found(filled, "gauge") == set()
    assert found(filled, "warped lid") == {7}
    assert found(filled, "notches") == {1}
    assert stray(filled) == 0


def test_a_thing_that_gets_another_name_is_found_by_it_in_every_batch(filled: Store) -> None:
    before = found(filled, '"box 2"')
    change(filled, Box, 2, name="Trunnion tin")
    assert found(filled, "trunnion") == before == {1, 3, 5, 7}


def test_a_piece_in_the_bin_is_not_found_until_it_is_put_back(filled: Store) -> None:
    change(filled, Item, 1, note="hammered")
    with write(filled, Actor("test bench"), A_SPRING_DAY) as work:
        work.remove(work.get(Item, 1))
    assert found(filled, "hammered") == set()
    with write(filled, Actor("test bench"), A_SPRING_DAY) as work:
        work.put_back(work.session.exec(select(Item).where(Item.id == 1)).one())
    assert found(filled, "hammered") == {1}
    assert stray(filled) == 0


def test_an_emptied_logbook_leaves_no_word_behind(filled: Store) -> None:
    with write(filled, Actor("test bench"), A_SPRING_DAY) as work:
        clear_tables(work.session)
    with filled.writer.connect() as connection:
        assert connection.exec_driver_sql(f"SELECT count(*) FROM {INDEX}").scalar_one() == 0


@pytest.fixture
def copied(filled: Store, tmp_path: Path) -> Iterator[Store]:
    copy_database(filled.file, tmp_path / "copy" / LOGBOOK_FILE)
    with closing(open_store(tmp_path / "copy")) as store:
        yield store


def test_a_copy_of_the_logbook_finds_and_keeps_finding(copied: Store) -> None:
    assert not ensure_words(copied)
    assert found(copied, "gauge") == {7}
    change(copied, Batch, 7, note="the lid warped")
    assert found(copied, "warped") == {7}


def lose_a_trigger(connection: Connection) -> None:
    connection.exec_driver_sql(f"DROP TRIGGER {INDEX}_batch_update")


def lose_words(connection: Connection) -> None:
    connection.exec_driver_sql(f"DELETE FROM {INDEX} WHERE words LIKE 'gauge%'")


def hold_other_words(connection: Connection) -> None:
    connection.exec_driver_sql(f"UPDATE {INDEX} SET words = 'else' WHERE words LIKE 'gauge%'")


def hold_too_many(connection: Connection) -> None:
    connection.exec_driver_sql(f"INSERT INTO {INDEX}(rowid, words) VALUES (99, 'gauge')")


@pytest.mark.parametrize("spoil", [lose_a_trigger, lose_words, hold_other_words, hold_too_many])
def test_an_index_that_was_spoilt_is_built_anew_when_the_logbook_is_opened(
    filled: Store, spoil: Callable[[Connection], None]
) -> None:
    with filled.writer.begin() as connection:
        spoil(connection)
    assert ensure_words(filled)
    assert not ensure_words(filled)
    assert found(filled, "gauge") == {7}


def test_a_table_that_a_migration_rebuilds_is_searched_as_before(
    filled: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(migrate, "newest_revision", lambda: "9999")

    def rebuild(connection: Connection) -> None:
        operations = Operations(MigrationContext.configure(connection))
        for name in ("item", "batch"):
            with operations.batch_alter_table(name, recreate="always") as table:
                table.add_column(Column("sparks", Integer, server_default="0", nullable=False))

    assert bring_up_to_date(filled, A_SPRING_DAY, upgrade=rebuild) is not None
    assert ensure_words(filled)
    assert found(filled, "standard pin") == set(range(1, BATCHES + 1))
