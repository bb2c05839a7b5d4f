"""The door from outside: signing in, pairing by a code, signing out."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import RedirectResponse, Response

from webapp.context import AppContext
from webapp.dependencies import DEVICE_COOKIE, Context, RawForm, Who
from webapp.forms.gate import PairForm, SignInForm
from webapp.forms.kit import FormState, Units, blank_form, read_form
from webapp.gate.door import Answer
from webapp.gate.guard import SIGN_IN
from webapp.gate.sessions import LASTS, LONGEST_S, clean_name
from webapp.gate.tries import say_wait
from webapp.gate.visitor import Visitor, cookie_name
from webapp.pages.answers import MessageView, message, page
from webapp.security import own_path

router = APIRouter(include_in_schema=False)
NOT_READY, WRONG, WAIT, GONE = 503, 401, 429, 410
LONGEST_WAY = 2000
Way = Annotated[str, Query(max_length=LONGEST_WAY)]
PostedWay = Annotated[str, Form(alias="next", max_length=LONGEST_WAY)]
NO_PASSCODE = MessageView(
    "Not open yet",
    "No passcode is set, so nobody gets in from another device.",
    "On the computer that keeps the logbook open Shop, Tablets and passcode, and set one. Then try again.",
    SIGN_IN,
    "Try again",
)
CODE_GONE = MessageView(
    "This code is used up",
    "A code lets one tablet in, once, within ten minutes.",
    "Show a new one on the computer that keeps the logbook: Shop, Tablets and passcode. Or sign in.",
    SIGN_IN,
    "Sign in with the passcode",
)
NO_UNITS = Units()


@router.get(SIGN_IN)
def show_sign_in(
    request: Request, context: Context, visitor: Who, way: Annotated[Way, Query(alias="next")] = "/"
) -> Response:
    """Ask for the passcode; whoever is in already goes on."""
    if visitor.may_enter:
        return RedirectResponse(own_path(way), 303)
    if not context.door.has_passcode:
        return message(request, NO_PASSCODE, NOT_READY)
    called = request.cookies.get(DEVICE_COOKIE, "")
    offered = {"called": clean_name(called)} if called else None
    return _ask(request, context, blank_form(SignInForm, NO_UNITS, offered), way)


@router.post(SIGN_IN)
def answer_sign_in(
    request: Request, context: Context, visitor: Who, raw: RawForm, way: PostedWay = "/"
) -> Response:
    """Let a device in that has the passcode."""
    if not context.door.has_passcode:
        return message(request, NO_PASSCODE, NOT_READY)
    state = read_form(SignInForm, raw, NO_UNITS)
    if state.value is None:
        return _ask(request, context, state, way, 422)
    answer = context.door.sign_in(state.value.passcode, visitor.address, state.value.called)
    if answer.token:
        _leave_old(context, visitor)
        return _let_in(context, answer.token, state.value.called, way)
    refused = state.with_errors({"passcode": why_not(answer)})
    if not answer.wait_s:
        return _ask(request, context, refused, way, WRONG)
    response = _ask(request, context, refused, way, WAIT)
    response.headers["Retry-After"] = str(int(answer.wait_s) + 1)
    return response


def why_not(answer: Answer) -> str:
    """Return why a try at the passcode was not taken."""
    if not answer.wait_s:
        return "That is not the passcode. Look at the capital letters, and type it again."
    return f"Too many wrong tries. Wait {say_wait(answer.wait_s)}, then type it again."


@router.post("/sign-out")
def answer_sign_out(context: Context, visitor: Who) -> Response:
    """Sign this device out."""
    _leave_old(context, visitor)
    answer = RedirectResponse(SIGN_IN, 303)
    answer.delete_cookie(
        cookie_name(context.settings), httponly=True, samesite="lax", secure=context.settings.is_safe
    )
    return answer


@router.get("/pair/{code}")
def show_pair(request: Request, context: Context, code: str) -> Response:
    """Ask what a tablet is called that read the code; the code is used up by the answer, not by a look."""
    if not context.door.is_open_code(code):
        return message(request, CODE_GONE, GONE)
    return page(request, "pages/pair.html", state=blank_form(PairForm, NO_UNITS), view=context.settings)


@router.post("/pair/{code}")
def answer_pair(request: Request, context: Context, visitor: Who, raw: RawForm, code: str) -> Response:
    """Let a tablet in that read the code."""
    state = read_form(PairForm, raw, NO_UNITS)
    if state.value is None:
        return page(request, "pages/pair.html", state=state, status=422, view=context.settings)
    token = context.door.pair(code, state.value.called)
    if not token:
        return message(request, CODE_GONE, GONE)
    _leave_old(context, visitor)
    return _let_in(context, token, state.value.called, "/")


def _ask(
    request: Request, context: AppContext, state: FormState[SignInForm], way: str, status: int = 200
) -> Response:
    # nobody reads along on this computer's way to itself
    is_safe = context.settings.is_safe or request.state.visitor.is_here
    way = own_path(way)
    return page(
        request, "pages/sign_in.html", status=status, state=state, way=way, lasts=LASTS, is_safe=is_safe
    )


def _leave_old(context: AppContext, visitor: Visitor) -> None:
    if visitor.session:
        context.door.end(visitor.session.number)


def _let_in(context: AppContext, token: str, called: str, way: str) -> Response:
    answer = RedirectResponse(own_path(way), 303)
    give_session(answer, context, token)
    # offered when it signs in the next time
    answer.set_cookie(
        DEVICE_COOKIE, clean_name(called), max_age=int(LONGEST_S), httponly=True, samesite="lax"
    )
    return answer


def give_session(answer: Response, context: AppContext, token: str) -> None:
    """Give a browser the token of its session."""
    answer.set_cookie(
        cookie_name(context.settings),
        token,
        max_age=int(LONGEST_S),
        httponly=True,
        samesite="lax",
        secure=context.settings.is_safe,
    )
