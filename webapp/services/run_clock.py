"""The big clock of a batch: how long in the fire, how much of the soak is left, how long it cooled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from webapp.services.batch_rows import BatchRows, aware
from webapp.services.showing import Showing, say_clock, say_duration
from webapp.services.step_rules import COOLING, IN_THE_FIRE
from webapp.store.tables import Step


@dataclass(frozen=True)
class ClockView:
    """A clock as drawn: `shown` without script; one of `since` and `until` lets it run."""

    caption: str
    shown: str
    detail: str
    since: datetime | None = None
    until: datetime | None = None


def view_clock(rows: BatchRows, now: datetime, showing: Showing) -> ClockView | None:
    """Return the clock of a batch that is in the fire or cooling; None for any other."""
    by_kind = {step.kind: step for step in rows.steps}
    if rows.batch.state == IN_THE_FIRE:
        soak = by_kind.get("soak")
        if soak is not None and soak.started_at is not None:
            planned_s = rows.plan.soak_s if rows.plan else None
            return _soak_clock(soak, aware(soak.started_at), planned_s, now, showing)
        return _since("in the fire, warming up", by_kind.get("box_in"), "put in at", now, showing)
    if rows.batch.state == COOLING:
        return _since("out of the fire", by_kind.get("box_out"), "came out at", now, showing)
    return None


def _soak_clock(
    soak: Step, began: datetime, planned_s: float | None, now: datetime, showing: Showing
) -> ClockView:
    heat = f" · {showing.temperature(soak.temperature_K)}" if soak.temperature_K is not None else ""
    if planned_s is None:
        shown = say_clock((now - began).total_seconds())
        return ClockView("in this soak so far", shown, f"since {showing.time(began)}{heat}", since=began)
    until = began + timedelta(seconds=planned_s)
    left = (until - now).total_seconds()
    shown = say_clock(left) if left >= 0 else f"{say_clock(left)} over"
    detail = (
        f"since {showing.time(began)} · out at {showing.time(until)} after {say_duration(planned_s)}{heat}"
    )
    return ClockView("left in this soak", shown, detail, until=until)


def _since(caption: str, step: Step | None, words: str, now: datetime, showing: Showing) -> ClockView | None:
    if step is None or step.started_at is None:
        return None
    began = aware(step.started_at)
    shown = say_clock((now - began).total_seconds())
    return ClockView(caption, shown, f"{words} {showing.time(began)}", since=began)
