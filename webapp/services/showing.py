"""How a shop sees numbers and times: its own units, its own zone. The store keeps SI and UTC."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from model.units import (
    HOUR_s,
    MINUTE_s,
    fahrenheit_to_kelvin,
    kelvin_to_fahrenheit,
    show_length_m,
    show_temperature_K,
)
from webapp.forms.numbers import amount

ROUGH_F = 5.0  # "about 825 °C" is no 1517 °F


@dataclass(frozen=True)
class Showing:
    """One shop's units and zone."""

    temperature_unit: str
    length_unit: str
    zone: ZoneInfo

    def temperature(self, temperature_K: float | None, spread_K: float = 0.0) -> str:
        """Return a temperature as text; one only roughly known as `about`, in Fahrenheit in steps of five."""
        if temperature_K is None:
            return "not noted"
        if spread_K > 0 and self.temperature_unit == "F":
            fives = round(kelvin_to_fahrenheit(temperature_K) / ROUGH_F) * ROUGH_F
            temperature_K = fahrenheit_to_kelvin(fives)
        return rough(spread_K) + show_temperature_K(temperature_K, self.temperature_unit)

    def length(self, length_m: float | None) -> str:
        """Return a length as text."""
        return "not noted" if length_m is None else show_length_m(length_m, self.length_unit)

    def size(self, length_m: float) -> str:
        """Return a size without idle zeros, as in 10 mm."""
        return f"{amount(length_m, self.length_unit, 'length')} {self.length_unit}"

    def local(self, moment: datetime) -> datetime:
        """Return a stored moment in the shop's zone."""
        aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        return aware.astimezone(self.zone)

    def time(self, moment: datetime | None) -> str:
        """Return hour and minute of a moment, or that it was not noted."""
        return self.local(moment).strftime("%H:%M") if moment else "time not noted"

    def day(self, moment: datetime | date) -> str:
        """Return a day as 3 May 2026."""
        day = self.local(moment).date() if isinstance(moment, datetime) else moment
        return f"{day.day} {day:%b %Y}"

    def moment(self, moment: datetime | None, on: date | None = None) -> str:
        """Return day and time of a moment, the time alone when it falls `on` this day."""
        if moment is None:
            return "time not noted"
        is_that_day = on is not None and self.local(moment).date() == on
        return self.time(moment) if is_that_day else f"{self.day(moment)}, {self.time(moment)}"


def plural(number: int, one: str, many: str = "") -> str:
    """Return a count with its word, as in 9 coupons."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def rough(spread: float) -> str:
    """Return the word before a number that was only roughly known."""
    return "about " if spread > 0 else ""


def say_duration(seconds: float | None, spread_s: float = 0.0) -> str:
    """Return a length of time as 4 h 05 min, 25 min or 8 s."""
    if seconds is None:
        return "not noted"
    if seconds < MINUTE_s:
        return f"{rough(spread_s)}{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / MINUTE_s), 60)
    if not hours:
        return f"{rough(spread_s)}{minutes} min"
    return f"{rough(spread_s)}{hours} h {minutes:02d} min" if minutes else f"{rough(spread_s)}{hours} h"


def say_clock(seconds: float) -> str:
    """Return a length of time as a run clock shows it: 1:42, hours and minutes."""
    hours, rest = divmod(int(abs(seconds)), int(HOUR_s))
    return f"{hours}:{rest // int(MINUTE_s):02d}"
