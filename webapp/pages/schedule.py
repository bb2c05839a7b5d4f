"""The schedule of a plan and the run sheet of a batch, as their address asks; the hours remembered."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving
from webapp.pages.answers import MessageView, message, page, reached_at, saved
from webapp.pages.sheets import form_id_of, version_of
from webapp.services.run_sheet import view_run_sheet
from webapp.services.schedule_hours import keep_hours
from webapp.services.schedule_page import view_schedule
from webapp.services.sheets import NotAccepted
from webapp.services.shop_address import outside_address

router = APIRouter(include_in_schema=False)
HERE = "plan"


@router.get("/plans/{record_id}/schedule")
def show_schedule(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show a plan laid out on the clock."""
    view = view_schedule(session, record_id, request.query_params, shop, clock.now())
    return page(request, "pages/schedule.html", view, here=HERE)


@router.get("/batches/{record_id}/run-sheet")
def show_run_sheet(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show a batch as one sheet for the forge; the times are those of the schedule with the same query."""
    href = f"/batches/{record_id}"
    address = outside_address(shop, reached_at(request)) + href
    view = view_run_sheet(session, record_id, request.query_params, shop, clock.now(), address)
    return page(request, "print/run_sheet.html", view, here=HERE, back=href)


@router.post("/plans/{record_id}/schedule/hours")
def answer_hours(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Remember the shop's hours, as nobody had said them yet, and lay the plan out anew."""
    back = f"/plans/{record_id}/schedule"
    query = _text(raw, "query")
    location = f"{back}?{query}" if query and "\n" not in query and "\r" not in query else back
    try:
        with save(form_id_of(raw)) as work:
            opens, leaves, starts = (_text(raw, name) for name in ("opens_at", "leaves_at", "starts_at"))
            keep_hours(work, opens, leaves, starts, version_of(raw), location)
    except NotAccepted as problem:
        words = " ".join(problem.errors.values())
        view = MessageView("The hours were not kept", words, "Nothing was changed.", location, "Back")
        return message(request, view, 422)
    return saved(request, location)


def _text(raw: dict[str, Any], name: str) -> str:
    found = raw.get(name, "")
    return found if isinstance(found, str) else ""
