"""Parts and coupons: packing them, the page of one of them, and what it went through on its own."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.items import CouponForm, PartItemForm
from webapp.forms.kit import Form, FormState, Units, blank_form, form_of, read_form
from webapp.forms.steps import STEP_FORMS
from webapp.pages.answers import page
from webapp.pages.batch_page import with_version
from webapp.pages.saving import HERE, FormPage, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import version_of
from webapp.services import items
from webapp.services.again import piece_again
from webapp.services.case_left import view_case_left
from webapp.services.causes import explain_item
from webapp.services.cautions import cautions_for
from webapp.services.choices import item_choices, step_choices
from webapp.services.item_entries import (
    coupon_entry,
    coupon_values,
    item_head,
    new_coupon_values,
    part_item_entry,
)
from webapp.services.item_view import view_item_page
from webapp.services.own_lines import asking_own
from webapp.services.sheets import showing_of
from webapp.services.step_defaults import item_step_defaults
from webapp.services.step_entries import step_entry
from webapp.services.step_rules import ACTION_WORDS
from webapp.services.traverse_view import view_traverse
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
ITEM_ACTIONS = ("drawn", "reheat", "quench", "temper")
FORMS: dict[str, type[PartItemForm] | type[CouponForm]] = {"part": PartItemForm, "coupon": CouponForm}
FOLDED = "Its mark in the steel, its letter, and more"
Kind = Annotated[str, Query(pattern="^(part|coupon)$")]


def form_for(kind: str) -> type[Form]:
    """Return the form that packs a piece of a kind."""
    return FORMS[kind]


def new_page(batch_id: int, kind: str) -> FormPage:
    """Return the words of the page that packs a piece."""
    is_part = kind == "part"
    return FormPage(
        title="Parts in this box" if is_part else "A coupon in this box",
        lead="" if is_part else "A scrap of known bar that may be broken, filed and measured.",
        action=f"/batches/{batch_id}/items/new?kind={kind}",
        draft=f"batch-{batch_id}-new-{kind}",
        back_href=f"/batches/{batch_id}",
        go="Pack it",
        folded_words=FOLDED,
    )


@router.get("/batches/{batch_id}/items/new")
def show_new(
    request: Request, batch_id: RecordId, session: Reading, units: ShopUnits, kind: Kind = "coupon"
) -> Response:
    """Show the form that packs parts or a coupon."""
    offered = new_coupon_values(session, batch_id) if kind == "coupon" else {}
    state = blank_form(asking_own(session, form_for(kind), "piece"), units, offered)
    return show_form(request, new_page(batch_id, kind), state.with_choices(item_choices(session)))


@router.post("/batches/{batch_id}/items/new")
def answer_new(
    request: Request,
    batch_id: RecordId,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
    kind: Kind = "coupon",
) -> Response:
    """Pack parts or a coupon."""
    state = read_form(asking_own(session, form_for(kind), "piece"), raw, units).with_choices(
        item_choices(session)
    )

    def act(work: UnitOfWork, form: Any) -> str:
        if isinstance(form, PartItemForm):
            entry = part_item_entry(work.session, form, state.typed)
        else:
            entry = coupon_entry(form, state.typed)
        items.add_item(work, batch_id, entry)
        return f"/batches/{batch_id}"

    return answer_form(on_page(request, save, new_page(batch_id, kind)), state, act)


@router.get("/items/{item_id}")
def show_item(request: Request, item_id: RecordId, session: Reading, shop: CurrentShop) -> Response:
    """Show one part or coupon with its readings."""
    return page(request, "pages/item.html", view_item_page(session, item_id, showing_of(shop)), here=HERE)


@router.get("/items/{item_id}/case-left")
def show_case_left(
    request: Request, item_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show what case is left on each face of a piece that was ground."""
    view = view_case_left(session, item_id, clock.now(), showing_of(shop))
    return page(request, "pages/case_left.html", view, here=HERE)


