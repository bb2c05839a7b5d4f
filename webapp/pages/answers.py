"""How a page answers: a page in its frame, a redirect after a save, or both versions of a record.

A save is answered with 303 and a short-lived cookie, so that the page it leads to says "Saved 14:02"
and offers the undo, and a reload saves nothing again.
"""

from __future__ import annotations

import base64
import binascii
import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, cast
from urllib.parse import urlsplit

from fastapi import Request
from starlette.responses import RedirectResponse, Response

from webapp import templating
from webapp.dependencies import context_of
from webapp.forms.own_lines import own_values
from webapp.services.history_pages import history_of_page
from webapp.services.shop_view import ShopView, view_shop
from webapp.store.engine import read
from webapp.store.errors import ChangedMeanwhile, StoreError
from webapp.templating import Saved, Shell, Undo, clock, theme_of
from webapp.zone import to_wall

SAVED_COOKIE = "casewright_saved"
SAVED_COOKIE_LASTS_S = 20
NOT_THERE = 404
THEME_COOKIE = "theme"
WORDS_COOKIE, WORDS_OFF = "words", "off"
ONE_YEAR_s = 365 * 24 * 3600
NEW_SHOP_NAME = "casewright"
SELDOM_SHOWN = ("m", "m3", "K", "s", "id", "wt", "HRC", "low", "high")


@dataclass(frozen=True)
class MessageView:
    """A page that only says something: what happened, what to do, and the way back."""

    title: str
    what: str
    advice: str
    back: str = "/"
    back_words: str = "To the first page"
    kind: str = "warn"
    send_to: str = ""
    """Where the form was sent, if it can be sent again from the page that says so."""
    sent: tuple[tuple[str, str], ...] = ()
    """Every field of that form, as it was sent."""
    typed: tuple[tuple[str, str], ...] = ()
    """What of it people typed or picked, to be read."""


@dataclass(frozen=True)
class ConflictRow:
    """One field of a record that two tablets changed at once, in both versions."""

    label: str
    mine: str
    theirs: str
    differs: bool


def page(
    request: Request, template: str, view: Any = None, status: int = 200, here: str = "", **more: Any
) -> Response:
    """Answer with a page in its frame; the template sees `view`, `shell`, `form_id` and what `more` names.

    `here` is the page's place in the navigation (today, plan, batches, parts, shop, forge).
    """
    shell = shell_of(request, here)
    if status != NOT_THERE:
        shell = replace(shell, history=history_of_page(request.url.path))
    response = templating.page(template, shell, status, view=view, form_id=new_form_id(), **more)
    if SAVED_COOKIE in request.cookies:
        response.delete_cookie(SAVED_COOKIE, httponly=True, samesite="strict")
    return response


def part(_request: Request, template: str, view: Any = None, status: int = 200, **more: Any) -> Response:
    """Answer with a piece of a page, for htmx to put in place; a saved note waits for the next page."""
    return templating.fragment(template, status, view=view, form_id=new_form_id(), **more)


def saved(
    request: Request, location: str, draft: str = "", undo_words: str = "", undo_action: str = ""
) -> Response:
    """Answer a save: look at `location`, which says when it was saved and offers the undo.

    `draft` names the form whose typed text the browser may now forget; `undo_action` is the address
    that takes the save back by a plain POST with a form id.
    """
    at = to_wall(context_of(request).clock.now(), shop_of(request).zone)
    note = {"at": f"{at:%H:%M}", "draft": draft, "undo": undo_words, "action": undo_action}
    response: Response = RedirectResponse(location, status_code=303)
    if "hx-request" in request.headers:
        # a followed redirect would use up the note before the page that is to show it is opened
        response = Response(status_code=204, headers={"HX-Redirect": location})
    response.set_cookie(
        SAVED_COOKIE,
        base64.urlsafe_b64encode(json.dumps(note).encode()).decode(),
        max_age=SAVED_COOKIE_LASTS_S,
        httponly=True,
        samesite="strict",
    )
    return response


def keep_on_device(answer: Response, cookie: str, value: str) -> None:
    """Have a device remember a choice of its own for a year."""
    answer.set_cookie(cookie, value, max_age=ONE_YEAR_s, samesite="lax", httponly=True)


def message(request: Request, view: MessageView, status: int) -> Response:
    """Answer with a page that only says something."""
    return page(request, "pages/message.html", status=status, message=view)


def new_form_id() -> str:
    """Return a fresh one-use form id."""
    return secrets.token_urlsafe(16)


