"""One form of each kind that any page of the app shows, found by walking three logbooks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import starmap
from pathlib import Path

from fastapi.routing import APIRoute

from tests.abuse.lively_demo import fill
from tests.abuse.one_thread import OneThread, one_thread
from tests.abuse.page_walk import NEVER_SENT, TAKES_AWAY, TAKES_BACK, Field, Form, read_page, walk
from tests.web.fitted_demo import copy_fitted_demo
from tests.web.page_forms import begin
from webapp.routes import PAGES
from webapp.settings import Settings

HOURS = dict.fromkeys(("opens_at", "leaves_at", "starts_at", "query", "version"), "")
# shown only where others are let in by a passcode: `tests/web/test_gate_pages.py`, `test_gate.py` have them
PUTS_A_COPY_IN_ITS_PLACE = "/copies/put-back/"  # of the whole logbook, under a running test
BEHIND_A_PASSCODE = ("/devices/", "/pair/", "/sign-in", "/sign-out")
SELDOM_SHOWN: tuple[tuple[str, dict[str, str]], ...] = (
    # where to, and its fields beside the form's id: what a page shows only to few shops
    ("/forge/drift/1/yes", {}),
    ("/forge/drift/1/no", {}),
    ("/shop/own-lines/1/ask-again", {}),
    ("/batches/17/plan-again", {"soak": "7200 s"}),
    ("/items/1/put-right/take-back", {"version": "1"}),
    ("/plans/1/schedule/hours", HOURS),
)


def forms_of_every_page(folder: Path) -> dict[str, Form]:
    """Fill `folder/data` with the lively demo; return the forms of its pages and of two empty logbooks."""
    found = {form.kind: form for form in starmap(_by_hand, SELDOM_SHOWN)}
    copy_fitted_demo(folder / "data")
    with one_thread(Settings(data_folder=folder / "data")) as client:
        pages = fill(client)
        _note(found, _forms_of(client, "/", *pages))
        for form in list(found.values()):
            if form.method == "POST" and form.action.partition("?")[0].endswith(TAKES_AWAY):
                _note(found, _done_and_taken_back(client, form))
    for begun in (False, True):
        with one_thread(Settings(data_folder=folder / f"begun-{begun}")) as client:
            if begun:
                begin(client)
            _note(found, _forms_of(client))
    return found


def _forms_of(client: OneThread, *starts: str) -> Iterator[Form]:
    for reader in walk(client, *starts):
        yield from reader.forms


def _by_hand(action: str, fields: dict[str, str]) -> Form:
    sent = fields | {"form_id": "written-by-hand"}
    hidden = {name: Field(name, "hidden", [text]) for name, text in sent.items()}
    return Form("/", action, "POST", fields=hidden)


def _note(found: dict[str, Form], forms: Iterable[Form]) -> None:
    for form in forms:
        if form.action not in NEVER_SENT:
            found.setdefault(form.kind, form)


def _done_and_taken_back(client: OneThread, form: Form) -> Iterator[Form]:
    """Send a form that removes something, give the forms of the page that it leads to, and take it back."""
    now = read_page(form.page, client.get(form.page).text).forms
    fresh = next((one for one in now if one.kind == form.kind), form)
    sent = {name: one.sent or one.offered[:1] for name, one in fresh.fields.items()}
    answer = client.post(fresh.action, data=sent | {"why": ["the lid cracked"]})
    if not answer.is_redirect:
        return
    where = answer.headers["location"]
    for offered in read_page(where, client.get(where).text).forms:
        yield offered
        if offered.action.endswith(TAKES_BACK):
            client.post(offered.action, data={name: one.sent for name, one in offered.fields.items()})


def addresses_without_a_form(forms: dict[str, Form]) -> list[str]:
    """Return the addresses that the pages' routes take a post at and that none of these forms is sent to."""
    routes = [route for router in PAGES for route in router.routes if isinstance(route, APIRoute)]
    left_out = (*NEVER_SENT, PUTS_A_COPY_IN_ITS_PLACE, *BEHIND_A_PASSCODE)
    posted = {route.path for route in routes if "POST" in route.methods}
    taken = {path for path in posted if not path.startswith(left_out)}
    sent_to = [form.action.partition("?")[0] for form in forms.values() if form.method == "POST"]
    return sorted(
        path
        for path in taken
        if not any(re.fullmatch(re.sub(r"{[^}]*}", "[^/]+", path), to) for to in sent_to)
    )
