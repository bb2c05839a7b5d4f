"""Every router of the app, in one list; a new page family adds one line here."""

from __future__ import annotations

from fastapi import APIRouter

from webapp import api_forecast, api_logbook
from webapp.pages import (
    arguments,
    asides,
    bars,
    batches,
    case_or_not,
    condition,
    events,
    forge,
    forge_changes,
    instruments,
    items,
    logbook,
    parts,
    photo_measure,
    photos,
    plans,
    proved,
    put_right,
    readings,
    run,
    schedule,
    shop,
    steps,
    supplies,
    teach,
    theme,
    thing_changes,
    today,
    welcome,
    which_piece,
)

PAGES: tuple[APIRouter, ...] = (
    today.router,
    condition.router,
    theme.router,
    welcome.router,
    supplies.router,  # before the lists of the shop, whose addresses would take its own
    shop.router,
    instruments.router,
    thing_changes.router,
    bars.router,
    parts.router,
    case_or_not.router,
    proved.router,
    plans.router,
    schedule.router,
    batches.router,
    steps.router,
    events.router,
    run.router,
    items.router,
    photos.router,
    which_piece.router,
    photo_measure.router,
    put_right.router,
    readings.router,
    logbook.router,
    forge.router,
    arguments.router,
    teach.router,
    forge_changes.router,
    asides.router,
)
API: tuple[APIRouter, ...] = (api_forecast.router, api_logbook.router)
