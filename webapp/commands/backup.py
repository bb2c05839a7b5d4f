"""`casewright backup FILE` and `casewright restore FILE`: everything in one file, and back."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from webapp.clock import SystemClock
from webapp.services.backup import make_backup
from webapp.services.condition import say_counts
from webapp.services.restore import restore as put_back
from webapp.services.showing import plural
from webapp.store.errors import CannotOpen, StoreError
from webapp.store.folder_lock import hold_folder

BYTES_IN_MEGABYTE = 1e6


def backup(file: Path, data_folder: Path) -> None:
    """Write a checked copy of everything to a file; a casewright that runs goes on meanwhile."""
    with _in_plain_words():
        if file.exists():
            raise CannotOpen(f"{file} is there already and was not touched. Choose another name.")
        made = make_backup(data_folder, file.absolute(), SystemClock().now())
    typer.echo(f"{made.file}: {made.size / BYTES_IN_MEGABYTE:.1f} MB, read again and whole.")
    typer.echo(f"In it: {say_counts(made.counts)}, those in the bin too.")
    if made.missing_photos:
        typer.echo(f"Not there to be copied: {plural(len(made.missing_photos), 'picture file')}.")


def restore(file: Path, data_folder: Path) -> None:
    """Check a copy and put it in the place of the logbook, which is kept aside."""
    with _in_plain_words(), hold_folder(data_folder, "work: a copy is being put back"):
        found = put_back(file.absolute(), data_folder, SystemClock().now())
    typer.echo(f"Restored into {data_folder}: {say_counts(found.staged.counts)}.")
    if found.staged.missing_photos:
        lacking = plural(found.staged.missing_photos, "photo has", "photos have")
        typer.echo(
            f"{lacking} no picture: it was not in the copy. Copy the folder photos from beside the old "
            f"logbook into {data_folder}."
        )
    if found.aside:
        typer.echo(f"The logbook that was there lies in {found.aside}.")


@contextmanager
def _in_plain_words() -> Iterator[None]:
    try:
        yield
    except StoreError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error
