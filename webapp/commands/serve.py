"""`casewright serve`: holds the data folder and the port, runs the app, opens the browser."""

from __future__ import annotations

import asyncio
import socket
import threading
import webbrowser
from contextlib import ExitStack, closing
from dataclasses import replace
from pathlib import Path

import typer
import uvicorn
from fastapi import FastAPI

from webapp.app import create_app
from webapp.clock import SystemClock
from webapp.commands.listening import CannotListen, Network, listen_at_all, settings_of
from webapp.commands.passcode import ask_for_passcode, show_code
from webapp.commands.patient_server import (
    KEPT_OPEN_S,
    LARGEST_HEAD_BYTES,
    MOST_AT_ONCE,
    STOP_WITHIN_S,
    PatientProtocol,
)
from webapp.commands.rescue import stands
from webapp.freed_memory import give_back_now_and_then, keep_few_arenas
from webapp.gate.door import Door
from webapp.settings import Settings
from webapp.store.errors import StoreError
from webapp.store.folder_lock import hold_folder
from webapp.warm_up import warm_up

ONLY_HERE = Network()
READ_ALONG = (
    "This is plain http: somebody on the same Wi-Fi could read along. --tls-cert and --tls-key lock it."
)


class AnnouncedServer(uvicorn.Server):
    """A server that says its address once it answers, opens the browser there, and gets its pages ready."""

    def __init__(self, app: FastAPI, config: uvicorn.Config, settings: Settings, open_browser: bool) -> None:
        """Hold what to announce."""
        super().__init__(config)
        self.app, self.settings, self.open_browser = app, settings, open_browser
        self._warming: asyncio.Task[None] | None = None
        self._giving_back: asyncio.Task[None] | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then announce."""
        await super().startup(sockets)
        url = self.settings.url
        typer.echo(f"casewright is ready at {url}  (stop it with Ctrl+C)")
        if self.settings.is_lan:
            announce_to_tablets(self.settings)
        if self.open_browser:
            threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()
        self._warming = asyncio.create_task(warm_up(self.app, lambda: self.should_exit))
        self._giving_back = asyncio.create_task(give_back_now_and_then())

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let the page that is being got ready come to its end, as it reads the logbook, then stop."""
        if self._giving_back is not None:
            self._giving_back.cancel()
        if self._warming is not None:
            await asyncio.wait([self._warming], timeout=STOP_WITHIN_S)
            self._warming.cancel()
        await super().shutdown(sockets)


def serve(data_folder: Path, host: str, port: int, open_browser: bool, network: Network = ONLY_HERE) -> None:
    """Run the app until it is stopped."""
    try:
        asked = settings_of(data_folder, host, port, network)
        with ExitStack() as held:
            listeners = [held.enter_context(closing(each)) for each in listen_at_all(asked)]
            settings = replace(asked, port=listeners[0].getsockname()[1])
            held.enter_context(hold_folder(settings.data_folder, settings.url))
            if not stands(settings, listeners):
                return
            if settings.is_lan:
                prepare_door(settings)
            run_app(settings, listeners, open_browser)
    except (StoreError, CannotListen) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error


def prepare_door(settings: Settings) -> None:
    """See to a passcode before others can knock."""
    door = Door(settings.data_folder, SystemClock(), settings.passcode_cost)
    door.note_reached_at(settings.tablet_url)
    if not door.has_passcode:
        ask_for_passcode(door)


def announce_to_tablets(settings: Settings) -> None:
    """Say where tablets find the logbook, and let one in by a code."""
    door = Door(settings.data_folder, SystemClock(), settings.passcode_cost)
    typer.echo(f"On tablets: {settings.tablet_url}")
    if not settings.is_safe:
        typer.echo(READ_ALONG)
    if door.has_passcode:
        show_code(door, settings.tablet_url)


def run_app(settings: Settings, listeners: list[socket.socket], open_browser: bool) -> None:
    """Serve on the ports that are taken already."""
    keep_few_arenas()
    app = create_app(settings)
    config = uvicorn.Config(
        app,
        http=PatientProtocol,
        ws="none",
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=MOST_AT_ONCE,
        timeout_keep_alive=KEPT_OPEN_S,
        h11_max_incomplete_event_size=LARGEST_HEAD_BYTES,
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.key,
        # an open keep-alive connection must not hold up a stop
        timeout_graceful_shutdown=STOP_WITHIN_S,
    )
    AnnouncedServer(app, config, settings, open_browser).run(sockets=listeners)
