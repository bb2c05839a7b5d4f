"""A case depth measured on a photo: from the points set on it to the piece's reading, and put right later.

The points are kept with the photo, in pixels of the picture as it is kept; the reading holds the depth.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from model.errors import NotPossible, OutOfRange
from model.photo_scale import (
    LEAST_PLACES,
    MOST_PLACES,
    PhotoScale,
    Point,
    RimDepth,
    RimPlace,
    circle_diameter_m,
    rim_depth,
)
from webapp.forms.photos import OWN, PhotoDepthForm
from webapp.services.batch_rows import get_row, row_id
from webapp.services.readings import ReadingEntry, add_readings, change_reading
from webapp.services.step_rules import StepRefused
from webapp.store.errors import NotFound
from webapp.store.tables import Item, Photo, Reading
from webapp.store.unit_of_work import UnitOfWork

NOT_UNDERSTOOD = "The points on the photo were not understood. Set them again."
SCALE_POINTS = 2


@dataclass(frozen=True)
class Measured:
    """A depth on a photo, and the diameter of the circle through its surface points where there is one."""

    depth: RimDepth
    circle_m: float | None


def piece_of(session: Session, photo: Photo) -> Item:
    """Return the piece that a photo shows; only those are measured."""
    if photo.item_id is None:
        raise NotFound("photo", row_id(photo))
    return get_row(session, Item, photo.item_id)


def reading_of(session: Session, photo: Photo) -> Reading | None:
    """Return the reading that came of a photo, unless it is in the bin."""
    reading = session.get(Reading, photo.reading_id) if photo.reading_id is not None else None
    return reading if reading is not None and reading.deleted_at is None else None


def measure(photo: Photo, item: Item, form: PhotoDepthForm) -> Measured:
    """Work out the depth of what was set on a photo, or say what is missing."""
    points = read_points(form.taps, photo)
    if len(points) < SCALE_POINTS:
        raise StepRefused("", "Set the two ends of what you know the size of.")
    scale = PhotoScale((points[0], points[1]), known_length_m(item, form))
    ends = points[SCALE_POINTS:]
    places = [RimPlace(*pair) for pair in zip(ends[::2], ends[1::2], strict=False)]
    if len(places) < LEAST_PLACES:
        raise StepRefused("", f"{len(places)} of at least {LEAST_PLACES} places on the rim are set.")
    try:
        return Measured(rim_depth(scale, places), circle_diameter_m(scale, places))
    except NotPossible as problem:
        raise StepRefused("", f"{problem.what[0].upper()}{problem.what[1:]}. {problem.advice}.") from None
    except OutOfRange as problem:
        raise StepRefused("length_m", problem.advice) from None


def known_length_m(item: Item, form: PhotoDepthForm) -> float:
    """Return the length that the scale stands for."""
    if form.scale_of == OWN:
        return item.size_m
    if form.length_m is None:
        raise StepRefused("length_m", "Type the length between the two points, as in 10 mm or 1/2 in.")
    return form.length_m


def read_points(text: str, photo: Photo) -> list[Point]:
    """Return the points that a page sent, each inside the picture."""
    try:
        points = json.loads(text)
    except (ValueError, RecursionError):
        raise StepRefused("", NOT_UNDERSTOOD) from None
    if not isinstance(points, list) or len(points) > SCALE_POINTS + 2 * MOST_PLACES + 1:
        raise StepRefused("", NOT_UNDERSTOOD)
    return [_point(point, photo) for point in points]


def _point(point: Any, photo: Photo) -> Point:
    limits = (photo.width_px, photo.height_px)
    if not isinstance(point, list) or len(point) != len(limits):
        raise StepRefused("", NOT_UNDERSTOOD)
    for value, most in zip(point, limits, strict=True):
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not 0 <= value <= most:  # NaN fails this too
            raise StepRefused("", NOT_UNDERSTOOD)
    return float(point[0]), float(point[1])


def save_measured(
    work: UnitOfWork, photo_id: int, form: PhotoDepthForm, typed: Mapping[str, str], version: int | None
) -> Reading:
    """Keep the points with the photo and the depth as a reading of its piece, the same one when put right."""
    photo = work.get(Photo, photo_id)
    found = measure(photo, piece_of(work.session, photo), form)
    entry = _entry(photo_id, form, found.depth)
    known = reading_of(work.session, photo)
    if known is None:
        reading = add_readings(work, photo.item_id or 0, [entry])[0]
    else:
        reading = change_reading(work, row_id(known), entry, form.reading_version or 0)
    kept = {
        "points": json.loads(form.taps),
        "scale_of": form.scale_of,
        "length_m": form.length_m,
        "typed": {name: text for name, text in typed.items() if name == "length_m"},
    }
    work.change(photo, version, measured=kept, reading_id=row_id(reading))
    return reading


def _entry(photo_id: int, form: PhotoDepthForm, depth: RimDepth) -> ReadingEntry:
    return ReadingEntry(
        kind="depth",
        after=form.after,
        place=form.place,
        surface=form.surface,
        removed_m=form.removed_m or 0.0,
        value=depth.mean_m,
        unit="m",
        details={
            "how": form.how,
            "photo_id": photo_id,
            "places": len(depth.depths_m),
            "spread_m": depth.spread_m,
            "sd_m": depth.doubt_m,
        },
        at=form.at,
        insisted=form.insisted,
        note=form.note,
    )
