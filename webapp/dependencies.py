"""What a page may ask for by its type: the open logbook to read, a way to save, the shop, the clock.

@router.get("/boxes/{box_id}")
def show_box(request: Request, box_id: RecordId, session: Reading, shop: CurrentShop) -> Response: ...

@router.post("/boxes")
def add_box(request: Request, raw: RawForm, save: Saving, units: ShopUnits) -> Response:
    state = read_form(BoxForm, raw, units)
    ...
    with save(state.form_id) as work:
        location = boxes.add_box(work, state.value)
        work.answered_at(location)
    return saved(request, location)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from functools import partial
from typing import Annotated, Any, Literal, cast

from fastapi import Depends, Path, Request
from sqlmodel import Session

from webapp.clock import Clock
from webapp.context import AppContext
from webapp.forms.ask import Units
from webapp.forms.kit import raw_of
from webapp.gate.sessions import clean_name
from webapp.gate.visitor import Visitor
from webapp.security import MOST_BODY_BYTES, SAFE_METHODS
from webapp.services.shop_view import ShopView, view_shop
from webapp.store.engine import read
from webapp.store.unit_of_work import Actor, UnitOfWork, write

DEVICE_COOKIE = "casewright_device"
THIS_COMPUTER = "this computer"
LARGEST_ID = 2**53
MOST_FIELDS, MOST_FILES = 1000, 10

RecordId = Annotated[int, Path(ge=1, le=LARGEST_ID)]


def context_of(request: Request) -> AppContext:
    """Return what this app holds."""
    return cast(AppContext, request.app.state.context)


def visitor_of(request: Request) -> Visitor:
    """Return who asks, as the guard found."""
    return cast(Visitor, request.state.visitor)


# What hands on what the app holds asks for the request alone: FastAPI goes through all that a dependency asks
# for anew for each page that has it, at the start, and through all of it at each request. It is a coroutine
# where it waits for nothing: a plain function is called in a thread of the pool, which takes longer.
async def get_context(request: Request) -> AppContext:
    """Return what this app holds."""
    return context_of(request)


async def get_clock(request: Request) -> Clock:
    """Return the app's clock."""
    return context_of(request).clock


def open_reading(request: Request) -> Iterator[Session]:
    """Give a session on one steady snapshot, closed before the answer is sent."""
    with read(context_of(request).store) as session:
        yield session


async def get_visitor(request: Request) -> Visitor:
    """Return who asks, as the guard found."""
    return visitor_of(request)


def device_of(request: Request) -> str:
    """Return what this tablet or computer is called: its session says, else it is the one with the book."""
    told, session = request.cookies.get(DEVICE_COOKIE, ""), visitor_of(request).session
    return session.name if session else clean_name(told or THIS_COMPUTER)


Saver = Callable[[str | None], AbstractContextManager[UnitOfWork]]


async def get_saver(request: Request) -> Saver:
    """Return `save(form_id)`, which opens the unit of work of one answer."""
    context = context_of(request)
    return partial(write, context.store, Actor(device_of(request)), context.clock.now())


Context = Annotated[AppContext, Depends(get_context)]
Reading = Annotated[Session, Depends(open_reading, scope="function")]
Who = Annotated[Visitor, Depends(get_visitor)]


def get_shop(request: Request, session: Reading) -> ShopView:
    """Return the shop of this logbook, which the frame of a page that saves nothing needs as well."""
    shop = view_shop(session)
    if request.method in SAFE_METHODS:
        request.state.shop = shop
    return shop


CurrentShop = Annotated[ShopView, Depends(get_shop)]


async def get_units(shop: CurrentShop) -> Units:
    """Return the units and the zone in which the shop writes."""
    return Units(
        temperature=cast(Literal["C", "F"], shop.temperature_unit),
        length=cast(Literal["mm", "in"], shop.length_unit),
        mass="oz" if shop.length_unit == "in" else "g",
        zone=shop.zone,
    )


async def get_raw_form(request: Request) -> dict[str, str | list[str]]:
    """Return the fields of the form that was sent, as typed."""
    async with request.form(
        max_part_size=MOST_BODY_BYTES, max_fields=MOST_FIELDS, max_files=MOST_FILES
    ) as form:
        raw = raw_of(form)
    request.state.typed = raw  # what a page of refusal hands back
    return raw


AppClock = Annotated[Clock, Depends(get_clock)]
Saving = Annotated[Saver, Depends(get_saver)]
ShopUnits = Annotated[Units, Depends(get_units)]
RawForm = Annotated[dict[str, Any], Depends(get_raw_form)]
