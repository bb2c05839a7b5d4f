"""`casewright serve`: holds the data folder and the port, sees that the logbook is whole, runs the app.

What the app is made of takes most of a start to load, so it is loaded while the logbook is looked through.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager
from dataclasses import replace
from pathlib import Path

import typer

from webapp.clock import SystemClock
from webapp.collector import kept_for_good
from webapp.commands.listening import CannotListen, Network, listen_at_all, settings_of
from webapp.commands.passcode import ask_for_passcode
from webapp.freed_memory import keep_few_arenas
from webapp.gate.door import Door
from webapp.settings import Settings
from webapp.store.damage import Damage, find_damage
from webapp.store.errors import StoreError
from webapp.store.folder_lock import hold_folder
from webapp.store.swap import settle

ONLY_HERE = Network()


def serve(data_folder: Path, host: str, port: int, open_browser: bool, network: Network = ONLY_HERE) -> None:
    """Run the app until it is stopped."""
    try:
        asked = settings_of(data_folder, host, port, network)
        with ExitStack() as held:
            listeners = [held.enter_context(closing(each)) for each in listen_at_all(asked)]
            settings = replace(asked, port=listeners[0].getsockname()[1])
            held.enter_context(hold_folder(settings.data_folder, settings.url))
            finish_restore(settings.data_folder)
            keep_few_arenas()
            with looked_through(settings.data_folder) as looked, kept_for_good():
                from webapp.commands.running import run_app
            if not stands(settings, listeners, looked.result()):
                return
            if settings.is_lan:
                prepare_door(settings)
            run_app(settings, listeners, open_browser)
    except (StoreError, CannotListen) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error


def finish_restore(folder: Path) -> None:
    """Settle a restore that was cut short, and say so."""
    settled = settle(folder)
    if settled is not None:
        typer.echo(settled.words)


@contextmanager
def looked_through(folder: Path) -> Iterator[Future[Damage | None]]:
    """Look for damage beside what the block does: SQLite holds up nobody as it reads."""
    with ThreadPoolExecutor(1, "damage") as aside:
        yield aside.submit(find_damage, folder)


def stands(settings: Settings, listeners: list[socket.socket], damage: Damage | None) -> bool:
    """Return whether there is a logbook to open; a damaged one is first offered its good copies."""
    if damage is None:
        return True
    from webapp.commands.rescue import rescued

    return rescued(settings, listeners, damage)


def prepare_door(settings: Settings) -> None:
    """See to a passcode before others can knock."""
    door = Door(settings.data_folder, SystemClock(), settings.passcode_cost)
    door.note_reached_at(settings.tablet_url)
    if not door.has_passcode:
        ask_for_passcode(door)
