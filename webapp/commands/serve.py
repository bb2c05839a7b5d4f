"""`casewright serve`: holds the data folder and the port, runs the app, opens the browser."""

from __future__ import annotations

import errno
import socket
import sys
import threading
import webbrowser
from contextlib import closing
from pathlib import Path

import typer
import uvicorn

from webapp.app import create_app
from webapp.settings import Settings
from webapp.store.errors import StoreError
from webapp.store.folder_lock import hold_folder

STOP_WITHIN_S = 3
WAITING_CONNECTIONS = 128


class PortTaken(Exception):
    """Another program answers on the port; `str()` is fit to show."""


class AnnouncedServer(uvicorn.Server):
    """A server that says its address once it answers, and opens the browser there."""

    def __init__(self, config: uvicorn.Config, url: str, open_browser: bool) -> None:
        """Hold what to announce."""
        super().__init__(config)
        self.url, self.open_browser = url, open_browser

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then announce."""
        await super().startup(sockets)
        typer.echo(f"casewright is ready at {self.url}  (stop it with Ctrl+C)")
        if self.open_browser:
            threading.Thread(target=webbrowser.open, args=(self.url,), daemon=True).start()


def serve(data_folder: Path, host: str, port: int, open_browser: bool) -> None:
    """Run the app until it is stopped."""
    try:
        with closing(listen(host, port)) as listener:
            settings = Settings(data_folder, host, listener.getsockname()[1])
            with hold_folder(settings.data_folder, settings.url):
                run_app(settings, listener, open_browser)
    except (StoreError, PortTaken) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error


def listen(host: str, port: int) -> socket.socket:
    """Take the port before anything else is opened; 0 takes a free one."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there the same switch would let two programs share the port
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen(WAITING_CONNECTIONS)
    except OSError as error:
        listener.close()
        why = "is taken by another program" if error.errno == errno.EADDRINUSE else "cannot be used"
        raise PortTaken(f"Port {port} {why}. Choose another one with --port.") from error
    return listener


def run_app(settings: Settings, listener: socket.socket, open_browser: bool) -> None:
    """Serve on the port that is taken already."""
    config = uvicorn.Config(
        create_app(settings),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        # an open keep-alive connection must not hold up a stop
        timeout_graceful_shutdown=STOP_WITHIN_S,
    )
    AnnouncedServer(config, settings.url, open_browser).run(sockets=[listener])
