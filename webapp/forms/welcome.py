"""What is asked about the shop itself: its name, its units, its time zone."""

from __future__ import annotations

from typing import Annotated

from webapp.forms.kit import Ask, Choice, Form

TEMPERATURES = (Choice("C", "Celsius"), Choice("F", "Fahrenheit"))
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
