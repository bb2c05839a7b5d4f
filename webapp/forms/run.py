"""What the run screen asks with one tap: a pin's depth, a new length for the soak."""

from __future__ import annotations

from typing import Annotated

from model.ranges import Range
from webapp.forms.kit import Ask, Form

PIN_DEPTH = Range(0.0, 3.0, "mm", "Tap what you see on the break, or type it on the pin's own page.")
SOAK = Range(5.0, 72 * 60.0, "min", "Note another soak on the batch's page.")


class PinDepthForm(Form):
    """How deep the case of a pin looks."""

    depth: Annotated[float, Ask("Depth on the break", quantity="length", range=PIN_DEPTH)]


class ReplanForm(Form):
    """How long the soak is to be now."""

    soak: Annotated[float, Ask("The whole soak", quantity="duration", range=SOAK)]
