"""An up-to-date empty logbook, made once in a process of the tests and copied: migrating takes a second."""

from __future__ import annotations

import atexit
import shutil
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from tests.conftest import A_SPRING_DAY
from webapp.store.engine import open_store
from webapp.store.migrate import bring_up_to_date


@cache
def empty_logbook() -> Path:
    """Return its file, to be copied; it is gone when the process ends."""
    folder = Path(mkdtemp(prefix="empty-logbook-"))
    atexit.register(shutil.rmtree, folder)
    made = open_store(folder)
    bring_up_to_date(made, A_SPRING_DAY)
    made.close()
    return made.file