@router.get("/items/{item_id}/causes")
def show_causes(
    request: Request, item_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show the readings of a piece beside what was foretold, and what may lie behind the odd ones."""
    view = explain_item(session, item_id, clock.now(), showing_of(shop))
    return page(request, "pages/item_causes.html", view, here=HERE)


@router.get("/items/{item_id}/traverse")
def show_traverse(
    request: Request, item_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show the traverses of a piece beside the hardness that was foretold at every depth."""
    view = view_traverse(session, item_id, clock.now(), showing_of(shop))
    return page(request, "pages/item_traverse.html", view, here=HERE)


def edit_page(item_id: int) -> FormPage:
    """Return the words of the page that puts a piece right."""
    href = f"/items/{item_id}"
    return FormPage("Put the piece right", f"{href}/edit", f"item-{item_id}-edit", href, folded_words=FOLDED)


@router.get("/items/{item_id}/edit")
def show_edit(request: Request, item_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form that puts a piece right."""
    head = item_head(session, item_id)
    values = coupon_values(session, item_id)
    state = form_of(
        asking_own(session, CouponForm, "piece"), values, units, typed=head.typed, version=head.version
    )
    return show_form(request, edit_page(item_id), state.with_choices(item_choices(session)))


@router.post("/items/{item_id}/edit")
def answer_edit(
    request: Request, item_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Put a piece right."""
    state = read_form(asking_own(session, CouponForm, "piece"), raw, units).with_choices(
        item_choices(session)
    )
    head = item_head(session, item_id)

    def act(work: UnitOfWork, form: CouponForm) -> str:
        items.change_item(work, item_id, coupon_entry(form, state.typed, head), state.version)
        return f"/items/{item_id}"

    return answer_form(on_page(request, save, edit_page(item_id)), state, act)


def step_page(item_id: int, words: str, action: str) -> FormPage:
    """Return the words of the page of one step of one piece."""
    href = f"/items/{item_id}"
    return FormPage(
        title="It left the box" if action == "drawn" else ACTION_WORDS[action],
        over=words,
        lead="From here on this piece goes its own way; the others stay with the batch.",
        action=f"{href}/steps/{action}",
        draft=f"item-{item_id}-{action}",
        back_href=href,
        go="Note it",
        cautions=cautions_for(action),
    )


def known_action(action: str) -> str:
    """Return the action, or say that there is no such page."""
    if action not in ITEM_ACTIONS:
        raise HTTPException(404)
    return action


@router.get("/items/{item_id}/steps/{action}")
def show_step(
    request: Request, item_id: RecordId, action: str, session: Reading, units: ShopUnits
) -> Response:
    """Show the form of one step of one piece."""
    head = item_head(session, item_id)
    state = _step_form(session, item_id, known_action(action), units)
    return show_form(request, step_page(item_id, head.words, action), with_version(state, head.version))


def _step_form(session: Reading, item_id: int, action: str, units: Units) -> FormState[Any]:
    offered = item_step_defaults(session, item_id, action)
    return blank_form(STEP_FORMS[action], units, offered).with_choices(step_choices(session, action))


@router.post("/items/{item_id}/steps/{action}")
def answer_step(
    request: Request,
    item_id: RecordId,
    action: str,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Note a step of one piece."""
    model = STEP_FORMS[known_action(action)]
    state = read_form(model, raw, units).with_choices(step_choices(session, action))
    head = item_head(session, item_id)

    def act(work: UnitOfWork, form: Any) -> str:
        entry = step_entry(action, form, state.typed)
        items.record_item_step(work, item_id, action, entry, state.version)
        return f"/items/{item_id}"

    return answer_form(on_page(request, save, step_page(item_id, head.words, action)), state, act)


@router.post("/items/{item_id}/follow")
def answer_follow(request: Request, item_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Let a piece go with the batch again."""

    def act(work: UnitOfWork) -> str:
        items.follow_batch(work, item_id, version_of(raw))
        return f"/items/{item_id}"

    return answer_button(request, save, raw, act)


@router.post("/items/{item_id}/again")
def answer_again(request: Request, item_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Pack a piece like this one, without what happened to it."""

    def act(work: UnitOfWork) -> str:
        return f"/items/{piece_again(work, item_id).id}"

    return answer_button(request, save, raw, act)


@router.post("/items/{item_id}/remove")
def answer_remove(
    request: Request, item_id: RecordId, raw: RawForm, session: Reading, save: Saving
) -> Response:
    """Strike a piece off the packing list."""
    head = item_head(session, item_id)

    def act(work: UnitOfWork) -> str:
        items.remove_item(work, item_id, version_of(raw))
        return head.batch_href

    undo = f"/items/{item_id}/put-back"
    return answer_button(request, save, raw, act, f"{head.words} was struck off.", undo)


@router.post("/items/{item_id}/put-back")
def answer_put_back(request: Request, item_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a piece back on the packing list."""

    def act(work: UnitOfWork) -> str:
        return f"/batches/{items.put_back_item(work, item_id).batch_id}"

    return answer_button(request, save, raw, act)
