"""`casewright read-back FILE`: makes a logbook from a whole export, in a folder that holds none."""

from __future__ import annotations

from pathlib import Path

import typer

from webapp.clock import SystemClock
from webapp.services.read_back import read_back as read
from webapp.store.errors import StoreError
from webapp.store.folder_lock import hold_folder
from webapp.store.swap import settle


def read_back(file: Path, data_folder: Path) -> None:
    """Read the export back and say what came of it."""
    try:
        with hold_folder(data_folder, "work: an export is being read back"):
            settle(data_folder)
            found = read(file, data_folder, SystemClock().now())
    except StoreError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error
    typer.echo(f"Read back into {data_folder}: {found.rows} rows, {found.batches} batches.")
    if found.photos:
        typer.echo(
            f"It lists {found.photos} photos. Their pictures are files: copy the folder photos from beside "
            f"the old logbook into {data_folder}."
        )
