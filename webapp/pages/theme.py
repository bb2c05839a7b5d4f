"""Day or night: a cookie, set by a plain form, so that it works without script."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse

from webapp.security import own_path
from webapp.templating import theme_of

router = APIRouter()
ONE_YEAR_s = 365 * 24 * 3600


@router.post("/theme", include_in_schema=False)
def choose_theme(
    theme: Annotated[str, Form(max_length=10)] = "system", back: Annotated[str, Form(max_length=2000)] = "/"
) -> RedirectResponse:
    """Keep the chosen theme for a year and return to the page it was chosen on."""
    answer = RedirectResponse(own_path(back), status_code=303)
    answer.set_cookie("theme", theme_of(theme), max_age=ONE_YEAR_s, samesite="lax", httponly=True)
    return answer
