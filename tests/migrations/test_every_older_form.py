"""A filled logbook of every earlier form: brought up to date with nothing lost, or left as it was."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlmodel import select

from tests.migrations.filled import filled, values_of
from webapp.resources import migrations_folder
from webapp.store.backup import check_database
from webapp.store.engine import LOGBOOK_FILE, open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision
from webapp.store.tables import Bar, Record
from webapp.store.unit_of_work import Actor, write
from webapp.store.word_index import ensure_words

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
CHECKOUT = Path(__file__).resolve().parents[2]
FORMS = sorted(path.name.partition("_")[0] for path in (migrations_folder() / "versions").glob("[0-9]*_*.py"))
# what a migration changes on purpose, each by a test of its own
CHANGED = {("shop", "opens_at"), ("shop", "leaves_at")}
KILLED = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from webapp.store.engine import open_store
from webapp.store.migrate import bring_up_to_date, run_alembic

def killed_before_the_commit(connection):
    run_alembic(connection)
    os.kill(os.getpid(), signal.SIGKILL)

now = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
bring_up_to_date(open_store(Path(sys.argv[1])), now, killed_before_the_commit)
"""


@pytest.mark.parametrize("form", FORMS[:-1])
def test_a_filled_logbook_of_each_earlier_form_loses_nothing(tmp_path: Path, form: str) -> None:
    with closing(filled(tmp_path, form)) as store:
        with store.reader.connect() as connection:
            before = values_of(connection)
        copy = bring_up_to_date(store, NOW)
        assert copy is not None
        assert f"before-update-from-{form}" in copy.name
        assert current_revision(store) == newest_revision()
        ensure_words(store)
        check_database(store.file)
        check_database(copy)
        with store.reader.connect() as connection:
            after = values_of(connection)
        lost = {key for key, values in before.items() if after.get(key) != values} - CHANGED
        assert lost == set()
        with read(store) as session:
            for kind in Record.__subclasses__():
                session.exec(select(kind)).all()
        with write(store, Actor("bench"), NOW) as work:
            work.add(Bar(name="rod", carbon_low_wt=0.1, carbon_high_wt=0.2))
    with closing(sqlite3.connect(copy)) as kept:
        assert kept.execute("SELECT version_num FROM alembic_version").fetchone() == (form,)


def test_a_migration_that_is_killed_in_its_middle_leaves_the_old_logbook_working(tmp_path: Path) -> None:
    store = filled(tmp_path, FORMS[0])
    with store.reader.connect() as connection:
        before = values_of(connection)
    store.close()
    environment = dict(os.environ) | {"PYTHONPATH": str(CHECKOUT)}
    died = subprocess.run([sys.executable, "-c", KILLED, str(tmp_path)], env=environment, check=False)
    assert died.returncode == -signal.SIGKILL
    check_database(tmp_path / LOGBOOK_FILE)
    with closing(open_store(tmp_path)) as store:
        assert current_revision(store) == FORMS[0]
        with store.reader.connect() as connection:
            assert values_of(connection) == before
        copies = sorted((tmp_path / "copies").glob("*.db"))
        assert len(copies) == 1
        copy = bring_up_to_date(store, NOW)
        assert current_revision(store) == newest_revision()
        assert copy not in copies
