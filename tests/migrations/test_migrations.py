"""Bringing a logbook up to date: it ends as the tables say, or stays exactly as it was."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import Column, Integer, create_engine
from sqlalchemy.engine import Connection

from webapp.store import migrate
from webapp.store.engine import LOGBOOK_FILE, Store, open_store
from webapp.store.errors import CopyFailed, LogbookNewer, MigrationFailed
from webapp.store.migrate import bring_up_to_date, run_alembic
from webapp.store.revision import current_revision, newest_revision
from webapp.store.tables import Bar, Fire, Forge, HeatNote, Instrument, metadata
from webapp.store.unit_of_work import Actor, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    yield opened
    opened.close()


def fill(store: Store) -> None:
    with write(store, Actor("test bench"), NOW) as work:
        forge = work.add(
            Forge(name="big", fuel="propane", inside_length_m=0.4, inside_width_m=0.2, inside_height_m=0.2)
        )
        eye = work.add(Instrument(name="eye", role="heat", method="colour", spread=30.0))
        fire = work.add(Fire(forge_id=forge.id, heat_instrument_id=eye.id))
        for minute in range(5):
            work.add(
                HeatNote(
                    fire_id=fire.id,
                    instrument_id=eye.id,
                    noted_at=NOW.replace(minute=minute),
                    temperature_K=1200.0,
                )
            )


def dump(file: Path) -> list[str]:
    with closing(sqlite3.connect(file)) as connection:
        return list(connection.iterdump())


def schema(connection: sqlite3.Connection) -> dict[str, set[str]]:
    """Return each table's and index's definition as a set of clauses, whatever their order and layout."""
    found = {}
    for name, sql in connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"):
        flat = re.sub(r"\s+", " ", sql.replace('"', "")).strip()
        body = flat[flat.index("(") + 1 : flat.rindex(")")] if "(" in flat else flat
        found[name] = {clause.strip() for clause in re.split(r",(?![^()]*\))", body)}
    found.pop("alembic_version", None)
    return found


def put_back_to(store: Store, revision: str) -> None:
    """Pretend that the logbook was last brought to another revision."""
    with store.writer.begin() as connection:
        connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{revision}'")


def behind(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pretend that this casewright knows one revision more than the logbook has."""
    monkeypatch.setattr(migrate, "newest_revision", lambda: "9999")


def test_an_empty_logbook_is_brought_to_what_the_tables_say(store: Store, tmp_path: Path) -> None:
    assert current_revision(store) is None
    assert bring_up_to_date(store, NOW) is None
    assert current_revision(store) == newest_revision()
    by_tables = create_engine(f"sqlite:///{tmp_path / 'by-tables.db'}")
    metadata.create_all(by_tables)
    by_tables.dispose()
    with (
        closing(sqlite3.connect(store.file)) as migrated,
        closing(sqlite3.connect(tmp_path / "by-tables.db")) as made,
    ):
        assert schema(migrated) == schema(made)
    assert len(metadata.tables) >= 20


def test_nothing_is_left_for_a_new_migration(store: Store) -> None:
    bring_up_to_date(store, NOW)
    with store.writer.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "render_as_batch": True, "target_metadata": metadata}
        )
        assert compare_metadata(context, metadata) == []


def test_a_logbook_that_is_up_to_date_is_left_alone(store: Store) -> None:
    bring_up_to_date(store, NOW)
    fill(store)
    before = dump(store.file)
    assert bring_up_to_date(store, NOW) is None
    assert dump(store.file) == before
    assert not (store.folder / "copies").exists()


def test_each_revision_leads_from_the_one_before_without_branches() -> None:
    from alembic.script import ScriptDirectory

    script = ScriptDirectory.from_config(migrate.alembic_config())
    revisions = [revision.revision for revision in script.walk_revisions()]
    assert revisions == sorted(revisions, reverse=True)
    assert revisions[0] == newest_revision(), "a migration's file name begins with its number"
    assert len(script.get_heads()) == len(script.get_bases()) == 1


