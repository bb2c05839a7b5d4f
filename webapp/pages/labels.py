"""Tags for pieces that came out of the fire: the form of their label sheet, and the sheet."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, Saving, ShopUnits
from webapp.forms.kit import blank_form, read_form
from webapp.forms.labels import LabelForm
from webapp.forms.logbook import LARGEST_ID
from webapp.pages.answers import page, reached_at
from webapp.pages.saving import HERE, FormPage, answer_form, on_page, show_form
from webapp.services.labels import keep_labels, label_values, view_labels, which_choices
from webapp.services.sheets import showing_of
from webapp.services.shop_address import outside_address
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
BatchId = Annotated[int | None, Query(ge=1, le=LARGEST_ID)]
Which = Annotated[str, Query(pattern="^(open|[1-9][0-9]{0,14})$")]
Skip = Annotated[int, Query(ge=0, le=200)]
FORM = FormPage(
    title="Tags for the pieces",
    lead="For afterwards: paper burns, and the mark in the steel tells which is which until then.",
    action="/labels",
    draft="labels",
    back_href="/logbook",
    go="Show the tags",
)


@router.get("/labels")
def show_labels_form(request: Request, session: Reading, units: ShopUnits, batch: BatchId = None) -> Response:
    """Show the form of a page of tags, filled with the sheet used last."""
    state = blank_form(LabelForm, units, label_values(session, batch))
    return show_form(request, FORM, state.with_choices(which_choices(session)))


@router.post("/labels")
def answer_labels(
    request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Remember the label sheet and lead to the tags."""
    state = read_form(LabelForm, raw, units).with_choices(which_choices(session))

    def act(work: UnitOfWork, form: LabelForm) -> str:
        return keep_labels(work, form)

    return answer_form(on_page(request, save, FORM), state, act)


@router.get("/labels/sheet")
def show_labels(
    request: Request, session: Reading, shop: CurrentShop, which: Which = "open", skip: Skip = 0
) -> Response:
    """Show the tags, to be printed."""
    base = outside_address(shop, reached_at(request))
    view = view_labels(session, which, skip, base, shop.is_demo, showing_of(shop))
    return page(request, "print/labels.html", view, here=HERE, back="/labels")
