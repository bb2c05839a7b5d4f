"""`GET /api/batches`, `/api/coupons`, `/api/fit` and `/api/export`: the logbook for programs."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute

from webapp.dependencies import AppClock, Context, Reading
from webapp.forms.json_error import ErrorBody, Refused, error_of_request, json_of
from webapp.forms.logbook import BatchesQuery, CouponsQuery
from webapp.forms.logbook_output import BatchesAnswer, CouponsAnswer, ExportAnswer, NewestFitAnswer
from webapp.made_file import made_of_pieces
from webapp.services.api_views import answer_batches, answer_coupons, answer_fit
from webapp.services.whole_export import document_pieces


class PlainErrorsRoute(APIRoute):
    """A route that refuses a request in the one shape of the interface."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the framework's handler with our refusals."""
        handle = super().get_route_handler()

        async def handle_or_refuse(request: Request) -> Response:
            try:
                return await handle(request)
            except RequestValidationError as problem:
                refused = Refused([error_of_request(error) for error in problem.errors()])
                return Response(json_of(refused.body), 422, media_type="application/json")

        return handle_or_refuse


router = APIRouter(
    tags=["logbook"],
    route_class=PlainErrorsRoute,
    responses={422: {"model": ErrorBody, "description": "What is wrong, where, and what to do."}},
)


@router.get("/batches")
def get_batches(session: Reading, asked: Annotated[BatchesQuery, Query()]) -> BatchesAnswer:
    """Return batches, filtered and page by page; a page past the end is the last one."""
    return answer_batches(session, asked)


@router.get("/coupons")
def get_coupons(session: Reading, asked: Annotated[CouponsQuery, Query()]) -> CouponsAnswer:
    """Return coupons with their readings, oldest first."""
    return answer_coupons(session, asked)


@router.get("/fit")
def get_fit(session: Reading) -> NewestFitAnswer:
    """Return the newest fit: what it used, what it found, and its belief."""
    return answer_fit(session)


@router.get("/export", response_model=ExportAnswer)
def get_export(request: Request, context: Context, session: Reading, clock: AppClock) -> Response:
    """Return every record of the logbook, those in the bin and the change record too."""
    pieces = document_pieces(session, clock.now())
    return made_of_pieces(request, context.store.folder, pieces, "application/json")
