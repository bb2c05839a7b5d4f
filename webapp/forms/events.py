"""What is asked while a fire burns. Field names differ from those of the steps, for all stand on one page."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from model.ranges import Range
from webapp.forms.kit import Ask, Choice, Form

READ_HEAT = Range(
    100.0,
    1300.0,
    "C",
    "Type what the instrument shows; a soak is usually at 850 to 950 °C (1560 to 1740 °F).",
)
EVENTS = (
    Choice("seal cracked", "Seal cracked"),
    Choice("gas ran out", "Gas ran out"),
    Choice("burner out", "Burner went out"),
    Choice("burning back", "Burner burning back"),
    Choice("lit again", "Lit again"),
    Choice("box turned", "Box turned"),
    Choice("other", "Something else"),
)


class HeatNoteForm(Form):
    """A temperature as it is read."""

    noted_K: Annotated[float, Ask("It reads", quantity="temperature", range=READ_HEAT)]
    noted_at: Annotated[
        datetime | None, Ask("Read at", help="empty means now", kind="datetime", folded=True)
    ] = None
    noted_stands: Annotated[bool, Ask("Keep it as typed: it was read so", folded=True)] = False
    noted_insisted: Annotated[bool, Ask("Keep a time that has not come yet", folded=True)] = False


class EventForm(Form):
    """Something happened."""

    event_kind: Annotated[str, Ask("What happened", kind="choice", choices=EVENTS)]
    event_at: Annotated[datetime | None, Ask("When", help="empty means now", kind="datetime")] = None
    event_note: Annotated[str, Ask("In a few words", longest=400)] = ""
    event_insisted: Annotated[bool, Ask("Keep a time that has not come yet", folded=True)] = False
