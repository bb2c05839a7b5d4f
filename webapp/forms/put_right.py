"""What is asked when a piece is given up for good."""

from __future__ import annotations

from typing import Annotated

from webapp.forms.kit import Ask, Form


class ScrapForm(Form):
    """Why a piece was thrown away."""

    why: Annotated[str, Ask("Scrapped because", help="a few words", longest=200)]
