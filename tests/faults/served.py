"""A server for the kill tests: the real app, and one page that saves a bar under the name it is given.

Run as a process of its own: `python served.py DATA_FOLDER`; it says its port on standard output.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fastapi import Request
from starlette.responses import Response

from webapp import app as app_module
from webapp.commands import serve
from webapp.dependencies import RawForm, Saving
from webapp.pages.answers import saved
from webapp.settings import Settings
from webapp.store.tables import Bar


def create_app(settings: Settings) -> object:
    app = app_module.create_app(settings)

    @app.post("/only-in-tests/bars")
    def add_bar(request: Request, raw: RawForm, save: Saving) -> Response:
        with save(str(raw["form_id"])) as work:
            bar = work.add(Bar(name=str(raw["name"]), carbon_low_wt=0.1, carbon_high_wt=0.2, note="x" * 3000))
            work.change(bar, 1, name=f"{raw['name']} kept")
            work.answered_at(f"/bars/{bar.id}")
        return saved(request, f"/bars/{bar.id}")

    return app


if __name__ == "__main__":
    serve.create_app = create_app
    serve.serve(Path(sys.argv[1]), "127.0.0.1", 0, open_browser=False)
