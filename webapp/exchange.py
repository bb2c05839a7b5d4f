"""A copy put in the place of a running app's logbook: who fits rests, readers and savers wait outside.

Everything is checked and made ready before; what waits, waits for a few renames.
"""

from __future__ import annotations

from pathlib import Path
from threading import Lock

from webapp.context import AppContext
from webapp.services.restore import Restored, Staged, stage
from webapp.store.errors import CannotSave
from webapp.store.swap import drop_staged, swap_in

_ONE_AT_A_TIME = Lock()
BUSY = "Another copy is being looked at or put back just now. Nothing was changed; try again in a minute."


def look_at(context: AppContext, file: Path) -> Staged:
    """Check a copy whole and say what is in it; nothing of it is kept."""
    if not _ONE_AT_A_TIME.acquire(blocking=False):
        raise CannotSave(BUSY)
    try:
        return stage(file, context.store.folder, context.clock.now(), with_pictures=False)
    finally:
        drop_staged(context.store.folder)
        _ONE_AT_A_TIME.release()


def put_in_place(context: AppContext, file: Path, name: str) -> Restored:
    """Put a copy in the place of the logbook; the one that stood there is kept aside."""
    if not _ONE_AT_A_TIME.acquire(blocking=False):
        raise CannotSave(BUSY)
    try:
        now = context.clock.now()
        staged = stage(file, context.store.folder, now)
        was_fitting = context.fit_keeper.rest()
        try:
            with context.store.exchanging():
                return Restored(staged, swap_in(context.store.folder, now, staged.told(name)))
        finally:
            if was_fitting:
                context.fit_keeper.start()
    finally:
        _ONE_AT_A_TIME.release()
