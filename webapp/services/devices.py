"""The page of tablets and passcode: who can open this logbook, from where, and what can be read along."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.clock import Clock
from webapp.gate.door import Door
from webapp.gate.sessions import LASTS
from webapp.gate.visitor import Visitor
from webapp.services.run_sheet import CodeView, code_of
from webapp.services.showing import Showing
from webapp.settings import Settings

HREF = "/devices"


@dataclass(frozen=True)
class DeviceView:
    """A device that is signed in."""

    name: str
    seen: str
    since: str
    is_this: bool
    href: str


@dataclass(frozen=True)
class DevicesView:
    """Who can open this logbook; `may_rule` is the computer that keeps it."""

    is_lan: bool
    is_safe: bool
    tablet_url: str
    has_passcode: bool
    asks_here: bool
    may_rule: bool
    devices: tuple[DeviceView, ...]
    this: DeviceView | None
    lasts: str = LASTS


@dataclass(frozen=True)
class PairView:
    """A code for one tablet, and the address under it."""

    address: str
    code: CodeView
    minutes: int


def view_devices(
    door: Door, settings: Settings, visitor: Visitor, clock: Clock, showing: Showing
) -> DevicesView:
    """Look at the door."""
    today = showing.local(clock.now()).date()
    own = visitor.session.number if visitor.session else None
    devices = tuple(
        DeviceView(
            name=each.name,
            seen=showing.moment(each.seen_at, on=today),
            since=showing.day(each.started_at),
            is_this=each.number == own,
            href=f"{HREF}/{each.number}",
        )
        for each in door.devices()
    )
    return DevicesView(
        is_lan=settings.is_lan,
        is_safe=settings.is_safe,
        tablet_url=settings.tablet_url,
        has_passcode=door.has_passcode,
        asks_here=door.asks_here,
        may_rule=visitor.may_rule,
        devices=devices,
        this=next((each for each in devices if each.is_this), None),
    )


def view_pair(address: str, lasts_s: float) -> PairView:
    """Return a code as it is shown."""
    return PairView(address, code_of(address), round(lasts_s / 60))
