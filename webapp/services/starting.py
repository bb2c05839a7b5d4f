"""How a logbook begins: an empty one with a usual shop in it, or the invented demo; and how the demo ends."""

from __future__ import annotations

import os
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from sqlmodel import Session, delete

from webapp.forms.ask import Choice
from webapp.forms.welcome import ShopForm, ShopSettingsForm
from webapp.services.schedule_hours import hours_problem
from webapp.services.sheets import NotAccepted
from webapp.services.shop_address import read_address
from webapp.services.shop_view import SHOP_ID, ShopView, view_shop
from webapp.services.usual_shop import add_usual_shop
from webapp.store.backup import copy_database, copy_path
from webapp.store.engine import Store
from webapp.store.tables import FormUse, Shop, metadata
from webapp.store.unit_of_work import UnitOfWork
from webapp.zone import is_zone

USUAL_NAME = "My shop"
FALLBACK_ZONE = "UTC"
LOCAL_TIME_LINK = Path("/etc/localtime")
ZONE_FOLDER = "zoneinfo/"


def zone_choices() -> dict[str, tuple[Choice, ...]]:
    """Return every time zone, by name."""
    return {"zone": tuple(Choice(name, name.replace("_", " ")) for name in sorted(available_timezones()))}


def machine_zone() -> str:
    """Return the time zone this computer is set to, UTC where it does not say."""
    link = str(LOCAL_TIME_LINK.resolve())
    for name in (os.environ.get("TZ", "").lstrip(":"), link.partition(ZONE_FOLDER)[2]):
        if name and is_zone(name):
            return name
    return FALLBACK_ZONE


def usual_answers() -> dict[str, Any]:
    """Return what the first form offers, so that one tap is enough."""
    return {"name": USUAL_NAME, "zone": machine_zone()}


def shop_values(shop: ShopView) -> dict[str, Any]:
    """Return the shop as its form takes it."""
    return {name: getattr(shop, name) for name in ShopSettingsForm.model_fields}


def start_empty_logbook(work: UnitOfWork, form: ShopForm) -> None:
    """Set up the shop with usual things in it; a logbook that has a shop already stays as it is."""
    _check_zone(form)
    work.answered_at("/")
    if work.session.get(Shop, SHOP_ID) is not None:
        return
    work.add(Shop(id=SHOP_ID, **form.model_dump(), created_at=work.now, updated_at=work.now))
    add_usual_shop(work)


def change_shop(work: UnitOfWork, form: ShopSettingsForm, version: int | None) -> None:
    """Save the shop's name, units, zone, hours and address."""
    _check_zone(form)
    problem = hours_problem(form.opens_at, form.leaves_at, form.starts_at)
    if problem is not None:
        raise NotAccepted(dict([problem]))
    fields = {**form.model_dump(), "address": read_address(form.address)}
    work.change(work.get(Shop, SHOP_ID), version=version, **fields)
    work.answered_at("/shop")


def load_demo(store: Store, now: datetime) -> None:
    """Build the invented shop in this logbook, which must be empty."""
    # the builder needs the whole model, so it is loaded only when it is wanted
    import_module("webapp.demo").build_demo(store, now)


def copy_demo(store: Store, now: datetime) -> None:
    """Keep a copy of the logbook beside it before the demo is taken out."""
    copy_database(store.file, copy_path(store.folder, "before-leaving-the-demo", now))


def leave_demo(work: UnitOfWork) -> None:
    """Take every invented record out, so that a real logbook can begin; a real one is never touched."""
    work.answered_at("/welcome")
    if not view_shop(work.session).is_demo:
        return
    clear_tables(work.session)


def clear_tables(session: Session) -> None:
    """Delete all rows, children before parents; the one-use form ids stay."""
    for table in reversed(metadata.sorted_tables):
        if table.name != FormUse.__tablename__:
            session.execute(delete(table))


def _check_zone(form: ShopForm) -> None:
    if not is_zone(form.zone):
        raise NotAccepted({"zone": "That is not a time zone. Pick one from the list."})
