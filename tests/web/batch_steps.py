"""Takes a batch along its way by the forms of its pages, as a tablet would."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TypeVar

from fastapi.testclient import TestClient
from httpx import Response
from sqlmodel import select

from tests.web.page_forms import read_page_form, send
from webapp.store.engine import Store, read
from webapp.store.tables import Record

R = TypeVar("R", bound=Record)
ANSWERS: dict[str, dict[str, str]] = {
    "box_in": {},
    "at_heat": {"temperature_K": "910"},
    "box_out": {},
    "reheat": {"temperature_K": "800", "seconds": "15"},
    "quench": {},
    "temper": {"temperature_K": "180", "seconds": "1"},
    "measured": {},
}


def start(client: TestClient) -> str:
    """Start a batch with one tap; return its address."""
    return send(client, "/", "/batches").headers["location"]


def step(client: TestClient, batch: str, action: str, **typed: str) -> Response:
    """Fill in the form of one step and send it."""
    address = f"{batch}/steps/{action}"
    return send(client, address, address, **{**ANSWERS[action], **typed})


def walk(client: TestClient, batch: str, *actions: str) -> None:
    """Note steps in order, each of which must be taken."""
    for action in actions:
        answer = step(client, batch, action)
        assert answer.status_code == 303, f"{action}: {answer.text}"


def press(client: TestClient, page: str, action: str) -> Response:
    """Press a button of a page that has nothing to fill in."""
    return client.post(action, data=read_page_form(client.get(page).text, action))


def rows(store: Store, kind: type[R]) -> list[R]:
    """Return the records of a table that are not in the bin."""
    with read(store) as session:
        return list(session.exec(select(kind).where(kind.deleted_at.is_(None)).order_by(kind.id)))


def utc(moment: datetime | None) -> datetime:
    """Return a stored moment with its zone."""
    assert moment is not None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
