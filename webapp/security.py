"""What stands before every page: who may ask, from where, how much, and what a browser may do with it.

Plain ASGI, a few lines each. Binding to the loopback address is no shield by itself: any page open in
the same browser may post to it, and a name that is pointed at 127.0.0.1 may read it.
"""

from __future__ import annotations

import re
from asyncio import wait_for
from dataclasses import dataclass
from time import monotonic
from typing import Any

from fastapi import HTTPException
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp.settings import ANY_ADDRESS, Settings, in_brackets

MOST_BODY_BYTES = 2 * 1024 * 1024
MOST_PHOTO_BODY_BYTES = 100 * 1024 * 1024
MOST_TABLE_BODY_BYTES = 6 * 1024 * 1024
MOST_COPY_BODY_BYTES = 4 * 1024 * 1024 * 1024
PHOTO_PATH = re.compile(r"/(items|batches)/[0-9]+/photos")
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
OUR_OWN_SITES = ("same-origin", "none")
TABLE_PATH = "/bring-in"
COPY_PATH = "/copies/look"
STATIC_PATH = "/static/"
TOO_SLOW = "What was sent came too slowly and was not saved. Nothing is lost; press the button again."

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",  # for browsers that do not know frame-ancestors
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), usb=(), payment=()",
}
STATIC_HEADERS = {
    # the policy of the page that asks counts for a style sheet or script; short, as a page asks for twenty
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class OnlyKnownHosts:
    """Answers only requests addressed to one of our own names, and posts only from our own pages."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        """Hold the app behind and the settings, which say our names."""
        self.app, self.settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse in plain words, or pass on."""
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        refusal = self._refusal(scope["method"], Headers(scope=scope), our_names(scope, self.settings))
        if refusal is None:
            return await self.app(scope, receive, send)
        return await refusal(scope, receive, send)

    def _refusal(self, method: str, headers: Headers, names: frozenset[str]) -> PlainTextResponse | None:
        if headers.get("host", "").lower() not in names or len(headers.getlist("host")) > 1:
            words = f"casewright does not answer to that name. Open it at one of: {', '.join(sorted(names))}"
            return PlainTextResponse(words, status_code=400)
        if method in SAFE_METHODS:
            return self._refusal_to_embed(headers)
        if self._is_from_our_page(headers, names):
            return None
        words = "Not saved: this was sent from another site's page. Open casewright itself and save there."
        return PlainTextResponse(words, status_code=403)

    def _refusal_to_embed(self, headers: Headers) -> PlainTextResponse | None:
        """Refuse a picture or script of ours on another site's page, which tells it what is in the book."""
        is_link = headers.get("sec-fetch-mode", "navigate") == "navigate"
        if is_link or headers.get("sec-fetch-site", "none") in OUR_OWN_SITES:
            return None
        return PlainTextResponse("Another site's page may not use what is in casewright.", status_code=403)

    def _is_from_our_page(self, headers: Headers, names: frozenset[str]) -> bool:
        # a program without a browser sends neither header, and no foreign page steers it; browsers leave out
        # the first over plain http from another computer, but never the second
        if headers.get("sec-fetch-site", "none") not in OUR_OWN_SITES:
            return False
        origin = headers.get("origin")
        return origin is None or origin.lower() in {f"{self.settings.scheme}://{name}" for name in names}


def our_names(scope: Scope, settings: Settings) -> frozenset[str]:
    """Return the Host headers that are answered; where every address is, also the one that was reached.

    An address in numbers is safe to answer to: only names can be pointed elsewhere.
    """
    names, server = settings.allowed_hosts, scope.get("server")
    if settings.address not in ANY_ADDRESS or not server:
        return names
    return names | {f"{in_brackets(str(server[0]))}:{settings.port}"}


class LimitedBody:
    """Lets no request bring more than a stated number of bytes, or bring them too slowly."""

    def __init__(self, app: ASGIApp, patience: Patience | None = None) -> None:
        """Hold the app behind, and how slow a body may be."""
        self.app, self.patience = app, patience or Patience()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count what comes in; whoever reads past a limit gets a refusal, which the app turns into a page."""
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        announced = Headers(scope=scope).get("content-length", "0")
        most_bytes = most_bytes_to(scope["path"])
        announced_too_much = announced.isdecimal() and int(announced) > most_bytes
        received, waited_s, is_whole = 0, 0.0, False

        async def receive_counted() -> Message:
            nonlocal received, waited_s, is_whole
            if announced_too_much:
                raise too_large(most_bytes)
            if is_whole:
                return await receive()  # nothing more of the body: this waits until the browser goes
            began = monotonic()  # what the app takes before it asks is not the browser's doing
            try:
                message = await wait_for(receive(), self.patience.left_s(received, waited_s))
            except TimeoutError:
                raise HTTPException(status_code=408, detail=TOO_SLOW) from None
            waited_s += monotonic() - began
            received += len(message.get("body", b""))
            is_whole = not message.get("more_body", False)
            if received > most_bytes:
                raise too_large(most_bytes)
            return message

        return await self.app(scope, receive_counted, send)


@dataclass(frozen=True)
class Patience:
    """How slowly a body may come: at least so many bytes a second, after so long to begin with."""

    first_s: float = 30.0
    bytes_per_s: float = 16_384.0

    def left_s(self, received: int, passed_s: float) -> float:
        """Return how long the next piece may take."""
        return max(self.first_s + received / self.bytes_per_s - passed_s, 0.0)


def most_bytes_to(path: str) -> int:
    """Return how many bytes may be sent to an address: photos are large, tables less so, all else is text."""
    if path == TABLE_PATH:
        return MOST_TABLE_BODY_BYTES
    if path == COPY_PATH:
        return MOST_COPY_BODY_BYTES
    return MOST_PHOTO_BODY_BYTES if PHOTO_PATH.fullmatch(path) else MOST_BODY_BYTES


def too_large(most_bytes: int) -> HTTPException:
    """Return the refusal of a body that is too large."""
    most_megabytes = most_bytes / 1024 / 1024
    words = f"What was sent is larger than {most_megabytes:g} MB and was not saved; send less at once."
    return HTTPException(status_code=413, detail=words)


class SafeHeaders:
    """Adds the headers that keep a page to our own scripts and styles, and what may change out of caches."""

    def __init__(self, app: ASGIApp) -> None:
        """Hold the app behind."""
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Add the headers as the answer begins."""
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        is_static = scope["path"].startswith(STATIC_PATH)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                add_headers(message, is_static)
            await send(message)

        return await self.app(scope, receive, send_with_headers)


def add_headers(message: dict[str, Any] | Message, is_static: bool) -> None:
    """Add our headers to the start of an answer."""
    headers = MutableHeaders(scope=message)
    for name, value in (STATIC_HEADERS if is_static else HEADERS).items():
        headers[name] = value
    if not is_static and "Cache-Control" not in headers:
        headers["Cache-Control"] = "no-store"
    if not is_static:
        headers.add_vary_header("HX-Request")


def own_path(path: str) -> str:
    """Return a path of this app; anything a browser might read as another host becomes the first page."""
    is_plain = path.startswith("/") and not path.startswith("//") and "\\" not in path
    return path if is_plain and path.isprintable() else "/"
