"""The shop's own time: the one place where stored UTC and the clock on the wall meet."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo, available_timezones


def is_zone(name: str) -> bool:
    """Tell whether this is the name of a time zone, such as Europe/Berlin."""
    return name in available_timezones()


def to_utc(wall_time: datetime, zone: str) -> datetime:
    """Return the moment at which the shop's clock shows this naive time.

    A time shown twice when clocks go back is the first of the two; one skipped when clocks go forward
    is read on the clock as it ran before the jump.
    """
    if wall_time.tzinfo is not None:
        raise ValueError(f"{wall_time} carries a zone already; a time on the shop's clock carries none")
    return wall_time.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def to_wall(moment: datetime, zone: str) -> datetime:
    """Return what the shop's clock shows at this moment, without a zone."""
    if moment.tzinfo is None:
        raise ValueError(f"{moment} carries no zone; a moment carries one")
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)


def day_of(moment: datetime, zone: str) -> date:
    """Return the shop's calendar day at this moment."""
    return to_wall(moment, zone).date()


def read_wall_time(text: str, zone: str) -> datetime | None:
    """Return the moment a date-and-time field means, or None when it is no date and time."""
    try:
        wall_time = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    if wall_time.tzinfo is not None:
        return None
    try:
        return to_utc(wall_time, zone)
    except OverflowError:
        return None


def field_text(moment: datetime | None, zone: str) -> str:
    """Return the text a date-and-time field takes, to the minute; blank for no moment."""
    return "" if moment is None else to_wall(moment, zone).strftime("%Y-%m-%dT%H:%M")
