"""The logbook: all batches, and everything of it as tables to take along."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from itertools import chain
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from webapp.context import AppContext
from webapp.dependencies import AppClock, Context, CurrentShop, Reading, RecordId
from webapp.forms.logbook import LogbookQuery, order_of
from webapp.made_file import MadeFile, made_of_pieces
from webapp.pages.answers import page
from webapp.services.batch_charts import batch_charts
from webapp.services.batch_rows import load_batch
from webapp.services.batch_view import view_batch
from webapp.services.compare import compare_batches
from webapp.services.compare_worked_out import view_worked_out
from webapp.services.export import batches_csv, readings_csv
from webapp.services.logbook import view_logbook
from webapp.services.sheets import showing_of
from webapp.services.table_text import BYTE_ORDER_MARK
from webapp.services.whole_export import write_tables

router = APIRouter(include_in_schema=False)
HERE = "batches"
ORDER_COOKIE = "casewright_order"
ONE_YEAR_S = 365 * 24 * 3600
NOT_ACCEPTED = 422
CSV = "text/csv; charset=utf-8"
Numbers = Annotated[Sequence[str], Query()]
Asked = Annotated[LogbookQuery, Query()]


@router.get("/logbook")
def show_logbook(request: Request, session: Reading, shop: CurrentShop, asked: Asked) -> Response:
    """Show all batches, or those that are asked for, in the order that this device saw last."""
    usual = order_of(request.cookies.get(ORDER_COOKIE))
    view = view_logbook(session, asked, showing_of(shop), usual)
    answer = page(request, "pages/logbook.html", view, here=HERE)
    if asked.sort and asked.sort != usual:
        answer.set_cookie(ORDER_COOKIE, asked.sort, max_age=ONE_YEAR_S, samesite="strict", httponly=True)
    return answer


@router.get("/logbook/compare")
def show_compared(
    request: Request, session: Reading, shop: CurrentShop, clock: AppClock, b: Numbers = ()
) -> Response:
    """Show two to four batches beside one another, or say what is wrong with their numbers."""
    view = compare_batches(session, b, clock.now(), showing_of(shop))
    status = NOT_ACCEPTED if view.problem else 200
    return page(request, "pages/compare.html", view, status=status, here=HERE)


@router.get("/logbook/compare/worked-out")
def show_worked_out(
    request: Request, session: Reading, shop: CurrentShop, clock: AppClock, b: Numbers = ()
) -> Response:
    """Show what is worked out of compared batches; the page of them asks for it once it stands."""
    view = view_worked_out(session, b, clock.now(), showing_of(shop))
    status = NOT_ACCEPTED if view.problem else 200
    return page(request, "pages/compare_worked_out.html", view, status=status, here=HERE)


@router.get("/batches")
def show_batches(request: Request) -> Response:
    """Lead to the logbook, which is the one list of batches."""
    asked = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"/logbook{asked}", status_code=307)


@router.get("/logbook.csv")
def send_batches(
    request: Request, context: Context, session: Reading, shop: CurrentShop, asked: Asked
) -> Response:
    """Send the batches that are asked for as a table."""
    return long_table(request, context, batches_csv(session, asked), f"{shop.name} batches")


@router.get("/readings.csv")
def send_readings(request: Request, context: Context, session: Reading, shop: CurrentShop) -> Response:
    """Send every reading as a table."""
    return long_table(request, context, readings_csv(session), f"{shop.name} readings")


@router.get("/everything.zip")
def send_everything(context: Context, session: Reading, shop: CurrentShop, clock: AppClock) -> Response:
    """Send every record of the logbook as a zip of tables."""
    write = partial(write_tables, session, clock.now())
    name = f"{plain_name(shop.name)}-everything.zip"
    return MadeFile(context.store.folder, write, "application/zip", as_file(name))


@router.get("/batches/{batch_id}/print")
def show_print_sheet(
    request: Request, batch_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show one batch as a sheet of paper, with its charts, and lines to fill in while it is open."""
    showing = showing_of(shop)
    view = view_batch(session, batch_id, clock.now(), showing)
    charts = batch_charts(load_batch(session, batch_id), showing)
    return page(request, "print/batch.html", view, here=HERE, back=view.href, charts=charts)


def long_table(request: Request, context: AppContext, pieces: Iterable[str], name: str) -> Response:
    """Answer with a table that comes in pieces and is never held whole."""
    content = chain([BYTE_ORDER_MARK.encode()], (piece.encode() for piece in pieces))
    headers = as_file(f"{plain_name(name)}.csv")
    return made_of_pieces(request, context.store.folder, content, CSV, headers)


def table_file(text: str, name: str) -> Response:
    """Answer with a table; the mark in front tells a spreadsheet that the text is UTF-8."""
    return Response(
        (BYTE_ORDER_MARK + text).encode(), media_type=CSV, headers=as_file(f"{plain_name(name)}.csv")
    )


def as_file(name: str) -> dict[str, str]:
    """Return what has a browser keep an answer as a file of this name."""
    return {"Content-Disposition": f'attachment; filename="{name}"'}


def plain_name(name: str) -> str:
    """Return a name as any disk can bear it."""
    return "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name).split()).lower()
