"""The run screen's own answers: its beat, the case so far, the pin, a new end for the soak."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, read_form
from webapp.forms.run import PinDepthForm, ReplanForm
from webapp.pages.answers import page
from webapp.pages.saving import HERE, F, answer_button
from webapp.services import pin_drawn, run_screen
from webapp.services.batch_rows import load_batch
from webapp.services.case_so_far import view_case_so_far
from webapp.services.sheets import showing_of
from webapp.services.step_rules import StepRefused
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)


@router.get("/batches/{batch_id}/beat")
def answer_beat(batch_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock) -> Response:
    """Tell the tablet the time, and whether another one changed the batch."""
    answer = run_screen.beat(load_batch(session, batch_id), clock.now(), showing_of(shop))
    return JSONResponse(answer, headers={"Cache-Control": "no-store"})


@router.get("/batches/{batch_id}/case-so-far")
def show_case_so_far(
    request: Request, batch_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show how deep the case is by now."""
    view = view_case_so_far(session, batch_id, clock.now(), showing_of(shop))
    return page(request, "pages/case_so_far.html", view, here=HERE)


@router.post("/batches/{batch_id}/plan-again")
def answer_plan_again(
    request: Request, batch_id: RecordId, raw: RawForm, units: ShopUnits, save: Saving
) -> Response:
    """Set a new end for the soak."""
    state = read_form(ReplanForm, raw, units)

    def act(work: UnitOfWork) -> str:
        run_screen.plan_again(work, batch_id, tapped(state).soak)
        return f"/batches/{batch_id}"

    return answer_button(request, save, raw, act)


@router.post("/items/{item_id}/pin-drawn")
def answer_pin_drawn(request: Request, item_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Note that a pin was drawn now."""

    def act(work: UnitOfWork) -> str:
        return f"/batches/{pin_drawn.draw_pin(work, item_id).batch_id}"

    return answer_button(request, save, raw, act)


@router.post("/items/{item_id}/pin-depth")
def answer_pin_depth(
    request: Request, item_id: RecordId, raw: RawForm, units: ShopUnits, save: Saving
) -> Response:
    """Note how deep the case of a pin looks."""
    state = read_form(PinDepthForm, raw, units)

    def act(work: UnitOfWork) -> str:
        depth_m = tapped(state).depth
        return f"/batches/{pin_drawn.note_pin_depth(work, item_id, depth_m, state.typed['depth']).batch_id}"

    return answer_button(request, save, raw, act)


def tapped(state: FormState[F]) -> F:
    """Return what a button sent, or refuse what no button sends."""
    if state.value is None:
        raise StepRefused("", next(iter(state.errors.values()), "That cannot be."))
    return state.value
