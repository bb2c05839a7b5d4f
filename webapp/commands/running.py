"""Running the app on the ports that are taken: its server, what it announces, the browser it opens."""

from __future__ import annotations

import asyncio
import socket
import threading
import webbrowser

import typer
import uvicorn
from fastapi import FastAPI

from webapp.app import create_app
from webapp.clock import SystemClock
from webapp.commands.passcode import show_code
from webapp.commands.patient_server import (
    KEPT_OPEN_S,
    LARGEST_HEAD_BYTES,
    MOST_AT_ONCE,
    STOP_WITHIN_S,
    PatientProtocol,
)
from webapp.freed_memory import give_back_now_and_then
from webapp.gate.door import Door
from webapp.settings import Settings
from webapp.warm_up import warm_up

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
        self._warming = asyncio.create_task(warm_up(self.app, lambda: self.should_exit, self.is_asked))
        self._giving_back = asyncio.create_task(give_back_now_and_then())

    def is_asked(self) -> bool:
        """Tell whether somebody waits for an answer just now."""
        return bool(self.server_state.tasks)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let the page that is being got ready come to its end, as it reads the logbook, then stop."""
        if self._giving_back is not None:
            self._giving_back.cancel()
        if self._warming is not None:
            await asyncio.wait([self._warming], timeout=STOP_WITHIN_S)
            self._warming.cancel()
        await super().shutdown(sockets)


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
