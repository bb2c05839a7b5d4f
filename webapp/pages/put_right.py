"""Putting a piece right: what can be done with it, setting that going, taking it back, scrapping it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import blank_form, read_form
from webapp.forms.put_right import ScrapForm
from webapp.pages.answers import MessageView, message, page
from webapp.pages.batch_page import with_version
from webapp.pages.saving import HERE, FormPage, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import version_of
from webapp.services import put_right_start
from webapp.services.item_entries import item_head
from webapp.services.put_right import set_out, view_put_right
from webapp.services.sheets import showing_of
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
BOX = "box"
PartId = Annotated[int | None, Query(ge=1, le=2**31)]


@router.get("/items/{item_id}/put-right")
def show_put_right(
    request: Request,
    item_id: RecordId,
    session: Reading,
    shop: CurrentShop,
    clock: AppClock,
    part: PartId = None,
) -> Response:
    """Show what is wrong with a piece and what can be done about it."""
    view = view_put_right(session, item_id, part, clock.now(), showing_of(shop))
    return page(request, "pages/put_right.html", view, here=HERE)


@router.post("/items/{item_id}/put-right")
def answer_put_right(
    request: Request,
    item_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    clock: AppClock,
    save: Saving,
) -> Response:
    """Set one way going: a batch that is planned for it, or steps of its own on its page."""
    href, asked = f"/items/{item_id}", str(raw.get("part", ""))
    part_id = int(asked) if asked.isdecimal() and len(asked) < 10 else None
    found = set_out(session, item_id, part_id, str(raw.get("way", "")), clock.now(), showing_of(shop))
    if found is None:
        again = MessageView(
            "Not done",
            "This way is not offered any more: something was noted or learnt since.",
            "Look at what is offered now.",
            f"{href}/put-right",
            "To what can be done",
        )
        return message(request, again, 409)
    remedy, words = found

    def act(work: UnitOfWork) -> str:
        if remedy["way"] == BOX:
            batch = put_right_start.back_in_the_box(work, item_id, remedy, words, version_of(raw))
            return f"/batches/{batch.id}"
        put_right_start.begin_rework(work, item_id, remedy, version_of(raw))
        return href

    return answer_button(request, save, raw, act)


@router.post("/items/{item_id}/put-right/take-back")
def answer_take_back(request: Request, item_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take back that a piece was to be put right."""

    def act(work: UnitOfWork) -> str:
        put_right_start.take_rework_back(work, item_id, version_of(raw))
        return f"/items/{item_id}"

    return answer_button(request, save, raw, act)


def scrap_page(item_id: int, words: str) -> FormPage:
    """Return the words of the page that scraps a piece."""
    href = f"/items/{item_id}"
    return FormPage(
        title="Scrap it",
        over=words,
        lead="It stays in the logbook, and its readings still teach. This can be taken back.",
        action=f"{href}/scrap",
        draft=f"item-{item_id}-scrap",
        back_href=href,
        go="Scrap it",
    )


@router.get("/items/{item_id}/scrap")
def show_scrap(request: Request, item_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Ask why a piece is scrapped."""
    head = item_head(session, item_id)
    return show_form(
        request, scrap_page(item_id, head.words), with_version(blank_form(ScrapForm, units), head.version)
    )


@router.post("/items/{item_id}/scrap")
def answer_scrap(
    request: Request, item_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Note that a piece was scrapped."""
    state = read_form(ScrapForm, raw, units)
    head = item_head(session, item_id)

    def act(work: UnitOfWork, form: ScrapForm) -> str:
        put_right_start.scrap(work, item_id, form.why, state.version)
        return f"/items/{item_id}"

    return answer_form(on_page(request, save, scrap_page(item_id, head.words)), state, act)


@router.post("/items/{item_id}/put-right/not-scrapped")
def answer_not_scrapped(request: Request, item_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take back that a piece was scrapped."""

    def act(work: UnitOfWork) -> str:
        put_right_start.take_scrap_back(work, item_id, version_of(raw))
        return f"/items/{item_id}"

    return answer_button(request, save, raw, act)
