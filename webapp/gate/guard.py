"""Stands before every page: whoever is neither at this computer nor signed in gets the way to sign in.

What is open to all is listed here; whatever is added to the app is shut.
"""

from __future__ import annotations

from urllib.parse import quote, urlsplit

from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from webapp.forms.json_error import ErrorBody, ErrorItem, json_of
from webapp.gate.door import Door
from webapp.gate.door_file import DoorTrouble
from webapp.gate.visitor import Visitor, address_of, cookie_name, is_from_here
from webapp.security import own_path
from webapp.settings import Settings

SIGN_IN = "/sign-in"
OPEN_PATHS = (SIGN_IN, "/health")
OPEN_FOLDERS = ("/static/", "/pair/")
API_PATH = "/api/"
SIGNED_OUT = "This device is not signed in, or was signed out. Sign in on it and send that again."
CHALLENGE = {"WWW-Authenticate": 'Cookie realm="casewright"'}


class Guard:
    """Lets in who may come in, and tells the pages behind who it is."""

    def __init__(self, app: ASGIApp, door: Door, settings: Settings) -> None:
        """Hold the app behind, the door and where it stands."""
        self.app, self.door, self.settings = app, door, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, or answer with the way to sign in."""
        if scope["type"] == "lifespan":
            return await self.app(scope, receive, send)
        if scope["type"] != "http":
            return None  # nothing but pages is served; the server closes what else is opened
        try:
            visitor = self._visitor(scope)
        except DoorTrouble as trouble:
            return await PlainTextResponse(str(trouble), 503)(scope, receive, send)
        if not visitor.may_enter and not is_open(scope["path"]):
            return await shut_out(scope)(scope, receive, send)
        scope.setdefault("state", {})["visitor"] = visitor
        return await self.app(scope, receive, send)

    def _visitor(self, scope: Scope) -> Visitor:
        is_here = is_from_here(scope, self.settings)
        token = HTTPConnection(scope).cookies.get(cookie_name(self.settings), "")
        session = self.door.find(token) if token else None
        is_free = is_here and not self.door.asks_here
        return Visitor(is_here, session is not None or is_free, session, address_of(scope))


def is_open(path: str) -> bool:
    """Tell whether an address is there for everybody."""
    return path in OPEN_PATHS or path.startswith(OPEN_FOLDERS)


def shut_out(scope: Scope) -> Response:
    """Return what somebody gets who is not signed in, in the form in which it was asked for."""
    headers = Headers(scope=scope)
    if scope["path"].startswith(API_PATH):
        advice = f"Sign in at {SIGN_IN} and send its cookie, or ask from the computer that keeps the logbook."
        body = ErrorBody(errors=[ErrorItem(path="", what="not signed in", advice=advice)])
        return Response(json_of(body), 401, CHALLENGE, "application/json")
    if "hx-request" in headers or "text/html" not in headers.get("accept", ""):
        # a piece of a page: the script of the page that asked leads to the sign-in
        return PlainTextResponse(SIGNED_OUT, 401, CHALLENGE)
    return RedirectResponse(f"{SIGN_IN}?next={quote(_wanted(scope, headers))}", 303)


def _wanted(scope: Scope, headers: Headers) -> str:
    """Return the page to come back to: the one asked for, or the one a form was sent from."""
    if scope["method"] in ("GET", "HEAD"):
        query = scope["query_string"].decode("latin-1")
        return own_path(scope["path"] + (f"?{query}" if query else ""))
    sent_from = urlsplit(headers.get("referer", ""))
    is_ours = sent_from.netloc.lower() == headers.get("host", "").lower()
    query = f"?{sent_from.query}" if sent_from.query else ""
    return own_path((sent_from.path or "/") + query) if is_ours else "/"
