"""The schedule of a saved plan: its rows read, and what an address asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from urllib.parse import urlencode

from sqlmodel import Session

from model.box_cold import cold_after
from webapp.services.batch_rows import get_row
from webapp.services.box_rows import packed, work_of_part
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_no_case import NoCaseFigures
from webapp.services.plan_rows import USUAL_REHEAT_S, USUAL_TEMPER_S
from webapp.services.planning import stored_figures
from webapp.services.schedule import Hours, Laid, lay_out
from webapp.services.schedule_hours import LEAVES, OPENS, are_told, asked_hours
from webapp.services.schedule_tasks import EVENING, MOST_FIRES, COOLING_s, Run, tasks_of
from webapp.services.schedule_view import (
    Asked,
    DayView,
    StopView,
    query_of,
    view_days,
    view_stop,
)
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.services.showing import Showing
from webapp.services.soft_areas import MACHINED
from webapp.store.tables import Batch, Box, Mix, Part, Plan
from webapp.zone import field_text, read_wall_time

NO_LUTING = "lid only"
THIN_CASE_m = 0.6e-3
"""In a reheat of 20 minutes carbon moves a tenth of a millimetre, a sixth of so thin a case. Own choice."""
FURTHEST_YEARS = 20


@dataclass(frozen=True)
class ScheduleView:
    """The page of a schedule."""

    plan_id: int
    part: str
    batch_id: int | None
    batch_number: int | None
    opens_at: str
    leaves_at: str
    starts_at: str
    are_hours_told: bool
    has_own_hours: bool
    shop_version: int | None
    start: str
    address: str
    same_href: str
    paper_href: str
    carried: tuple[tuple[str, str], ...]
    mistakes: tuple[str, ...]
    days: tuple[DayView, ...]
    stop: StopView | None
    is_moved: bool
    plain_href: str


def view_schedule(
    session: Session, plan_id: int, query: Mapping[str, str], shop: ShopView, now: datetime
) -> ScheduleView:
    """Return a plan laid out on the clock as an address asks."""
    plan = get_row(session, Plan, plan_id)
    hours, own_hours, unread = asked_hours(shop, query)
    figures, batch = stored_figures(plan.result), _batch(session, query, plan_id)
    asked, mistakes, run, laid = _laid(session, plan, figures, query, hours, now)
    asked = replace(asked, carried=(*asked.carried, *own_hours))
    showing = showing_of(shop)
    pairs = query_of(asked, hours)
    plain = tuple(pair for pair in pairs if pair[0] not in asked.by_hand)
    return ScheduleView(
        plan_id=plan_id,
        part=figures.names["part"],
        batch_id=batch.id if batch else None,
        batch_number=batch.number if batch else None,
        opens_at=f"{hours.opens_at:%H:%M}",
        leaves_at=f"{hours.leaves_at:%H:%M}",
        starts_at=f"{hours.starts_at:%H:%M}" if hours.starts_at else "",
        are_hours_told=are_told(shop),
        has_own_hours=bool(own_hours),
        shop_version=shop.version,
        start=field_text(asked.start, hours.zone),
        address=asked.address,
        same_href=f"{asked.address}?{urlencode(pairs)}",
        paper_href=f"/batches/{batch.id}/run-sheet?{urlencode(pairs)}" if batch else "",
        carried=tuple(pair for pair in pairs if pair[0] not in ("start", OPENS, LEAVES, *asked.by_hand)),
        mistakes=(*unread, *mistakes),
        days=view_days(laid, asked, figures.medium, hours, showing),
        stop=_stop(laid, run, figures, asked, hours, showing),
        is_moved=bool(asked.by_hand),
        plain_href=f"{asked.address}?{urlencode(plain)}",
    )


def _batch(session: Session, query: Mapping[str, str], plan_id: int) -> Batch | None:
    """Return the batch that an address names, if it is one of this plan."""
    found = query.get("batch", "")
    if not (found.isascii() and found.isdigit() and len(found) < 16):
        return None
    batch = session.get(Batch, int(found))
    return batch if batch and batch.deleted_at is None and batch.plan_id == plan_id else None


def _laid(
    session: Session,
    plan: Plan,
    figures: PlanFigures | NoCaseFigures,
    query: Mapping[str, str],
    hours: Hours,
    now: datetime,
) -> tuple[Asked, tuple[str, ...], Run, Laid]:
    fires = query.get("fires", "")
    run = run_of(session, plan, figures, int(fires) if fires in _FIRES else 1)
    asked, mistakes = _asked(plan, run, query, hours, now)
    return asked, mistakes, run, lay_out(tasks_of(run), asked.start, asked.by_hand, hours)


_FIRES = tuple(str(number) for number in range(1, MOST_FIRES + 1))


def run_of(session: Session, plan: Plan, figures: PlanFigures | NoCaseFigures, fires: int = 1) -> Run:
    """Return what a saved plan asks of the shop."""
    temper_s = (figures.temper_s or USUAL_TEMPER_S) if figures.temper_K is not None else None
    is_ground = figures.grind_m > 0
    if isinstance(figures, NoCaseFigures):
        return Run(has_box=False, reheat_s=figures.hold_s, temper_s=temper_s, is_ground=is_ground)
    box, part = session.get(Box, plan.box_id), session.get(Part, plan.part_id)
    low_s, cool_s, high_s = _cooling(box, session.get(Mix, plan.mix_id), part, plan.temperature_K)
    reheat_s = (figures.reheat_s or USUAL_REHEAT_S) if figures.reheat_K is not None else None
    return Run(
        has_box=True,
        is_luted=box is None or box.seal != NO_LUTING,
        warm_up_low_s=figures.warm_up_s.low,
        warm_up_s=figures.warm_up_s.middle,
        warm_up_high_s=figures.warm_up_s.high,
        cool_low_s=low_s,
        cool_s=cool_s,
        cool_high_s=high_s,
        soak_s=figures.soak_s,
        clock_from=figures.clock_from,
        fires=fires,
        reheat_s=reheat_s,
        temper_s=temper_s,
        is_machined=part is not None and part.soft_kept == MACHINED,
        is_ground=is_ground,
        is_thin=figures.wanted_high_m <= THIN_CASE_m,
    )


def _cooling(
    box: Box | None, mix: Mix | None, part: Part | None, soak_K: float
) -> tuple[float, float, float]:
    """Return how long a box takes to be cold: soonest, as expected, latest; the usual where nobody knows."""
    load = (work_of_part(part),) if part else ()
    described = packed(box, mix, load) if box else None
    if described is None:
        return COOLING_s, COOLING_s, COOLING_s
    found = cold_after(described, soak_K)
    return found.low_s, found.seconds, found.high_s


def _asked(
    plan: Plan, run: Run, query: Mapping[str, str], hours: Hours, now: datetime
) -> tuple[Asked, tuple[str, ...]]:
    """Return what an address asks, and what of it could not be read."""
    keys = [task.key for task in tasks_of(run)]
    read: dict[str, datetime] = {}
    mistakes = []
    for key in ("start", *keys):
        text = query.get(key, "")
        if not text:
            continue
        moment = read_wall_time(text, hours.zone)
        if moment is None or abs(moment.year - now.year) > FURTHEST_YEARS:
            mistakes.append(f"“{text[:40]}” is not a day and time near today. The line stays as it was.")
        else:
            read[key] = moment
    start = read.pop("start", None) or usual_start(run, hours, now)
    batch = query.get("batch", "")
    carried = (("batch", batch[:16]),) if batch else ()
    return Asked(start, read, run.fires, f"/plans/{plan.id}/schedule", carried), tuple(mistakes)


def usual_start(run: Run, hours: Hours, now: datetime) -> datetime:
    """Return the next usual start that leaves the evening before it for packing."""
    evening_s = sum(task.seconds for task in tasks_of(run) if task.block == EVENING)
    day: date = hours.day(now)
    if not run.has_box and now <= hours.starting(day):
        return hours.starting(day)
    is_too_late = now + timedelta(seconds=evening_s) > hours.leaving(day)
    return hours.starting(day + timedelta(days=2 if is_too_late and evening_s else 1))


def _stop(
    laid: Laid,
    run: Run,
    figures: PlanFigures | NoCaseFigures,
    asked: Asked,
    hours: Hours,
    showing: Showing,
) -> StopView | None:
    if laid.stop is None:
        return None
    others = () if isinstance(figures, NoCaseFigures) else figures.other_heats
    hotter = [
        (showing.temperature(other.temperature_K), other.soak_s)
        for other in sorted(others, key=lambda one: one.temperature_K)
        if other.soak_s is not None and other.temperature_K > figures.temperature_K
    ]
    return view_stop(laid.stop, run, hotter, asked, hours, showing)
