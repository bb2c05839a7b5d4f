"""`casewright demo`: builds the invented shop's logbook if it is not there yet, then serves it."""

from __future__ import annotations

from contextlib import ExitStack, closing
from pathlib import Path

import typer

from webapp.clock import SystemClock
from webapp.commands.serve import serve
from webapp.demo import build_demo
from webapp.services.shop_view import view_shop
from webapp.store.engine import open_store, read
from webapp.store.errors import CannotOpen, StoreError
from webapp.store.folder_lock import hold_folder
from webapp.store.migrate import bring_up_to_date
from webapp.store.swap import settle


def demo(data_folder: Path, host: str, port: int, open_browser: bool) -> None:
    """Make sure the demo logbook is there, then run the app on it."""
    try:
        prepare_demo(data_folder)
    except StoreError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error
    serve(data_folder, host, port, open_browser)


def prepare_demo(data_folder: Path) -> None:
    """Build the invented shop's logbook in an empty folder; a real logbook is refused, never touched."""
    now = SystemClock().now()
    with ExitStack() as held:
        held.enter_context(hold_folder(data_folder, "work: the demo is being built"))
        settle(data_folder)
        store = held.enter_context(closing(open_store(data_folder)))
        bring_up_to_date(store, now)
        with read(store) as session:
            shop = view_shop(session)
        if shop.is_set_up and not shop.is_demo:
            raise CannotOpen(
                f"{data_folder} holds a real logbook. Choose another folder for the demo with --data."
            )
        if not shop.is_set_up:
            typer.echo("Building the invented shop's logbook; this takes a little while.")
            build_demo(store, now)
