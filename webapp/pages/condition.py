"""The logbook itself: where it lies, a copy of everything, the copies beside it, and putting one back."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from tempfile import mkdtemp
from time import monotonic
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, RedirectResponse, Response

from webapp.context import AppContext
from webapp.dependencies import Context, CurrentShop, RawForm, Who
from webapp.exchange import look_at, put_in_place
from webapp.forms.gate import ConfirmForm
from webapp.forms.kit import FormState, Units, blank_form, read_form
from webapp.gate.visitor import Visitor
from webapp.pages.answers import page, saved, shop_of
from webapp.pages.logbook import plain_name
from webapp.pages.sign_in import why_not
from webapp.pages.uploads import SentForm, shown_name
from webapp.services.backup import make_backup
from webapp.services.condition import copy_words, note_taken, say_counts, view_condition
from webapp.services.copy_view import LookView, view_look
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.store.copies import find_copy
from webapp.store.errors import StoreError
from webapp.store.incoming import INCOMING_FOLDER, incoming_file, keep_incoming_copy
from webapp.store.swap import ASIDE_FOLDER
from webapp.zone import to_wall

router = APIRouter(include_in_schema=False)
HERE = "shop"
READ_FOR_S = 1.0  # how long a page may read copies that nobody read yet
MAKING_FOLDER = "making"
NONE_PICKED = "No file was picked. Choose the copy on this tablet or computer."
NO_UNITS = Units()
BLANK = blank_form(ConfirmForm, NO_UNITS)
NOT_PACKED = {"Content-Encoding": "identity"}  # photos do not shrink, and a zip less


def _show(request: Request, context: AppContext, shop: ShopView, refused: str = "") -> Response:
    keeper = context.copy_keeper
    known = partial(keeper.known, until=monotonic() + READ_FOR_S)
    view = view_condition(context.store, showing_of(shop), known, keeper.trouble)
    return page(request, "pages/condition.html", view, 422 if refused else 200, here=HERE, refused=refused)


@router.get("/condition")
def show_condition(request: Request, context: Context, shop: CurrentShop) -> Response:
    """Show where the logbook lies and how it is."""
    return _show(request, context, shop)


@router.post("/copies/whole")
def send_whole(context: Context, shop: CurrentShop) -> Response:
    """Make one file of everything, check it, and send it."""
    making = context.store.folder / MAKING_FOLDER
    making.mkdir(exist_ok=True)
    aside = Path(mkdtemp(dir=making))
    now = context.clock.now()
    name = f"{plain_name(shop.name) or 'casewright'}-{to_wall(now, shop.zone):%Y-%m-%d-%H%M}.zip"
    try:
        made = make_backup(context.store.folder, aside / name, now)
        note_taken(context.store, now)
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)
        raise
    clear = BackgroundTask(shutil.rmtree, aside, ignore_errors=True)
    return FileResponse(
        made.file, filename=name, media_type="application/zip", headers=NOT_PACKED, background=clear
    )


@dataclass(frozen=True)
class Found:
    """A copy that was asked for: its file, what it is called, what it is, and where it is put back."""

    file: Path
    name: str
    what: str
    action: str


def _find(context: AppContext, place: str, name: str, called: str = "") -> Found:
    """Return a copy that lies here, or one that was sent."""
    folder, action = context.store.folder, f"/copies/put-back/{place}/{quote(name)}"
    if place == INCOMING_FOLDER:
        file = incoming_file(folder, name)
        return Found(file, called or "a file that was sent", "sent from a device", action)
    copy = find_copy(folder, place, name)
    return Found(copy.file, copy.name, copy_words(copy), action)


@router.get("/copies/file/{place}/{name}")
def send_copy(place: str, name: str, context: Context) -> Response:
    """Send a copy that lies here: the logbook without its photos."""
    copy = find_copy(context.store.folder, place, name)
    name = f"casewright-{copy.name}.db"
    return FileResponse(copy.file, filename=name, media_type="application/octet-stream", headers=NOT_PACKED)


@router.post("/copies/look")
def answer_sent(request: Request, sent: SentForm, context: Context, shop: CurrentShop) -> Response:
    """Take a copy that was sent, to be looked at; the logbook is as it was."""
    if not sent.files:
        return _show(request, context, shop, NONE_PICKED)
    called = shown_name(sent.files[0])
    key = keep_incoming_copy(context.store.folder, sent.files[0].file)
    return RedirectResponse(f"/copies/look/{INCOMING_FOLDER}/{key}?called={quote(called)}", status_code=303)


@router.get("/copies/look/{place}/{name}")
def show_look(
    request: Request,
    place: str,
    name: str,
    context: Context,
    visitor: Who,
    shop: CurrentShop,
    called: str = "",
) -> Response:
    """Check a copy from end to end and show what is in it beside what is here."""
    found = _find(context, place, name, called[:60])
    return _show_copy(request, context, shop, found, None if visitor.may_rule else BLANK)


def _show_copy(
    request: Request,
    context: AppContext,
    shop: ShopView,
    found: Found,
    state: FormState[ConfirmForm] | None,
) -> Response:
    """Show what is in a copy; `state` asks for the passcode, None does not."""
    try:
        staged = look_at(context, found.file)
    except StoreError as problem:
        return _show(request, context, shop, f"{found.name}: {problem}")
    view: LookView = view_look(context.store, staged, showing_of(shop), found.name, found.what)
    status = 422 if state and state.errors else 200
    return page(request, "pages/copy.html", view, status, here=HERE, found=found, state=state)


@router.post("/copies/put-back/{place}/{name}")
def answer_put_back(
    request: Request, place: str, name: str, raw: RawForm, context: Context, visitor: Who
) -> Response:
    """Put a copy in the place of the logbook; the undo puts back the one that stood there.

    Nothing here may hold the logbook open to read: the exchange would wait for it. A device that is not the
    computer with the logbook gives the passcode again.
    """
    found = _find(context, place, name, str(raw.get("called", ""))[:60])
    if not visitor.may_rule:
        state = _confirmed(context, visitor, raw)
        if state.value is None:
            return _show_copy(request, context, shop_of(request), found, state)
    try:
        restored = put_in_place(context, found.file, found.name)
    except StoreError as problem:
        return _show(request, context, shop_of(request), f"{found.name}: {problem}")
    request.state.shop = None  # it was read from the logbook that stood here before
    undo = f"/copies/put-back/{ASIDE_FOLDER}/{restored.aside.name}" if restored.aside else ""
    words = f"{say_counts(restored.staged.counts).capitalize()} came back."
    return saved(request, "/condition", undo_words=words, undo_action=undo)


def _confirmed(context: AppContext, visitor: Visitor, raw: RawForm) -> FormState[ConfirmForm]:
    """Return the form of the passcode, refused unless it is the right one."""
    state = read_form(ConfirmForm, raw, NO_UNITS)
    if state.value is None:
        return state
    answer = context.door.confirm(state.value.passcode, visitor.address)
    return state if answer.token else state.with_errors({"passcode": why_not(answer)})
