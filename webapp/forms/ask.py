"""What a form asks: a question's words, its unit, its limits and its choices."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from model.ranges import Range
from model.units import Kind

FieldKind = Literal[
    "",
    "text",
    "password",
    "notes",
    "number",
    "stepper",
    "doubtful",
    "choice",
    "many",
    "yesno",
    "datetime",
    "date",
    "time",
    "hidden",
]
Sure = Literal["sure", "about", "unknown"]
SURE_WORDS: tuple[tuple[Sure, str], ...] = (("sure", "sure"), ("about", "about"), ("unknown", "don't know"))

LONGEST_LINE = 200
LONGEST_NOTES = 20_000
MOST_CHIPS = 5
"""Up to so many choices are shown as big buttons; more become a list."""


@dataclass(frozen=True)
class Choice:
    """One answer that can be picked; `help` is a few words under it."""

    value: str
    label: str
    help: str = ""


@dataclass(frozen=True)
class Doubtful:
    """A number with how sure the shop is of it; `value` is None when nobody knows."""

    value: float | None
    sure: Sure = "sure"


@dataclass(frozen=True)
class Ask:
    """How a field is asked for.

    `quantity` makes it a typed number kept in SI, in the shop's unit unless `unit` fixes another; for a
    plain number `unit` is only its label (HRC). `range` may be in any unit of the quantity; `advice`
    replaces the range's own. `dynamic` choices are given when the page is drawn. `step` is in the shown unit.
    """

    label: str
    help: str = ""
    kind: FieldKind = ""
    quantity: Kind | None = None
    unit: str = ""
    range: Range | None = None
    advice: str = ""
    choices: tuple[Choice, ...] = ()
    dynamic: bool = False
    folded: bool = False
    step: float | None = None
    longest: int | None = None


@dataclass(frozen=True)
class Units:
    """The units and the time zone in which the shop writes."""

    temperature: Literal["C", "F"] = "C"
    length: Literal["mm", "in"] = "mm"
    mass: Literal["g", "oz"] = "g"
    zone: str = "UTC"

    def unit_for(self, ask: Ask) -> str:
        """Return the unit in which a question is asked when nothing is written behind the number."""
        own: dict[str | None, str] = {
            "temperature": self.temperature,
            "temperature difference": self.temperature,
            "length": self.length,
            "mass": self.mass,
            "duration": "h",
            "percent": "%",
            "pressure": "psi" if self.length == "in" else "bar",
        }
        if ask.quantity in (None, "number"):
            return ""
        # what large scales weigh is asked in pounds where the small ones show ounces
        return "lb" if ask.unit == "kg" and self.mass == "oz" else ask.unit or own[ask.quantity]
