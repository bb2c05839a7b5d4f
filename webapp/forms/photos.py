"""What is asked about a photo."""

from __future__ import annotations

from typing import Annotated

from webapp.forms.kit import Ask, Form


class CaptionForm(Form):
    """What a photo shows."""

    caption: Annotated[str, Ask("What it shows", help="as in: broken end, after the quench", longest=200)] = (
        ""
    )
