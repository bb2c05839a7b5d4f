"""What answers in place of the app when the logbook is damaged: what is wrong, and the copies to go back to.

It opens no logbook and changes nothing until a copy was chosen; then the damaged files are set aside whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route

from webapp.clock import Clock
from webapp.gate.visitor import is_from_here
from webapp.resources import static_folder
from webapp.services.condition import copy_words, megabytes, say_counts
from webapp.services.restore import begin_anew, restore
from webapp.services.showing import Showing
from webapp.settings import Settings
from webapp.static_files import KeptStaticFiles
from webapp.store.copies import find_copy, is_whole, list_copies
from webapp.store.damage import Damage
from webapp.store.errors import StoreError
from webapp.store.swap import ASIDE_FOLDER
from webapp.templating import PAGE_HEADERS, render

OUT_OF_ORDER = 503
GOOD_ENOUGH = 3  # so many good copies are looked for; the rest are named
API_PATH = "/api/"
ELSEWHERE = "The logbook is damaged. Go to the computer that keeps it: good copies are offered there."
METHODS = ["GET", "POST", "PUT", "PATCH", "DELETE"]


@dataclass(frozen=True)
class Offer:
    """A good copy that can be gone back to."""

    when: str
    what: str
    megabytes: str
    action: str
    file: Path


def good_copies(folder: Path) -> tuple[Offer, ...]:
    """Return the newest copies that check out; a logbook that somebody chose to replace comes last."""
    showing = Showing("C", "mm", ZoneInfo("UTC"))
    found: list[Offer] = []
    for copy in sorted(list_copies(folder), key=lambda one: one.place == ASIDE_FOLDER):
        if len(found) < GOOD_ENOUGH and is_whole(copy):
            when = f"{showing.moment(copy.made_at)} UTC"
            action = f"/rescue/{copy.place}/{copy.name}"
            found.append(Offer(when, copy_words(copy), megabytes(copy.size), action, copy.file))
    return tuple(found)


def rescue_app(settings: Settings, damage: Damage, clock: Clock, done: Callable[[], None]) -> Starlette:
    """Return the app; `done` is called once a logbook stands again. Another device is only told to wait."""
    folder, show = settings.data_folder, partial(_show, settings, damage)

    def put_in_place(request: Request, act: Callable[[], str]) -> Response:
        return _put_in_place(request, settings, show, done, act)

    def show_page(request: Request) -> Response:
        return show(request)

    def go_back(request: Request) -> Response:
        place, name = request.path_params["place"], request.path_params["name"]
        return put_in_place(request, lambda: _restored(folder, place, name, clock))

    def begin(request: Request) -> Response:
        return put_in_place(request, lambda: _begun(folder, clock))

    return Starlette(
        routes=[
            Mount("/static", KeptStaticFiles(directory=static_folder())),
            Route("/rescue/empty", begin, methods=["POST"]),
            Route("/rescue/{place}/{name}", go_back, methods=["POST"]),
            Route("/{path:path}", show_page, methods=METHODS),
        ]
    )


def _restored(folder: Path, place: str, name: str, clock: Clock) -> str:
    found = restore(find_copy(folder, place, name).file, folder, clock.now(), name)
    return f"The copy stands: {say_counts(found.staged.counts)}. The damaged files lie in {found.aside}."


def _begun(folder: Path, clock: Clock) -> str:
    return f"An empty logbook stands. The damaged files lie in {begin_anew(folder, clock.now())}."


def _put_in_place(
    request: Request,
    settings: Settings,
    show: Callable[..., Response],
    done: Callable[[], None],
    act: Callable[[], str],
) -> Response:
    if not is_from_here(request.scope, settings):
        return show(request)
    try:
        words = act()
    except StoreError as problem:
        return show(request, problem=str(problem))
    done()
    return HTMLResponse(render("pages/rescued.html", words=words), headers=PAGE_HEADERS)


def _show(settings: Settings, damage: Damage, request: Request, problem: str = "") -> Response:
    is_here = is_from_here(request.scope, settings)
    if request.url.path.startswith(API_PATH):
        return JSONResponse({"detail": damage.words if is_here else ELSEWHERE}, OUT_OF_ORDER)
    offers = good_copies(settings.data_folder) if is_here else ()
    told = {
        "damage": damage,
        "offers": offers,
        "problem": problem,
        "is_here": is_here,
        "elsewhere": ELSEWHERE,
    }
    html = render("pages/rescue.html", folder=str(settings.data_folder), **told)
    return HTMLResponse(html, OUT_OF_ORDER, headers=PAGE_HEADERS)
