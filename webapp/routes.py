"""Every router of the app, in one list; a new page family adds one line here."""

from __future__ import annotations

from fastapi import APIRouter

from webapp.pages import condition, first, theme

PAGES: tuple[APIRouter, ...] = (
    first.router,
    condition.router,
    theme.router,
)
API: tuple[APIRouter, ...] = ()
