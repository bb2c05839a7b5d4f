"""Days as old tables write them: the year first, or day and month in an order that is said."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Literal

Order = Literal["day", "month"]
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
YEAR_FIRST = re.compile(r"(\d{4})[-./](\d{1,2})[-./](\d{1,2})(?:[T ][\d:.]+)?")
YEAR_LAST = re.compile(r"(\d{1,2})[-./ ](\d{1,2})[-./ ](\d{2}|\d{4})(?:[T ][\d:.]+)?")
WORDED = re.compile(
    r"(\d{1,2})\.?[ -]([a-z]{3})[a-z]*\.?[ ,-]+(\d{4})|([a-z]{3})[a-z]*\.? (\d{1,2}),? (\d{4})"
)
THIS_CENTURY_TO = 69  # of two digits: 00 to 69 are 2000 to 2069


def usual_order(texts: Iterable[str]) -> Order:
    """Return the order in which day and month stand, as far as the dates tell: a month is 12 at most."""
    for text in texts:
        match = YEAR_LAST.fullmatch(text.strip())
        if match and int(match[1]) > 12:
            return "day"
        if match and int(match[2]) > 12:
            return "month"
    return "day"


def read_day(text: str, order: Order) -> date | None:
    """Return the day that a text means, None where it is no date."""
    plain = text.strip().casefold()
    try:
        if match := YEAR_FIRST.fullmatch(plain):
            return date(int(match[1]), int(match[2]), int(match[3]))
        if match := YEAR_LAST.fullmatch(plain):
            day, month = (match[1], match[2]) if order == "day" else (match[2], match[1])
            return date(_year(match[3]), int(month), int(day))
        if match := WORDED.fullmatch(plain):
            day, month, year = (match[1], match[2], match[3]) if match[1] else _american(match)
            return date(int(year), MONTHS.index(month) + 1, int(day))
    except ValueError:
        return None
    return None


def _american(match: re.Match[str]) -> tuple[str, str, str]:
    return match[5], match[4], match[6]


def _year(digits: str) -> int:
    year = int(digits)
    if len(digits) == 4:
        return year
    return 2000 + year if year <= THIS_CENTURY_TO else 1900 + year
