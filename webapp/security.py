"""What stands before every page: who may ask, from where, how much, and what a browser may do with it.

Plain ASGI, a few lines each. Binding to the loopback address is no shield by itself: any page open in
the same browser may post to it, and a name that is pointed at 127.0.0.1 may read it.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any

from fastapi import HTTPException
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY_BYTES = 2 * 1024 * 1024
MOST_PHOTO_BODY_BYTES = 100 * 1024 * 1024
MOST_TABLE_BODY_BYTES = 6 * 1024 * 1024
PHOTO_PATH = re.compile(r"/(items|batches)/[0-9]+/photos")
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
TABLE_PATH = "/bring-in"
STATIC_PATH = "/static/"

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
}


class OnlyKnownHosts:
    """Answers only requests addressed to one of our own names, and posts only from our own pages."""

    def __init__(self, app: ASGIApp, allowed_hosts: Collection[str]) -> None:
        """Hold the app behind and the Host headers that are answered."""
        self.app, self.allowed_hosts = app, allowed_hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse in plain words, or pass on."""
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        headers = Headers(scope=scope)
        refusal = self._refusal(scope["method"], headers)
        if refusal is None:
            return await self.app(scope, receive, send)
        return await refusal(scope, receive, send)

    def _refusal(self, method: str, headers: Headers) -> PlainTextResponse | None:
        host = headers.get("host", "").lower()
        if host not in self.allowed_hosts:
            listed = ", ".join(sorted(self.allowed_hosts))
            words = f"casewright does not answer to that name. Open it at one of: {listed}"
            return PlainTextResponse(words, status_code=400)
        if method in SAFE_METHODS or self._is_from_our_page(headers):
            return None
        words = "Not saved: this was sent from another site's page. Open casewright itself and save there."
        return PlainTextResponse(words, status_code=403)

    def _is_from_our_page(self, headers: Headers) -> bool:
        # a program without a browser sends neither header, and no foreign page steers it
        if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return False
        origin = headers.get("origin")
        return origin is None or origin.lower().removeprefix("http://") in self.allowed_hosts


class LimitedBody:
    """Lets no request bring more than a stated number of bytes."""

    def __init__(self, app: ASGIApp) -> None:
        """Hold the app behind."""
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count what comes in; whoever reads past the limit gets a 413, which the app turns into a page."""
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        announced = Headers(scope=scope).get("content-length", "0")
        most_bytes = most_bytes_to(scope["path"])
        announced_too_much = announced.isdecimal() and int(announced) > most_bytes
        received = 0

        async def receive_counted() -> Message:
            nonlocal received
            if announced_too_much:
                raise too_large(most_bytes)
            message = await receive()
            received += len(message.get("body", b""))
            if received > most_bytes:
                raise too_large(most_bytes)
            return message

        return await self.app(scope, receive_counted, send)


def most_bytes_to(path: str) -> int:
    """Return how many bytes may be sent to an address: photos are large, tables less so, all else is text."""
    if path == TABLE_PATH:
        return MOST_TABLE_BODY_BYTES
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
    for name, value in HEADERS.items():
        headers[name] = value
    if not is_static and "Cache-Control" not in headers:
        headers["Cache-Control"] = "no-store"
    if not is_static:
        headers.add_vary_header("HX-Request")
