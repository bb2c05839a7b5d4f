"""`casewright migrate`: brings the logbook up to date without starting the app."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import typer

from webapp.clock import SystemClock
from webapp.store.engine import open_store
from webapp.store.errors import StoreError
from webapp.store.folder_lock import hold_folder
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import newest_revision
from webapp.store.swap import settle


def migrate(data_folder: Path) -> None:
    """Bring the logbook up to date and say what was done."""
    try:
        with hold_folder(data_folder, "work: it is being brought up to date"):
            settle(data_folder)
            with closing(open_store(data_folder)) as store:
                copy = bring_up_to_date(store, SystemClock().now())
    except StoreError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error
    typer.echo(f"The logbook in {data_folder} is up to date (form {newest_revision()}).")
    if copy:
        typer.echo(f"A copy from before lies at {copy}.")
