"""What somebody wants to be reminded of: after how many uses of a thing, or after how many days."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import model_validator

from model.ranges import Range
from webapp.forms.kit import Ask, FieldProblem, Form

USES = Range(1.0, 10_000.0, "", "Count the uses after which it is due, as in 20.")
DAYS = Range(1.0, 10_000.0, "", "Count the days after which it is due, as in 90.")


class ReminderForm(Form):
    """One reminder; what comes first makes it due."""

    what: Annotated[str, Ask("What is to be done", help="As in: change the oil", longest=120)]
    thing: Annotated[str, Ask("Of what", dynamic=True)] = ""
    after_uses: Annotated[
        int | None, Ask("After how many uses", help="Blank: uses do not count", quantity="number", range=USES)
    ] = None
    after_days: Annotated[
        int | None, Ask("After how many days", help="Blank: days do not count", quantity="number", range=DAYS)
    ] = None
    done_on: Annotated[date, Ask("Done last on", help="Counting begins on the day after.")]

    @model_validator(mode="after")
    def comes_due(self) -> ReminderForm:
        """Ask when it is due, and of what the uses are counted."""
        if self.after_uses is None and self.after_days is None:
            raise FieldProblem("after_uses", "Say after how many uses, or after how many days.")
        if self.after_uses is not None and not self.thing:
            raise FieldProblem("thing", "Pick whose uses are counted, or clear them and count days.")
        return self
