"""What is asked about the shop itself: its name, its units, its time zone, its hours, its address."""

from __future__ import annotations

from datetime import time
from typing import Annotated

from webapp.forms.kit import Ask, Choice, Form

TEMPERATURES = (Choice("C", "Celsius"), Choice("F", "Fahrenheit"))
MARK_HABITS = (
    Choice("", "By size"),
    Choice("notches", "File notches"),
    Choice("dots", "Punch dots"),
    Choice("stamp", "Stamped figures"),
)
LENGTHS = (Choice("mm", "Millimetres"), Choice("in", "Inches"))


class ShopForm(Form):
    """The shop and its habits."""

    name: Annotated[str, Ask("Name of the shop", longest=60)]
    temperature_unit: Annotated[
        str, Ask("Temperatures in", choices=TEMPERATURES, help="You may type the other at any time: 1700 F")
    ] = "C"
    length_unit: Annotated[
        str, Ask("Sizes in", choices=LENGTHS, help="The other is understood too: 1/2 in")
    ] = "mm"
    zone: Annotated[str, Ask("Time zone", dynamic=True, folded=True)] = "UTC"


class ShopSettingsForm(ShopForm):
    """The shop's habits, once it is there."""

    opens_at: Annotated[
        time | None, Ask("The shop opens", help="When you come; no fire is lit before it")
    ] = None
    leaves_at: Annotated[
        time | None, Ask("You leave", help="A schedule lets nothing burn after it; asked once, kept here")
    ] = None
    starts_at: Annotated[time | None, Ask("A fire day begins", help="Blank: as the shop opens")] = None
    mark_habit: Annotated[
        str,
        Ask(
            "Marks in the steel",
            help="What is offered for each piece; by size: notches on thin work, dots where a punch has room",
            choices=MARK_HABITS,
        ),
    ] = ""
    address: Annotated[
        str,
        Ask(
            "Address of this computer in the shop",
            help="As the tablet types it: http://192.168.1.20:8350. The code on the run sheet opens it. "
            "Blank: the address the sheet was asked by",
            longest=100,
            folded=True,
        ),
    ] = ""
