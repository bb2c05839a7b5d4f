"""The bin: what was removed, and the way back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving
from webapp.pages.answers import page
from webapp.pages.saving import answer_button
from webapp.services import bin as bin_of
from webapp.services.sheets import showing_of
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
HERE = "shop"
Page = Annotated[int, Query(ge=1, le=100_000)]


@router.get(bin_of.HREF)
def show_bin(request: Request, session: Reading, shop: CurrentShop, page_number: Page = 1) -> Response:
    """Show what is in the bin."""
    view = bin_of.view_bin(session, showing_of(shop), page_number)
    return page(request, "pages/bin.html", view, here=HERE)


@router.post(f"{bin_of.HREF}/{{key}}/{{record_id}}/put-back")
def answer_put_back(
    request: Request, key: str, record_id: RecordId, raw: RawForm, shop: CurrentShop, save: Saving
) -> Response:
    """Take a record out of the bin again and go where it stands."""

    def act(work: UnitOfWork) -> str:
        return bin_of.put_back(work, key, record_id, showing_of(shop))[0]

    return answer_button(request, save, raw, act)
