"""Readings in words: what was read, where, after what."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

from model.conversion import Scale
from model.hardness_scales import SCALES
from webapp.services.showing import Showing
from webapp.store.tables import Reading

KIND_WORDS = {
    "hardness": "Hardness",
    "files": "Between two files",
    "one_file": "One file",
    "depth": "Case depth by eye",
    "traverse": "Traverse",
    "spark": "Spark stream",
    "soft_spots": "Soft spots",
    "chips": "Chips",
    "cracks": "Cracks",
    "bend": "Bend",
    "size": "Size and bow",
}
AFTER_WORDS = {
    "slow_cool": "after the slow cool",
    "quench": "after the quench",
    "temper_1": "after the temper",
    "temper_2": "after the second temper",
}
WHEN_WORDS = {
    "before": "before the box",
    "after_quench": "after the quench",
    "after_grinding": "after grinding",
}
FILE_WORDS = {"skates": "file skates", "marks": "file just marks", "cuts": "file cuts"}
BEND_WORDS = {"bent": "bent, whole", "cracked": "case cracked in the bend", "snapped": "snapped"}
HOW_WORDS = {"break": "on a break", "etch": "on an etched cut"}


@dataclass(frozen=True)
class ReadingView:
    """One reading as a line of a page."""

    reading_id: int
    version: int
    kind: str
    words: str
    where: str
    taken: str
    href: str
    note: str
    set_aside: str
    points: tuple[tuple[str, str], ...] = ()
    photo_href: str = ""


def view_reading(row: Reading, showing: Showing) -> ReadingView:
    """Return a reading as its line shows it."""
    return ReadingView(
        reading_id=row.id or 0,
        version=row.version,
        kind=KIND_WORDS[row.kind],
        words=say_reading(row, showing),
        where=say_where(row, showing),
        taken=showing.day(row.measured_at),
        href=f"/readings/{row.id}",
        note=row.note,
        set_aside=row.left_out_why,
        points=_points(row, showing),
        photo_href=f"/photos/{row.details['photo_id']}/measure" if "photo_id" in row.details else "",
    )


def say_reading(row: Reading, showing: Showing) -> str:
    """Return what was read, in a few words."""
    details: dict[str, Any] = row.details
    if row.kind == "size":
        return _say_size(details, showing)
    simple: dict[str, Callable[[], str]] = {
        "hardness": lambda: f"{row.value:g} {row.unit}{_beyond(row)}",
        "files": lambda: _say_files(row.low, row.high),
        "one_file": lambda: FILE_WORDS[details["result"]],
        "depth": lambda: _say_depth(row.value, details, showing),
        "traverse": lambda: f"{len(details['points'])} points",
        "spark": lambda: "high-carbon sprigs" if details["high_carbon"] else "no high-carbon sprigs",
        "bend": lambda: _say_bend(details),
    }
    say = simple.get(row.kind)
    return say() if say else ("found" if details["seen"] else "looked for, none")


def _beyond(row: Reading) -> str:
    """Return what a reading at an end of its scale stands for, as the fit takes it."""
    scale = SCALES.get(cast(Scale, row.unit))
    if scale is None or row.value is None or scale.low < row.value < scale.high:
        return ""
    return " or less" if row.value <= scale.low else " or more"


def _say_depth(value: float | None, details: dict[str, Any], showing: Showing) -> str:
    words = f"{showing.length(value)} {HOW_WORDS[details['how']]}"
    return f"{words}, {details['places']} places on a photo" if "photo_id" in details else words


def _say_files(low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"{low:g} to {high:g} HRC"
    return f"over {low:g} HRC" if low is not None else f"under {high:g} HRC"


def _say_bend(details: dict[str, Any]) -> str:
    angle = details.get("angle_deg")
    return BEND_WORDS[details["result"]] + (f" at {angle:g}°" if angle is not None else "")


def _say_size(details: dict[str, Any], showing: Showing) -> str:
    labels = (
        ("size_m", "size"),
        ("bow_m", "bow"),
        ("off_a_m", "off one face"),
        ("off_b_m", "off the other"),
    )
    said = [
        f"{label} {showing.length(details[name])}" for name, label in labels if details.get(name) is not None
    ]
    return ", ".join(said)


def say_where(row: Reading, showing: Showing) -> str:
    """Return after what, where on the piece and on what surface it was read."""
    if row.kind == "size":
        return WHEN_WORDS[row.details["when"]]
    pieces = [AFTER_WORDS[row.after], row.place]
    if row.life > 1:
        pieces.insert(0, "put right")
    if row.surface == "ground":
        pieces.append(f"ground by {showing.length(row.removed_m)}")
    elif row.surface != "as it came":
        pieces.append(row.surface)
    return ", ".join(pieces)


def _points(row: Reading, showing: Showing) -> tuple[tuple[str, str], ...]:
    if row.kind != "traverse":
        return ()
    return tuple((showing.length(depth), f"{hardness:.0f} HV") for depth, hardness in row.details["points"])
