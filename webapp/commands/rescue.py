"""Before the app: offer the good copies of a damaged logbook."""

from __future__ import annotations

import socket
from collections.abc import Sequence

import typer
import uvicorn
from starlette.types import ASGIApp

from webapp.clock import SystemClock
from webapp.rescue import good_copies, rescue_app
from webapp.security import OnlyKnownHosts, SafeHeaders
from webapp.settings import Settings
from webapp.store.damage import Damage, keep_what_reads

STOP_WITHIN_S = 3


def rescued(settings: Settings, listeners: Sequence[socket.socket], damage: Damage) -> bool:
    """Serve the page of the good copies until one was chosen; return False if it was stopped before."""
    folder, clock = settings.data_folder, SystemClock()
    if damage.is_readable:
        keep_what_reads(folder, clock.now())
    say_damage(settings, damage)
    is_done = False

    def done() -> None:
        nonlocal is_done
        is_done = server.should_exit = True

    app: ASGIApp = rescue_app(settings, damage, clock, done)
    guarded = SafeHeaders(OnlyKnownHosts(app, settings))
    config = uvicorn.Config(
        guarded,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="none",
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.key,
        timeout_graceful_shutdown=STOP_WITHIN_S,
    )
    server = uvicorn.Server(config)
    # the server closes what it is given, and the app is to answer at the same address next
    server.run(sockets=[listener.dup() for listener in listeners])
    if is_done:
        typer.echo("A logbook stands again.")
    return is_done


def say_damage(settings: Settings, damage: Damage) -> None:
    """Say in the window what the page says."""
    typer.echo(damage.words, err=True)
    offers = good_copies(settings.data_folder)
    for offer in offers:
        typer.echo(f"A good copy: {offer.when}, {offer.what}: {offer.file}", err=True)
    if not offers:
        typer.echo("There is no good copy beside it. A copy of everything can be put back.", err=True)
    typer.echo(
        f"Choose one at {settings.url}, or stop this and run: casewright restore FILE --data "
        f"{settings.data_folder}. The damaged files are kept.",
        err=True,
    )
