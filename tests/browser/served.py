"""A server for the browser tests: the real app by a clock that is read from a file, so that no test waits.

Run as a process of its own: `python served.py DATA_FOLDER CLOCK_FILE PORT [demo]`; it says its address on
standard output once it answers. Port 0 takes a free one; `demo` builds the invented shop first.
"""

from __future__ import annotations

import sys
from contextlib import closing
from datetime import datetime
from pathlib import Path

from webapp import app as app_module
from webapp.commands import serve
from webapp.demo import build_demo
from webapp.fit_keeper import FitKeeper
from webapp.settings import Settings
from webapp.store.engine import open_store
from webapp.store.migrate import bring_up_to_date
from webapp.worker import Worker


class FileClock:
    """Tells the moment that stands in a file."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def now(self) -> datetime:
        return datetime.fromisoformat(self.file.read_text())


def prepare_demo(folder: Path, clock: FileClock) -> None:
    """Build the invented shop and fit it, so that no page of it says that it is still working."""
    with closing(open_store(folder)) as store:
        bring_up_to_date(store, clock.now())
        build_demo(store, clock.now())
        worker = Worker()
        FitKeeper(store, worker, clock).catch_up()
        worker.close()


if __name__ == "__main__":
    data_folder, told_time = Path(sys.argv[1]), FileClock(Path(sys.argv[2]))

    def create_app(settings: Settings) -> object:
        return app_module.create_app(settings, told_time)

    if "demo" in sys.argv[4:]:
        prepare_demo(data_folder, told_time)
    serve.create_app = create_app
    serve.serve(data_folder, "127.0.0.1", int(sys.argv[3]), open_browser=False)
