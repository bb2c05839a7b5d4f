"""What the tests of the door share: an app that answers a network, its own computer and strange devices."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx import Response
from starlette.types import ASGIApp

from webapp.gate.door import Door
from webapp.settings import Settings

SHOP, TABLET, OTHER = "192.168.1.20", "192.168.1.77", "192.168.1.78"
PASSCODE = "three odd words"
CHEAP = 2**4
"""scrypt's least work, for tests of everything but the work."""


def on_a_network(settings: Settings, **more: Any) -> Settings:
    """Return settings that answer the shop's network."""
    return replace(settings, address=SHOP, passcode_cost=CHEAP, **more)


def door_of(app: FastAPI) -> Door:
    """Return the door of an app."""
    door: Door = app.state.context.door
    return door


@contextmanager
def speaking(app: ASGIApp, address: str, host: str = SHOP, scheme: str = "http") -> Iterator[TestClient]:
    """Give a browser at an address, which opened the app under a name; nothing runs beside the app."""
    client = TestClient(
        app,
        base_url=f"{scheme}://{host}:8350",
        client=(address, 50_000),
        follow_redirects=False,
        raise_server_exceptions=False,
        headers={"accept": "text/html"},
    )
    with closing(client):
        yield client


def sign_in(
    client: TestClient, passcode: str = PASSCODE, called: str = "shop tablet", way: str = "/"
) -> Response:
    """Type the passcode on a device."""
    return client.post("/sign-in", data={"passcode": passcode, "called": called, "next": way})
