"""A logbook of an older form: brought to it, filled row by row, and read as it stands in the file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from alembic import command
from sqlalchemy import Connection, text

from webapp.store.engine import Store
from webapp.store.migrate import alembic_config


def to_form(revision: str) -> Callable[[Connection], None]:
    """Return an upgrade that stops at a revision."""
    return lambda connection: command.upgrade(alembic_config(connection), revision)


def insert(connection: Connection, table: str, row: dict[str, Any]) -> None:
    """Put a row in as the file takes it, past the tables of today."""
    names = ", ".join(f'"{name}"' for name in row)
    values = ", ".join(f":{name}" for name in row)
    connection.execute(text(f'INSERT INTO "{table}" ({names}) VALUES ({values})'), row)


def row_of(store: Store, table: str) -> dict[str, Any]:
    """Return the one row of a table."""
    with store.writer.connect() as connection:
        return dict(connection.execute(text(f'SELECT * FROM "{table}"')).mappings().one())
