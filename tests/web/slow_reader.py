"""What `test_fit_keeper` has the compute worker do: begin to read the logbook, and be long or never end."""

from __future__ import annotations

from pathlib import Path
from time import sleep

from sqlmodel import func, select

from webapp.store.engine import read_beside
from webapp.store.tables import Batch

IS_READING = "is-reading"
A_WHILE_S = 60.0


def read_for_ever(folder: Path, seconds: float = A_WHILE_S) -> None:
    """Hold a snapshot open, and say so by a file."""
    with read_beside(folder) as session:
        session.exec(select(func.count()).select_from(Batch)).one()
        (folder / IS_READING).touch()
        sleep(seconds)


def read_for_a_second(folder: Path) -> None:
    """Do the same for a second."""
    read_for_ever(folder, 1.0)
