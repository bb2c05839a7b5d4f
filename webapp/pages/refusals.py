"""What a refusal looks like: a plain page for people, JSON for programs, never a trace."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from webapp.pages.answers import (
    MessageView,
    came_from,
    changed_at,
    conflict_rows,
    field_words,
    message,
    page,
    saved,
    shop_of,
)
from webapp.security import HEADERS
from webapp.store.errors import AlreadySaved, CannotSave, ChangedMeanwhile, NotFound, Refused, StoreError

API_PATH = "/api/"
GO_BACK = "Go back: what you typed is still in the form."
SECRET = {"passcode", "again", "password"}  # fields that no page shows again
NOT_YET = "What you typed is kept on this page. Put that right, then press the button: it is saved once."
GONE = (
    "What you typed is kept on this page. If the record was removed, put it back in another window "
    "(Shop, What was removed), then press the button. Else note down what you need of it."
)
STATUS_OF: dict[type[StoreError], int] = {NotFound: 404, Refused: 422, CannotSave: 503}
TITLES = {
    400: "That was not understood",
    403: "Not allowed",
    404: "Nothing here",
    405: "Not possible here",
    413: "Too large",
    422: "Not saved",
    500: "Something went wrong",
    503: "The logbook did not answer",
}
WHAT = {
    404: "There is no such page or record, or it was removed.",
    405: "This address does not take what was sent to it.",
    422: "The address or the form has something in it that this page does not know.",
    500: "casewright made a mistake of its own. What was saved before is safe.",
}
ADVICE = {
    404: "Go to the first page and follow the links from there.",
    405: "Go back and use the button on the page.",
    500: "Go back: what you typed is still in the form. The window that runs casewright shows what happened.",
}


def add_refusals(app: FastAPI) -> None:
    """Teach the app to refuse in plain words."""
    handlers: dict[type[Exception], Callable[[Request, Any], Response]] = {
        AlreadySaved: answer_already_saved,
        ChangedMeanwhile: refuse_changed_meanwhile,
        StoreError: refuse_by_store,
        HTTPException: refuse_by_status,
        RequestValidationError: refuse_unreadable,
        Exception: refuse_own_mistake,
    }
    for kind, handler in handlers.items():
        app.add_exception_handler(kind, handler)


def refuse(request: Request, status: int, what: str, detail: Any = None) -> Response:
    """Answer with a refusal: JSON under /api, else a page."""
    if is_api(request):
        return JSONResponse({"detail": detail or what}, status_code=status)
    back = came_from(request)
    back_words = "Back to where you were" if back != "/" else "To the first page"
    advice = ADVICE.get(status, GO_BACK)
    title = TITLES.get(status, "Not possible")
    return message(request, MessageView(title, what, advice, back, back_words), status)


def is_api(request: Request) -> bool:
    """Tell whether a program asks, which wants JSON."""
    return request.url.path.startswith(API_PATH)


def answer_already_saved(request: Request, problem: AlreadySaved) -> Response:
    """Lead the second tap to where the first one led."""
    return saved(request, problem.location)


def refuse_by_store(request: Request, problem: StoreError) -> Response:
    """Say what the store said; a form that could not be saved, or whose record is gone, is handed back."""
    status = next((status for kind, status in STATUS_OF.items() if isinstance(problem, kind)), 503)
    typed = getattr(request.state, "typed", None)
    if typed and not is_api(request) and not SECRET & set(typed):
        back = hand_back(request, str(problem), typed, NOT_YET if status == 503 else GONE)
        if isinstance(problem, CannotSave) or (isinstance(problem, NotFound | Refused) and back.typed):
            return message(request, back, status)
    return refuse(request, status, str(problem))


def hand_back(request: Request, what: str, typed: dict[str, str | list[str]], advice: str) -> MessageView:
    """Return the page that keeps all that a form was sent with, under its one-use id, and sends it again."""
    sent = tuple(
        (name, text)
        for name, texts in typed.items()
        for text in ([texts] if isinstance(texts, str) else texts)
    )
    return MessageView(
        "Not saved yet",
        what,
        advice,
        back=came_from(request),
        send_to=request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        sent=sent,
        typed=tuple((field_words(name), text) for name, text in sent if text and is_typed(name)),
    )


def is_typed(name: str) -> bool:
    """Tell whether people see a field of a form."""
    return name not in ("form_id", "version") and not name.endswith(("_id", "_sure"))


def refuse_changed_meanwhile(request: Request, problem: ChangedMeanwhile) -> Response:
    """Show both versions of a record that two people changed at once, where the page itself did not."""
    if is_api(request):
        detail = {"error": str(problem), "current": problem.current, "mine": problem.mine}
        return JSONResponse({"detail": detail}, status_code=409)
    return page(
        request,
        "pages/changed.html",
        status=409,
        rows=conflict_rows(problem),
        changed_at=changed_at(problem, shop_of(request).zone),
        back=came_from(request),
    )


def refuse_by_status(request: Request, problem: HTTPException) -> Response:
    """Say what a status means here; words of our own go before the general ones."""
    standard = HTTPStatus(problem.status_code).phrase
    own = str(problem.detail) if problem.detail != standard else ""
    response = refuse(request, problem.status_code, own or WHAT.get(problem.status_code, standard))
    response.headers.update(problem.headers or {})
    return response


def refuse_unreadable(request: Request, problem: RequestValidationError) -> Response:
    """Refuse an address or body that does not fit; the JSON interface learns which field."""
    found = [{"path": [str(step) for step in e["loc"]], "error": e["msg"]} for e in problem.errors()]
    is_address = all(entry["path"][0] == "path" for entry in found)
    status = 404 if is_address else 422
    return refuse(request, status, WHAT[status], detail=found)


def refuse_own_mistake(request: Request, _problem: Exception) -> Response:
    """Say that it was our mistake; the server shows the trace in its window, never on the page."""
    response = refuse(request, 500, WHAT[500])
    # this answer is given outside every middleware
    response.headers.update(HEADERS | {"Cache-Control": "no-store"})
    return response
