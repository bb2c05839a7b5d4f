"""A server for the browser tests: the real app by a clock that is read from a file, so that no test waits.

Run as a process of its own: `python served.py DATA_FOLDER CLOCK_FILE PORT`; it says its address on standard
output once it answers. Port 0 takes a free one.
"""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

from webapp import app as app_module
from webapp.commands import serve
from webapp.fit_keeper import FitKeeper, FitState
from webapp.settings import Settings


class FileClock:
    """Tells the moment that stands in a file."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def now(self) -> datetime:
        return datetime.fromisoformat(self.file.read_text())


def at_rest(keeper: FitKeeper, *_: object) -> None:
    """Leave out the careful sums, which take half a minute; `tests/web/test_fit_keeper.py` has them."""
    keeper.state = FitState()


if __name__ == "__main__":
    data_folder, told_time = Path(sys.argv[1]), FileClock(Path(sys.argv[2]))

    def create_app(settings: Settings) -> object:
        return app_module.create_app(settings, told_time)

    FitKeeper.refine = at_rest  # type: ignore[method-assign]
    serve.create_app = create_app
    serve.serve(data_folder, "127.0.0.1", int(sys.argv[3]), open_browser=False)
