"""What a device chooses for itself: day or night, words marked or not; cookies, set by plain forms."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse

from webapp.pages.answers import THEME_COOKIE, WORDS_COOKIE, WORDS_OFF, keep_on_device
from webapp.security import own_path
from webapp.templating import theme_of

router = APIRouter(include_in_schema=False)


@router.post("/theme", include_in_schema=False)
def choose_theme(
    theme: Annotated[str, Form(max_length=10)] = "system", back: Annotated[str, Form(max_length=2000)] = "/"
) -> RedirectResponse:
    """Keep the chosen theme for a year and return to the page it was chosen on."""
    answer = RedirectResponse(own_path(back), status_code=303)
    keep_on_device(answer, THEME_COOKIE, theme_of(theme))
    return answer


@router.post("/words", include_in_schema=False)
def choose_words(words: Annotated[str, Form(max_length=10)] = "on") -> RedirectResponse:
    """Keep for a year whether words of the trade are marked on this device."""
    answer = RedirectResponse("/help", status_code=303)
    keep_on_device(answer, WORDS_COOKIE, WORDS_OFF if words == WORDS_OFF else "on")
    return answer
