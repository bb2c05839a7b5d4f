"""Every router of the app, in one list; a new page family adds one line here."""

from __future__ import annotations

from fastapi import APIRouter

from webapp.pages import bars, condition, first, instruments, parts, shop, theme, welcome

PAGES: tuple[APIRouter, ...] = (
    first.router,
    condition.router,
    theme.router,
    welcome.router,
    shop.router,
    instruments.router,
    bars.router,
    parts.router,
)
API: tuple[APIRouter, ...] = ()
