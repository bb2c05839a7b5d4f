"""Day or night: a cookie, set by a plain form, so that it works without script."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse

from webapp.templating import theme_of

router = APIRouter()
ONE_YEAR_s = 365 * 24 * 3600


@router.post("/theme", include_in_schema=False)
def choose_theme(
    theme: Annotated[str, Form(max_length=10)] = "system", back: Annotated[str, Form(max_length=2000)] = "/"
) -> RedirectResponse:
    """Keep the chosen theme for a year and return to the page it was chosen on."""
    answer = RedirectResponse(_own_path(back), status_code=303)
    answer.set_cookie("theme", theme_of(theme), max_age=ONE_YEAR_s, samesite="lax", httponly=True)
    return answer


def _own_path(path: str) -> str:
    """Return a path of this app; anything a browser might read as another host becomes the first page."""
    plain = path.startswith("/") and not path.startswith("//") and "\\" not in path
    return path if plain and path.isprintable() else "/"
