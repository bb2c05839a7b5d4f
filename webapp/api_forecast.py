"""`POST /api/forecast`: one forecast, by the handbook or by a fit of the logbook."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any, Final

from fastapi import APIRouter, Request, Response
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool

from model.belief import ShopBelief
from webapp.dependencies import context_of
from webapp.forms.forecast_input import ForecastInput, read_forecast_input
from webapp.forms.forecast_output import ForecastAnswer
from webapp.forms.json_error import LONGEST_BODY_BYTES, ErrorBody, ErrorItem, Refused, json_of, too_long
from webapp.services.fitting import learnt_by
from webapp.services.forecasting import answer_forecast
from webapp.store.engine import read
from webapp.store.errors import NotFound

_JSON: Final = "application/json"


class StrictJsonRoute(APIRoute):
    """A route whose body is read by our own parser.

    The framework's lets NaN, Infinity and doubled keys through, and words its refusals in its own way.
    The endpoint's signature still describes the route.
    """

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler: read, forecast off the event loop, write."""

        async def handle(request: Request) -> Response:
            try:
                wanted = read_forecast_input(await _body(request))
                answer = await run_in_threadpool(self.endpoint, wanted, request)
            except Refused as refused:
                return Response(json_of(refused.body), 422, media_type=_JSON)
            return Response(json_of(answer), media_type=_JSON)

        return handle


async def _body(request: Request) -> bytes:
    """Return the body, and stop reading one that does not end."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > LONGEST_BODY_BYTES:
            raise too_long()
    return bytes(body)


router = APIRouter(tags=["forecast"], route_class=StrictJsonRoute)


@router.post(
    "/forecast", responses={422: {"model": ErrorBody, "description": "What is wrong, where, and what to do."}}
)
def post_forecast(wanted: ForecastInput, request: Request) -> ForecastAnswer:
    """Forecast carbon, structure, hardness and case depth of one piece of steel."""
    return answer_forecast(wanted, None if wanted.fit is None else _learnt(request, wanted.fit))


def _learnt(request: Request, fit_id: int) -> ShopBelief:
    try:
        with read(context_of(request).store) as session:
            return learnt_by(session, fit_id)
    except NotFound:
        what, advice = f"there is no fit {fit_id} of this model", "GET /api/fit names the newest."
        raise Refused([ErrorItem(path="fit", what=what, advice=advice)]) from None
