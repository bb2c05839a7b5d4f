"""`POST /api/coupons/{coupon_id}/readings`: a reading from a program, such as a tester's own."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Annotated, Any

from fastapi import APIRouter, Header, Request, Response

from webapp.api_logbook import PlainErrorsRoute
from webapp.dependencies import Reading, RecordId, Saving
from webapp.forms.json_error import ErrorBody, ErrorItem, Refused, json_of, parse_strict
from webapp.forms.logbook_output import SavedReadingAnswer
from webapp.forms.reading_input import KEY_PATTERN, ReadingInput
from webapp.services.api_readings import save_reading
from webapp.store.errors import NotFound

LIST_THEM = "GET /api/coupons lists the coupons."


class StrictBodyRoute(PlainErrorsRoute):
    """A route whose body is read by our own parser first, which takes no doubled keys and no NaN."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the framework's handler behind our parser, with our refusals."""
        handle = super().get_route_handler()

        async def parse_and_handle(request: Request) -> Response:
            try:
                parse_strict(await request.body())
                return await handle(request)
            except Refused as refused:
                return Response(json_of(refused.body), 422, media_type="application/json")
            except NotFound as problem:
                body = ErrorBody(errors=[ErrorItem(path="coupon_id", what=str(problem), advice=LIST_THEM)])
                return Response(json_of(body), 404, media_type="application/json")

        return parse_and_handle


router = APIRouter(tags=["logbook"], route_class=StrictBodyRoute)
Key = Annotated[
    str,
    Header(
        alias="Idempotency-Key",
        pattern=KEY_PATTERN,
        description="A fresh one for each reading. Sent again with the same one, a reading is kept once.",
    ),
]


@router.post(
    "/coupons/{coupon_id}/readings",
    status_code=201,
    responses={
        404: {"model": ErrorBody, "description": "No such coupon, or it was removed."},
        422: {"model": ErrorBody, "description": "What is wrong, where, and what to do."},
    },
)
def post_reading(
    coupon_id: RecordId, sent: ReadingInput, key: Key, session: Reading, save: Saving
) -> SavedReadingAnswer:
    """Keep one reading of a coupon, held to the same as on its page and noted in the change record."""
    return save_reading(session, save, coupon_id, sent, key)
