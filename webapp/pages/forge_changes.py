"""What was changed in the shop, and the answer to the question whether something has."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving
from webapp.pages.answers import page
from webapp.pages.saving import answer_button
from webapp.services.drift_offer import say_as_before, say_drifted
from webapp.services.sheets import showing_of
from webapp.services.shop_changes_view import view_shop_changes
from webapp.store.unit_of_work import UnitOfWork
from webapp.zone import day_of

router = APIRouter(include_in_schema=False)
HERE = "forge"


@router.get("/forge/changes")
def show_changes(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show all changes, and where to note the next."""
    return page(request, "pages/shop_changes.html", view_shop_changes(session, showing_of(shop)), here=HERE)


@router.post("/forge/drift/{instrument_id}/{answer}")
def answer_drift(
    request: Request,
    instrument_id: RecordId,
    answer: Annotated[str, Path(pattern="^(yes|no)$")],
    raw: RawForm,
    shop: CurrentShop,
    clock: AppClock,
    save: Saving,
) -> Response:
    """Keep the owner's answer; it stands among the changes of the instrument and can be removed there."""

    def act(work: UnitOfWork) -> str:
        if answer == "yes":
            return say_drifted(work, instrument_id)
        return say_as_before(work, instrument_id, day_of(clock.now(), shop.zone))

    return answer_button(request, save, raw, act)
