"""Bringing a logbook up to date: copy first, then everything in one transaction or nothing.

Foreign keys are off outside the transaction, because rebuilding a table would otherwise silently
delete the rows that refer to it; they are checked before the commit.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from sqlalchemy.engine import Connection

from webapp.resources import migrations_folder
from webapp.store.backup import copy_database, copy_path
from webapp.store.engine import Store
from webapp.store.errors import LogbookNewer, MigrationFailed, StoreError
from webapp.store.revision import current_revision, newest_revision
from webapp.store.word_index import drop_words

# what brings forms up to date takes a twentieth of a start to load and is seldom needed: so where it is used
if TYPE_CHECKING:
    from alembic.config import Config


class Upgrade(Protocol):
    """Something that brings the database behind a connection up to date."""

    def __call__(self, connection: Connection) -> None:
        """Do it, inside the transaction that is open."""


def alembic_config(connection: Connection | None = None, folder: Path | None = None) -> Config:
    """Return alembic's configuration, made in code so that an installed package needs no ini file."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(folder or migrations_folder()).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def run_alembic(connection: Connection, revision: str = "head") -> None:
    """Upgrade to a revision, as a rule the newest, inside the transaction that is open."""
    from alembic import command

    command.upgrade(alembic_config(connection), revision)


def bring_up_to_date(store: Store, now: datetime, upgrade: Upgrade = run_alembic) -> Path | None:
    """Migrate the logbook if it is behind and return the copy taken first (None: nothing to lose)."""
    with store.lock:
        current = current_revision(store)
        if current == newest_revision():
            return None
        refuse_newer(current)
        copy = None
        if current is not None:
            copy = copy_database(store.file, copy_path(store.folder, f"before-update-from-{current}", now))
        _upgrade_whole(store, upgrade, copy)
        return copy


def refuse_newer(current: str | None) -> None:
    """Raise `LogbookNewer` for a form that this code does not know."""
    if current is None:
        return
    from alembic.script import ScriptDirectory
    from alembic.util.exc import CommandError

    script = ScriptDirectory.from_config(alembic_config())
    try:
        script.get_revision(current)
    except CommandError as error:
        raise LogbookNewer(
            f"This logbook was written by a newer casewright (its form is {current}, the newest this one "
            f"knows is {newest_revision()}). Nothing was touched. Install the newer casewright, or open "
            "one of the copies with --data."
        ) from error


def _upgrade_whole(store: Store, upgrade: Upgrade, copy: Path | None) -> None:
    kept = f" A copy from before lies at {copy}." if copy else ""
    with store.writer.connect() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None
        # inside a transaction the switch would be silently ignored
        driver.execute("PRAGMA foreign_keys = OFF")
        try:
            with connection.begin():
                drop_words(connection)
                upgrade(connection)
                _check_references(connection)
        except Exception as error:
            raise MigrationFailed(
                f"The logbook could not be brought up to date and was left as it was: {error}.{kept}"
            ) from error
        finally:
            driver.execute("PRAGMA foreign_keys = ON")


def _check_references(connection: Connection) -> None:
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if loose:
        tables = ", ".join(sorted({str(row[0]) for row in loose}))
        raise StoreError(f"{len(loose)} references in {tables} would lead nowhere")


def draft_revision(store: Store, message: str, number: str, folder: Path | None = None) -> None:
    """Write a new migration from what the tables are now against what the logbook is; for developers."""
    from alembic import command

    with store.writer.connect() as connection:
        command.revision(
            alembic_config(connection, folder), message=message, autogenerate=True, rev_id=number
        )
