"""The run sheet of a batch: one page for the forge: what is in the box, when, what to tick, what can hurt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import segno
from sqlmodel import Session

from webapp.services.batch_rows import BatchRows, load_batch
from webapp.services.batch_view import BatchView, view_batch
from webapp.services.box_drawing import BoxDrawing, draw_box
from webapp.services.box_fill import fill_box
from webapp.services.own_lines import own_lines_open
from webapp.services.plan_rows import USUAL_HEAT_K
from webapp.services.schedule import lay_out
from webapp.services.schedule_hours import hours_of
from webapp.services.schedule_page import NO_LUTING, ScheduleView, usual_start, view_schedule
from webapp.services.schedule_tasks import Run, tasks_of
from webapp.services.schedule_view import Asked, DayView, LineView, StopView, view_days
from webapp.services.sheets import Line, showing_of
from webapp.services.shop_address import only_here
from webapp.services.shop_cautions import Caution
from webapp.services.shop_view import ShopView
from webapp.services.showing import Showing
from webapp.services.steel_marks import KEEP_OFF, TAGS_LATER
from webapp.services.words import sizes_text
from webapp.store.tables import Part

QUIET_ZONE = 4  # white modules round a code, as ISO/IEC 18004 asks
DENSITIES = (("roomy", 17), ("dense", 24))
DENSEST = "densest"
"""Lines that fit one sheet of Letter at each; tried by printing. Own choice."""
AS_BEFORE = (Caution("as_before", "As at the first fire", "", ""),)
NO_TIMES = "No plan: write the times in"


@dataclass(frozen=True)
class CodeView:
    """A QR code: how many modules wide with its white edge, and its dark modules as a path."""

    size: int
    path: str


@dataclass(frozen=True)
class RunSheetView:
    """The run sheet of one batch."""

    batch: BatchView
    address: str
    only_here: str
    code: CodeView
    box: BoxDrawing
    box_size: str
    pack: tuple[Line, ...]
    vent: str
    days: tuple[DayView, ...]
    stop: StopView | None
    density: str
    marks: tuple[str, ...]
    to_note: tuple[str, ...]
    """The shop's own lines about the batch that are asked and not answered yet."""
    mark_advice: str = f"{KEEP_OFF} {TAGS_LATER}"


def view_run_sheet(
    session: Session, batch_id: int, query: Mapping[str, str], shop: ShopView, now: datetime, address: str
) -> RunSheetView:
    """Return the run sheet of a batch, its times as the address of its schedule asks."""
    rows, showing = load_batch(session, batch_id), showing_of(shop)
    parts = {part.id: part for item in rows.items if (part := session.get(Part, item.part_id or 0))}
    known = {part_id: part for part_id, part in parts.items() if part_id is not None}
    heat_K = rows.plan.temperature_K if rows.plan else USUAL_HEAT_K
    pack, vent = fill_box(rows.box, rows.mix, rows.items, known, heat_K, showing)
    days, stop = _when(session, rows, query, shop, now, showing)
    box = rows.box
    batch = view_batch(session, batch_id, now, showing)
    return RunSheetView(
        batch=batch,
        address=address,
        only_here=only_here(address),
        code=code_of(address),
        box=draw_box(box, rows.items, known),
        box_size=sizes_text(showing, (box.inner_length_m, box.inner_width_m, box.inner_height_m)),
        pack=pack,
        vent=vent,
        days=days,
        stop=stop,
        density=density_of(days),
        marks=tuple(dict.fromkeys(item.steel.how for item in batch.items if item.steel)),
        to_note=own_lines_open(rows.own_lines, "batch", rows.batch),
    )


def density_of(days: tuple[DayView, ...]) -> str:
    """Return how close the lines of a run must stand for one sheet of either paper."""
    lines = sum(len(day.lines) for day in days)
    return next((name for name, most in DENSITIES if lines <= most), DENSEST)


def said_once(days: tuple[DayView, ...]) -> tuple[DayView, ...]:
    """Return days whose later fires point back to the first, but for the ticks at light-up."""
    return tuple(replace(day, lines=tuple(_pointing_back(line) for line in day.lines)) for day in days)


def _pointing_back(line: LineView) -> LineView:
    kind, _, number = line.key.rpartition("_")
    if not number.isdigit():
        return line
    return replace(
        line, cautions=AS_BEFORE if line.cautions else (), checks=line.checks if kind == "light" else ()
    )


def code_of(address: str) -> CodeView:
    """Return the QR code of an address, a fifth of which may be smudged."""
    matrix = segno.make(address, error="m", micro=False).matrix
    dark = (
        f"M{column + QUIET_ZONE} {row + QUIET_ZONE}h1v1h-1z"
        for row, modules in enumerate(matrix)
        for column, module in enumerate(modules)
        if module
    )
    return CodeView(len(matrix) + 2 * QUIET_ZONE, "".join(dark))


def _when(
    session: Session,
    rows: BatchRows,
    query: Mapping[str, str],
    shop: ShopView,
    now: datetime,
    showing: Showing,
) -> tuple[tuple[DayView, ...], StopView | None]:
    """Return the schedule's days; without a plan the same lines with no times."""
    if rows.plan is None or rows.plan.id is None:
        return _without_times(rows, shop, now, showing), None
    found: ScheduleView = view_schedule(session, rows.plan.id, query, shop, now)
    return said_once(found.days), found.stop


def _without_times(rows: BatchRows, shop: ShopView, now: datetime, showing: Showing) -> tuple[DayView, ...]:
    run = Run(has_box=True, is_luted=rows.box.seal != NO_LUTING, reheat_s=0.0, temper_s=0.0)
    hours = hours_of(shop)
    start = usual_start(run, hours, now)
    laid = lay_out(tasks_of(run), start, {}, hours)
    days = view_days(laid, Asked(start, {}, 1, ""), "oil", hours, showing)
    blank = (replace(line, time="", band="", note="", lasts="") for day in days for line in day.lines)
    return (DayView(NO_TIMES, tuple(blank)),)
