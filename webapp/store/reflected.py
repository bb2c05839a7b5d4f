"""The tables of a logbook as they are in its file, whatever its form."""

from __future__ import annotations

from sqlalchemy import MetaData, Table
from sqlalchemy.engine import Connection

NO_RECORDS = ("alembic_version", "formuse")  # one-use form ids are no record of the shop's


def record_tables(connection: Connection) -> list[Table]:
    """Return the tables of the shop's records, each after those it refers to; an index of words is none."""
    listed = connection.exec_driver_sql(
        "SELECT name FROM pragma_table_list"
        " WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite_%'"
    )
    names = {name for (name,) in listed} - set(NO_RECORDS)
    found = MetaData()
    found.reflect(connection, only=sorted(names), resolve_fks=False)
    return found.sorted_tables
