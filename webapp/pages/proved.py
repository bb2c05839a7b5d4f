"""The card of a proved job."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, Reading, RecordId
from webapp.pages.answers import MessageView, message, page
from webapp.services.proved_card import view_proved_card
from webapp.services.sheets import showing_of

router = APIRouter(include_in_schema=False)
HERE = "parts"
NOT_YET = MessageView(
    "Not proved yet",
    "This part has not come right twice with the same settings, read after the quench or the temper.",
    "Measure its case and its skin in two batches that ran alike; then it gets a card.",
)


@router.get("/parts/{record_id}/card")
def show_card(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, clock: AppClock
) -> Response:
    """Show a part that came right twice as a card to hang by the forge."""
    view = view_proved_card(session, record_id, clock.now(), showing_of(shop))
    if view is None:
        return message(request, NOT_YET, 404)
    return page(request, "print/proved_card.html", view, here=HERE, back=view.part_href)
