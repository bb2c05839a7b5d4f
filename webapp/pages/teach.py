"""The coupon that would teach most: a panel for This forge and for a saved plan, and its taps."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.context import AppContext
from webapp.dependencies import Context, CurrentShop, RawForm, Reading, RecordId, Saving
from webapp.pages.answers import page
from webapp.pages.saving import answer_button
from webapp.services.coupon_asked import pieces_of
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.services.teach import Question, ask_of_forge, ask_of_plan, told_to_worker
from webapp.services.teach_start import pack_coupons
from webapp.services.teach_view import TeachView, empty_view, view_teach
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
SOON_S = 0.4  # a piece that is filled in asks again; a whole page waits a while
PATIENCE_S = 20.0
TROUBLE = "The sums did not come out. Everything else stands; try again after the next save."


@router.get("/forge/teach")
def show_forge_teach(request: Request, session: Reading, shop: CurrentShop, context: Context) -> Response:
    """Show what is still unknown of this forge, and the coupon that would tell."""
    view = _answered(request, context, session, shop, None)
    return page(request, "pages/teach.html", view, here="forge")


@router.get("/plans/{record_id}/teach")
def show_plan_teach(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, context: Context
) -> Response:
    """Show what to put in the box beside a planned part."""
    view = _answered(request, context, session, shop, record_id)
    return page(request, "pages/teach.html", view, here="plan")


@router.post("/forge/teach")
def answer_forge_teach(request: Request, raw: RawForm, shop: CurrentShop, save: Saving) -> Response:
    """Put a coupon into a batch."""
    return answer_button(request, save, raw, lambda work: _packed(work, raw, None, shop))


@router.post("/plans/{record_id}/teach")
def answer_plan_teach(
    request: Request, record_id: RecordId, raw: RawForm, shop: CurrentShop, save: Saving
) -> Response:
    """Put a coupon into the batch of a plan."""
    return answer_button(request, save, raw, lambda work: _packed(work, raw, record_id, shop))


def _packed(work: UnitOfWork, raw: dict[str, object], plan_id: int | None, shop: ShopView) -> str:
    pieces = pieces_of(str(raw.get("pieces", "")))
    return f"/batches/{pack_coupons(work, pieces, plan_id, showing_of(shop)).id}"


def _answered(
    request: Request, context: AppContext, session: Session, shop: ShopView, plan_id: int | None
) -> TeachView:
    asked: Question | str
    asked = ask_of_forge(session) if plan_id is None else ask_of_plan(session, plan_id)
    if isinstance(asked, str):
        return replace(empty_view(plan_id), why_not=asked)
    is_piece = "HX-Request" in request.headers
    job = context.sums.job(*told_to_worker(asked), afresh=not is_piece)
    if not job.wait(SOON_S if is_piece else PATIENCE_S):
        return replace(empty_view(plan_id), is_working=True)
    if job.result is None:
        return replace(empty_view(plan_id), trouble=TROUBLE)
    return view_teach(asked, job.result, showing_of(shop))