def test_a_filled_logbook_is_copied_first_and_keeps_every_row_when_a_parent_table_is_rebuilt(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring_up_to_date(store, NOW)
    fill(store)
    before = dump(store.file)
    behind(store, monkeypatch)

    def rebuild_fire(connection: Connection) -> None:
        operations = Operations(MigrationContext.configure(connection))
        with operations.batch_alter_table("fire", recreate="always") as table:
            table.add_column(Column("sparks", Integer, server_default="0", nullable=False))

    copy = bring_up_to_date(store, NOW, upgrade=rebuild_fire)
    assert copy == store.folder / "copies" / f"2026-04-03T12-02-00Z-before-update-from-{newest_revision()}.db"
    assert dump(copy) == before
    with store.writer.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM heatnote").scalar_one() == 5
        assert connection.exec_driver_sql("SELECT sparks FROM fire").scalar_one() == 0
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1


def test_a_migration_that_fails_half_way_leaves_the_old_logbook_working(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring_up_to_date(store, NOW)
    fill(store)
    before = dump(store.file)
    behind(store, monkeypatch)

    def fail_half_way(connection: Connection) -> None:
        connection.exec_driver_sql("CREATE TABLE half (id INTEGER)")
        connection.exec_driver_sql("DELETE FROM heatnote")
        raise LookupError("in the middle")

    with pytest.raises(MigrationFailed, match=r"left as it was: in the middle.*copies"):
        bring_up_to_date(store, NOW, upgrade=fail_half_way)
    assert dump(store.file) == before
    with write(store, Actor("test bench"), NOW) as work:
        work.add(Bar(name="rod", carbon_low_wt=0.1, carbon_high_wt=0.2))
        assert work.session.connection().exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1


def test_a_migration_that_would_leave_loose_references_is_undone(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring_up_to_date(store, NOW)
    fill(store)
    before = dump(store.file)
    behind(store, monkeypatch)

    def lose_the_fires(connection: Connection) -> None:
        connection.exec_driver_sql("DELETE FROM fire")

    with pytest.raises(MigrationFailed, match="5 references in heatnote"):
        bring_up_to_date(store, NOW, upgrade=lose_the_fires)
    assert dump(store.file) == before


def test_no_migration_is_begun_without_a_copy(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    bring_up_to_date(store, NOW)
    fill(store)
    before = dump(store.file)
    behind(store, monkeypatch)
    (store.folder / "copies").write_text("a file where the folder should be")

    def must_not_run(_: Connection) -> None:
        pytest.fail("migrated without a copy")

    with pytest.raises(CopyFailed):
        bring_up_to_date(store, NOW, upgrade=must_not_run)
    assert dump(store.file) == before


def test_a_logbook_of_a_newer_casewright_is_refused_and_not_touched(store: Store) -> None:
    bring_up_to_date(store, NOW)
    put_back_to(store, "8888")
    before = dump(store.file)
    with pytest.raises(LogbookNewer, match=r"newer casewright.*8888"):
        bring_up_to_date(store, NOW)
    assert dump(store.file) == before
    assert not (store.folder / "copies").exists()


def test_a_first_migration_that_fails_leaves_an_empty_logbook_that_can_be_tried_again(store: Store) -> None:
    def fail_after(connection: Connection) -> None:
        run_alembic(connection)
        raise LookupError("power cut")

    with pytest.raises(MigrationFailed):
        bring_up_to_date(store, NOW, upgrade=fail_after)
    assert current_revision(store) is None
    bring_up_to_date(store, NOW)
    assert current_revision(store) == newest_revision()


def test_the_logbook_lies_where_the_settings_say(store: Store, tmp_path: Path) -> None:
    bring_up_to_date(store, NOW)
    assert store.file == tmp_path / LOGBOOK_FILE
    assert store.file.is_file()
