"""The big clock of a batch: how long in the fire, how much of the soak is left, how long it cooled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from model.units import HOUR_s
from webapp.services.batch_rows import BatchRows, aware
from webapp.services.settings_of import soak_seconds
from webapp.services.showing import Showing, say_clock, say_duration
from webapp.services.soak_pauses import Pause, open_pause, paused_s, pauses_of
from webapp.services.step_rules import CLOCKS_DIFFER, COOLING, HARDENED, IN_THE_FIRE
from webapp.store.tables import Step

NO_TIME = "–:––"
TEMPER_WITHIN_S = HOUR_s
"""A quenched case is tempered without delay: it can crack by itself. Common practice, no source."""
TEMPER_ASKED_FOR_S = 24 * HOUR_s  # after a day the clock has nothing left to warn of


@dataclass(frozen=True)
class ClockView:
    """A clock as drawn: `shown` without script; one of `since` and `until` lets it run.

    `due` is what is due when `until` comes, and `is_due` that it has come; a clock that is `stopped` stands.
    """

    caption: str
    shown: str
    detail: str
    since: datetime | None = None
    until: datetime | None = None
    due: str = ""
    is_due: bool = False
    stopped: bool = False


def view_clock(rows: BatchRows, now: datetime, showing: Showing) -> ClockView | None:
    """Return the clock of a batch that is in the fire, cooling or waits for its temper; None for others."""
    by_kind = {step.kind: step for step in rows.steps}
    ahead = noted_ahead(rows, now)
    if ahead is not None and rows.batch.state in (IN_THE_FIRE, COOLING, HARDENED):
        return _distrusted(ahead, now, showing)
    if rows.batch.state == IN_THE_FIRE:
        soak = by_kind.get("soak")
        if soak is not None and soak.started_at is not None:
            return _soak_clock(rows, soak, now, showing)
        return _since("in the fire, warming up", by_kind.get("box_in"), "put in at", now, showing)
    if rows.batch.state == COOLING:
        return _since("out of the fire", by_kind.get("box_out"), "came out at", now, showing)
    if rows.batch.state == HARDENED and "temper" not in by_kind:
        return _temper_clock(by_kind.get("quench"), now, showing)
    return None


def noted_ahead(rows: BatchRows, now: datetime) -> datetime | None:
    """Return the last moment noted of a batch if it has not come yet: the computer's clock went back."""
    kept = [rows.batch, *rows.steps, *rows.heat_notes, *rows.fire_events]
    moments = [row.updated_at for row in kept] + [step.started_at for step in rows.steps if step.started_at]
    last = max(aware(moment) for moment in moments)
    return last if last > now + CLOCKS_DIFFER else None


def _distrusted(noted: datetime, now: datetime, showing: Showing) -> ClockView:
    """Return a clock that shows no time, for there is none to trust."""
    detail = (
        f"the computer that keeps the logbook says {showing.time(now)}, but something was noted at "
        f"{showing.time(noted)}. Nothing is lost: put its clock right"
    )
    return ClockView("no clock: the time went back", NO_TIME, detail, stopped=True)


def planned_soak_s(rows: BatchRows, soak: Step | None) -> float | None:
    """Return how long the soak is to be [s]: as set at the fire, as in the batch it repeats, as planned."""
    again = soak.settings.get("planned_s") if soak else None
    if again:
        return float(again)
    return soak_seconds(rows.as_steps) or (rows.plan.soak_s if rows.plan else None)


def soak_so_far_s(rows: BatchRows, began: datetime, now: datetime) -> float:
    """Return how long the soak has lasted by its clock, which stands while the fire is out [s]."""
    return (now - began).total_seconds() - paused_s(pauses_of(rows.fire_events), began, now)


def _soak_clock(rows: BatchRows, soak: Step, now: datetime, showing: Showing) -> ClockView:
    assert soak.started_at is not None  # looked at by the caller
    began, pauses = aware(soak.started_at), pauses_of(rows.fire_events)
    so_far_s, lost_s = soak_so_far_s(rows, began, now), paused_s(pauses, began, now)
    planned_s = planned_soak_s(rows, soak)
    out = open_pause(pauses)
    if out is not None:
        return _stopped_clock(out, so_far_s, planned_s, showing)
    detail = f"since {showing.time(began)}{_lost(lost_s)}{_heat(soak, showing)}"
    if planned_s is None:
        since = began + timedelta(seconds=lost_s)
        return ClockView("in this soak so far", say_clock(so_far_s), detail, since=since)
    until = began + timedelta(seconds=planned_s + lost_s)
    left = (until - now).total_seconds()
    shown = say_clock(left) if left >= 0 else f"{say_clock(left)} over"
    detail = (
        f"since {showing.time(began)} · out at {showing.time(until)} after {say_duration(planned_s)}"
        f"{_lost(lost_s)}{_heat(soak, showing)}"
    )
    words = "The soak is up: box out, or hold on"
    return ClockView("left in this soak", shown, detail, until=until, due=words, is_due=left <= 0)


def _stopped_clock(out: Pause, so_far_s: float, planned_s: float | None, showing: Showing) -> ClockView:
    """Return a clock that stands while the fire is out."""
    detail = f"stopped since {showing.time(out.began)}: {out.kind}"
    if planned_s is None:
        return ClockView("in this soak, clock stopped", say_clock(so_far_s), detail, stopped=True)
    shown = say_clock(max(planned_s - so_far_s, 0.0))
    return ClockView("left in this soak, clock stopped", shown, detail, stopped=True)


def _lost(lost_s: float) -> str:
    return f" · {say_duration(lost_s)} without fire not counted" if lost_s else ""


def _heat(soak: Step, showing: Showing) -> str:
    return f" · {showing.temperature(soak.temperature_K)}" if soak.temperature_K is not None else ""


def _temper_clock(quench: Step | None, now: datetime, showing: Showing) -> ClockView | None:
    """Return the clock from quench to temper, for as long as it has anything to say."""
    if quench is None or quench.started_at is None:
        return None
    began = aware(quench.started_at)
    waited_s = (now - began).total_seconds()
    if waited_s > TEMPER_ASKED_FOR_S:
        return None
    until = began + timedelta(seconds=TEMPER_WITHIN_S)
    left = (until - now).total_seconds()
    shown = say_clock(left) if left >= 0 else f"{say_clock(left)} over"
    detail = f"quenched at {showing.time(began)} · temper within the hour, it can crack by itself"
    words = "Into the temper now"
    return ClockView("left until the temper", shown, detail, until=until, due=words, is_due=left <= 0)


def _since(caption: str, step: Step | None, words: str, now: datetime, showing: Showing) -> ClockView | None:
    if step is None or step.started_at is None:
        return None
    began = aware(step.started_at)
    shown = say_clock((now - began).total_seconds())
    return ClockView(caption, shown, f"{words} {showing.time(began)}", since=began)
