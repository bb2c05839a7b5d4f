"""What was changed of a thing of the shop, and on which day."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from webapp.forms.ask import Ask
from webapp.forms.common import Note
from webapp.forms.kit import Form


class ThingChangeForm(Form):
    """A dated change of one thing."""

    kind: Annotated[str, Ask("What was done", dynamic=True)]
    changed_on: Annotated[date, Ask("Day", help="A fire of that day counts as after it.")]
    note: Note = ""
