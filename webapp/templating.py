"""Pages from templates: one Jinja environment, and the frame that every page stands in."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import Any, Literal

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from webapp.marks import marked, unmarked
from webapp.resources import static_folder, templates_folder
from webapp.services.showing import plural
from webapp.zone import to_wall

Theme = Literal["system", "day", "night"]
THEMES: tuple[tuple[Theme, str], ...] = (("system", "Auto"), ("day", "Day"), ("night", "Night"))
NAVIGATION = (
    ("today", "Today", "/"),
    ("plan", "Plan", "/plans"),
    ("batches", "Batches", "/logbook"),
    ("parts", "Parts", "/parts"),
    ("shop", "Shop", "/shop"),
    ("forge", "This forge", "/forge"),
)
# A page and a piece of it may share an address, and a form must never come back stale from a cache.
PAGE_HEADERS = {"Cache-Control": "no-store", "Vary": "HX-Request, Cookie"}


@dataclass(frozen=True)
class Undo:
    """What was just removed or changed, and where to send the wish to take it back."""

    text: str
    action: str
    form_id: str


@dataclass(frozen=True)
class Saved:
    """What was just saved: its time on the shop's clock, and the name of the draft that may now go."""

    at: str
    draft: str = ""


@dataclass(frozen=True)
class Shell:
    """The frame of a page: whose shop, which place in the navigation, what was just done.

    `path` is the page's own address (to come back to after the theme is switched), `now` the server's clock,
    `history` where it is told who changed what of the page's record.
    """

    shop_name: str
    now: datetime
    zone: str = "UTC"
    here: str = ""
    path: str = "/"
    theme: Theme = "system"
    marks_words: bool = True
    is_demo: bool = False
    saved: Saved | None = None
    undo: Undo | None = None
    history: str = ""
    navigation: tuple[tuple[str, str, str], ...] = field(default=NAVIGATION)
    themes: tuple[tuple[Theme, str], ...] = field(default=THEMES)


def theme_of(cookie: str | None) -> Theme:
    """Return the theme that a cookie names; anything else follows the device."""
    return next((theme for theme, _ in THEMES if theme == cookie), "system")


@cache
def asset(path: str) -> str:
    """Return the address of a static file, with its content's mark so that an update is fetched."""
    content = (static_folder() / path).read_bytes()
    return f"/static/{path}?v={hashlib.sha256(content).hexdigest()[:10]}"


def clock(moment: datetime, zone: str) -> str:
    """Return the shop's wall clock, as in 14:05."""
    return to_wall(moment, zone).strftime("%H:%M")


def day(moment: datetime, zone: str) -> str:
    """Return the shop's day, as in 3 March 2026."""
    wall = to_wall(moment, zone)
    return f"{wall.day} {wall:%B %Y}"


def iso(moment: datetime) -> str:
    """Return a moment as browsers read it."""
    return moment.isoformat(timespec="seconds")


@cache
def environment() -> Environment:
    """Return the one environment: every value escaped, every missing name an error."""
    made = Environment(
        loader=FileSystemLoader(templates_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["asset"] = asset
    made.filters.update(clock=clock, day=day, iso=iso, plural=plural)
    return made


def render(template: str, **context: Any) -> str:
    """Return a template as text: a piece of a page, or a print sheet."""
    return environment().get_template(template).render(**context)


def page(template: str, shell: Shell, status: int = 200, **context: Any) -> HTMLResponse:
    """Return a whole page in its frame; its words of the trade are marked, but for paper and the door."""
    text = render(template, shell=shell, **context)
    if shell.navigation and not template.startswith("print/"):
        text = marked(text, shell.path) if shell.marks_words else unmarked(text)
    return HTMLResponse(text, status, headers=PAGE_HEADERS)


def fragment(template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """Return a piece of a page, for htmx to swap in."""
    return HTMLResponse(render(template, **context), status, headers=PAGE_HEADERS)
