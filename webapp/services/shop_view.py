"""The shop as every page sees it: its name, its units, its zone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time

from sqlmodel import Session

from webapp.store.tables import Shop

SHOP_ID = 1


@dataclass(frozen=True)
class ShopView:
    """The one shop of this logbook; `is_set_up` is false while the logbook is empty.

    opens_at, leaves_at, starts_at : on the shop's own clock, when work may begin, when one goes home and when
        a fire is usually lit; None while nobody said
    address : what the shop's other devices call this computer
    mark_habit : the one kind of mark that is cut into its pieces; empty: by their size
    """

    name: str = ""
    zone: str = "UTC"
    temperature_unit: str = "C"
    length_unit: str = "mm"
    is_demo: bool = False
    is_set_up: bool = False
    version: int | None = None
    opens_at: time | None = None
    leaves_at: time | None = None
    starts_at: time | None = None
    address: str = ""
    mark_habit: str = ""


def view_shop(session: Session) -> ShopView:
    """Return the shop of this logbook, or the defaults while there is none."""
    shop = session.get(Shop, SHOP_ID)
    if shop is None:
        return ShopView()
    return ShopView(
        name=shop.name,
        zone=shop.zone,
        temperature_unit=shop.temperature_unit,
        length_unit=shop.length_unit,
        is_demo=shop.is_demo,
        is_set_up=True,
        version=shop.version,
        opens_at=shop.opens_at,
        leaves_at=shop.leaves_at,
        starts_at=shop.starts_at,
        address=shop.address,
        mark_habit=shop.mark_habit,
    )
