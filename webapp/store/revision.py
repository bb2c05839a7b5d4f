"""Which form the logbook has and which this code works with, told without loading the migration tool."""

from __future__ import annotations

from sqlalchemy.exc import DatabaseError

from webapp.resources import migrations_folder
from webapp.store.engine import Store, plain_trouble
from webapp.store.errors import CannotOpen


def newest_revision() -> str:
    """Return the revision this code works with: the highest number that begins a migration file's name."""
    versions = migrations_folder() / "versions"
    return max(path.name.partition("_")[0] for path in versions.glob("[0-9]*_*.py"))


def current_revision(store: Store) -> str | None:
    """Return the revision the logbook was last brought to, or None when it is empty."""
    try:
        with store.doors.inside(), store.reader.connect() as connection:
            tables = connection.exec_driver_sql(
                "SELECT count(*) FROM sqlite_master WHERE name = 'alembic_version'"
            )
            if not tables.scalar_one():
                return None
            return connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one_or_none()
    except DatabaseError as error:
        raise CannotOpen(f"The logbook {store.file} cannot be read: {plain_trouble(error)}.") from error


def is_up_to_date(store: Store) -> bool:
    """Tell whether the logbook has the form this code works with."""
    return current_revision(store) == newest_revision()
