"""Questions that several forms ask. A time left empty is the moment of the tap."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from webapp.forms.kit import Ask, Form

At = Annotated[datetime | None, Ask("When", help="empty means now", kind="datetime", folded=True)]
BeganAt = Annotated[
    datetime | None, Ask("When it began", help="empty: it is just done", kind="datetime", folded=True)
]
Insisted = Annotated[
    bool,
    Ask(
        "Keep a time that has not come yet",
        help="if the clock of this machine is wrong",
        kind="yesno",
        folded=True,
    ),
]
Note = Annotated[str, Ask("Note", kind="notes", folded=True)]


class TimedForm(Form):
    """A form about something that happened at some time."""

    at: At = None
    insisted: Insisted = False
    note: Note = ""