def shop_of(request: Request) -> ShopView:
    """Return the shop, read once a request; the defaults when even reading fails."""
    known = getattr(request.state, "shop", None)
    if known is None:
        try:
            with read(context_of(request).store) as session:
                known = view_shop(session)
        except StoreError:
            return ShopView()
        request.state.shop = known
    return cast(ShopView, known)


def shell_of(request: Request, here: str = "") -> Shell:
    """Return the frame of a page: the shop, the theme, and what was just saved."""
    if not may_enter(request):
        return closed_shell(request)
    shop = shop_of(request)
    note = _saved_note(request)
    can_undo = note.get("action", "").startswith("/") and not note["action"].startswith("//")
    return Shell(
        shop_name=shop.name or NEW_SHOP_NAME,
        now=context_of(request).clock.now(),
        zone=shop.zone,
        here=here,
        path=request.url.path,
        theme=theme_of(request.cookies.get(THEME_COOKIE)),
        marks_words=request.cookies.get(WORDS_COOKIE) != WORDS_OFF,
        is_demo=shop.is_demo,
        saved=Saved(note["at"], note.get("draft", "")) if note.get("at") else None,
        undo=Undo(note.get("undo", ""), note["action"], new_form_id()) if can_undo else None,
    )


def closed_shell(request: Request) -> Shell:
    """Return the frame for whoever is not signed in: nothing of the shop, and no way further in."""
    theme = theme_of(request.cookies.get(THEME_COOKIE))
    return Shell(NEW_SHOP_NAME, context_of(request).clock.now(), theme=theme, navigation=())


def may_enter(request: Request) -> bool:
    """Tell whether the guard let this one in."""
    visitor = getattr(request.state, "visitor", None)
    return visitor is not None and visitor.may_enter


def _saved_note(request: Request) -> dict[str, str]:
    try:
        note = json.loads(base64.urlsafe_b64decode(request.cookies.get(SAVED_COOKIE, "")))
    except (binascii.Error, ValueError):
        return {}
    if not isinstance(note, dict):
        return {}
    return {str(name): text for name, text in note.items() if isinstance(text, str)}


def reached_at(request: Request) -> str:
    """Return the address for codes on paper: the one tablets open, else the one this page was asked at."""
    return context_of(request).settings.tablet_url or str(request.base_url)


def came_from(request: Request) -> str:
    """Return the path of the page of ours that led here, else the first page."""
    referer = urlsplit(request.headers.get("referer", ""))
    is_ours = referer.netloc.lower() == request.headers.get("host", "").lower()
    return referer.path if is_ours and not referer.path.startswith("//") and referer.path else "/"


def changed_at(problem: ChangedMeanwhile, zone: str) -> str:
    """Return when the other one saved, on the shop's clock."""
    return clock(datetime.fromisoformat(problem.current["updated_at"]), zone)


def conflict_rows(
    problem: ChangedMeanwhile,
    labels: Mapping[str, str] | None = None,
    choices: Mapping[str, Mapping[str, str]] | None = None,
) -> list[ConflictRow]:
    """Return both versions field by field, as typed where that is known.

    `labels` names the fields, `choices` the values of those that were picked from a list.
    """
    typed_there: dict[str, Any] = problem.current.get("typed") or {}
    typed_here: dict[str, Any] = problem.mine.get("typed") or {}
    rows = []
    current = _each_own_line(problem.current)
    for name, value in _each_own_line(problem.mine).items():
        if name == "typed":
            continue
        offered = (choices or {}).get(name, {})
        theirs = _say(typed_there.get(name, current.get(name)), offered)
        mine = _say(typed_here.get(name, value), offered)
        label = (labels or {}).get(name) or field_words(name)
        rows.append(ConflictRow(label, mine, theirs, differs=value != current.get(name)))
    return rows


def _each_own_line(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return a record's fields, each answer to the shop's own lines by itself."""
    own = own_values(fields.get("own_lines") or {})
    return {**{name: value for name, value in fields.items() if name != "own_lines"}, **own}


def field_words(name: str) -> str:
    """Return a field's name as words, without its unit or the id behind it."""
    words = [word for word in name.split("_") if word not in SELDOM_SHOWN]
    return " ".join(words).capitalize()


def _say(value: Any, offered: Mapping[str, str]) -> str:
    if value in (None, "", [], {}):
        return ""
    if isinstance(value, list):
        return ", ".join(_say(each, offered) for each in value)
    if str(value) in offered:
        return offered[str(value)]
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
