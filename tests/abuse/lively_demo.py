"""The fitted demo with something in every state, so that a walk over its pages meets every form."""

from __future__ import annotations

from httpx import Response

from tests.abuse.one_thread import OneThread
from tests.abuse.page_walk import read_page
from tests.web.drawn_photos import disc, plain
from tests.web.page_forms import text_of

OLD_TABLE = """Batch;Date;Heat (C);Hours;Quench;Mark;Size mm;HRC;Case depth (mm)
A{0};{0}.3.2024;900;4;oil;a;12;61;0.7
"""
FIRES = (("box_in", "at_heat"), ("box_in", "at_heat"), ("box_in", "at_heat", "box_out"), ("box_in",), ())


def fill_in(client: OneThread, page: str, ending: str, **typed: str) -> Response:
    """Open a page, fill in some fields of its form whose address ends so, and send it."""
    forms = read_page(page, client.get(page).text).forms
    form = next(one for one in forms if one.action.partition("?")[0].endswith(ending))
    sent = {name: one.sent for name, one in form.fields.items() if one.sent}
    return client.post(form.action, data={**sent, **typed})


def _taken(answer: Response) -> str:
    """Return where an answer leads, which must be that of a save."""
    assert answer.is_redirect, text_of(answer.text)
    return str(answer.headers["location"])


def table_of(day: int) -> tuple[str, bytes, str]:
    return "old.csv", OLD_TABLE.format(day).encode(), "text/csv"


def fill(client: OneThread) -> tuple[str, ...]:
    """Put something into every state; return pages that no walk would look at."""
    for page in ("/items/1", "/batches/16"):
        fields = {"form_id": f"photo-of{page.replace('/', '-')}"}
        _taken(client.post(f"{page}/photos", data=fields, files=[("chosen", ("a.jpg", plain(disc())))]))
    tables = [_taken(client.post("/bring-in", files={"table": table_of(day)})) for day in (1, 2)]
    _taken(fill_in(client, tables[0], tables[0].partition("?")[0]))
    _taken(fill_in(client, "/shop/reminders", "/reminders", what="sieve", after_days="30"))
    _taken(fill_in(client, "/shop/boxes/1/changes", "/changes", kind="box_mended"))
    _burn_fires(client)
    return tables[1], "/batches/17/gas"


def _burn_fires(client: OneThread) -> None:
    for place, actions in enumerate(FIRES):
        batch = _taken(fill_in(client, "/batches/new", "/batches/new", plan_id="1", with_pin="yes"))
        for action in actions:
            step = f"{batch}/steps/{action}"
            _taken(fill_in(client, step, step, **({"temperature_K": "910"} if action == "at_heat" else {})))
        if actions and "box_out" not in actions:
            _taken(fill_in(client, batch, "/heat-notes", noted_K="880", noted_at="2026-04-03T12:02"))
            _taken(fill_in(client, f"{batch}/events/new", "/events/new", event_kind="seal cracked"))
        if place == 0:
            _taken(fill_in(client, batch, "/pin-drawn"))
    _taken(fill_in(client, "/batches/17/gas", "/gas", before_kg="31", after_kg="29", lit_s="4"))
