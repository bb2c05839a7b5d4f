"""Style sheets, scripts and pictures: a browser may keep for good what it asked for by its content's mark."""

from __future__ import annotations

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from webapp.templating import asset

KEEP_FOR_GOOD = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"


class KeptStaticFiles(StaticFiles):
    """Static files with the word how long they may be kept."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with the file; only the address that names its present content is kept for good."""
        response = await super().get_response(path, scope)
        asked = f"{path}?{scope['query_string'].decode('latin-1')}"
        is_marked = response.status_code in (200, 304) and asset(path).endswith(f"/{asked}")
        response.headers["Cache-Control"] = KEEP_FOR_GOOD if is_marked else ASK_AGAIN
        return response
