"""Measuring on a photo as its page shows it: what is asked, what was found, and what to mind about it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from webapp.forms.kit import Choice
from webapp.forms.photos import OTHER, OWN, SCALES, PhotoDepthForm
from webapp.services.batch_rows import get_row, row_id
from webapp.services.photo_measure import Measured, measure, piece_of, reading_of
from webapp.services.photo_view import PhotoPageView, view_photo
from webapp.services.readings import usual_after_of
from webapp.services.showing import Showing
from webapp.services.step_rules import StepRefused
from webapp.store.tables import Item, Photo, Reading

SDS_OF_90 = 1.645
# Our own, no source: a circle this far off the piece's own size is no slip of a finger; a case of fewer
# pixels than that is hard to set a point on.
CIRCLE_OFF = 0.04
FEWEST_PIXELS_DEEP = 20.0
READ_BACK = ("after", "place", "surface", "note")
ACROSS = {"plate": "thick", "rod": "across", "tube": "across"}


@dataclass(frozen=True)
class MeasurePageView:
    """The page on which a photo is measured."""

    photo: PhotoPageView
    action: str
    own_words: str
    is_round: bool
    reading_href: str
    reading_words: str


@dataclass(frozen=True)
class RimDepthView:
    """What was measured so far; `missing` says what is still to be set."""

    missing: str = ""
    depth: str = ""
    give_or_take: str = ""
    spread: str = ""
    places: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeasureStart:
    """What the form of a photo starts with, and the versions that it would change."""

    values: dict[str, Any]
    typed: dict[str, str]
    version: int
    choices: dict[str, tuple[Choice, ...]]


def view_measure_page(session: Session, photo_id: int, showing: Showing) -> MeasurePageView:
    """Return the page on which a photo is measured."""
    photo = get_row(session, Photo, photo_id)
    item = piece_of(session, photo)
    reading = reading_of(session, photo)
    return MeasurePageView(
        photo=view_photo(session, photo_id, showing),
        action=f"/photos/{photo_id}/measure",
        own_words=own_words(item, showing),
        is_round=item.shape != "plate",
        reading_href=f"/readings/{reading.id}" if reading is not None else "",
        reading_words=_standing(reading, photo_id, showing),
    )


def own_words(item: Item, showing: Showing) -> str:
    """Return the piece's own size in words, as 12 mm across."""
    return f"{showing.size(item.size_m)} {ACROSS[item.shape]}"


def _standing(reading: Reading | None, photo_id: int, showing: Showing) -> str:
    """Say what a reading says that came of this photo."""
    if reading is None:
        return ""
    value = showing.length(reading.value)
    if reading.details.get("photo_id") != photo_id:
        words = "The reading that came of this photo was put right by hand since"
        return f"{words}: {value}. Saving here replaces it."
    return f"Saved as a reading: {value}."


def start_of(session: Session, photo_id: int, showing: Showing) -> MeasureStart:
    """Return what the form starts with: what was set before, else what is usual."""
    photo = get_row(session, Photo, photo_id)
    item = piece_of(session, photo)
    kept, reading = photo.measured, reading_of(session, photo)
    values: dict[str, Any] = {
        "taps": json.dumps(kept.get("points", [])),
        "scale_of": kept.get("scale_of", OWN),
        "length_m": kept.get("length_m"),
        "how": "break",
        "place": "middle",
        "surface": "as it came",
    }
    if reading is None:
        values["after"] = usual_after_of(session, row_id(item))
    else:
        values |= {name: getattr(reading, name) for name in READ_BACK}
        values |= {"removed_m": reading.removed_m or None, "at": reading.measured_at}
        values |= {"how": reading.details.get("how", "break"), "reading_version": reading.version}
    return MeasureStart(values, kept.get("typed", {}), photo.version, scale_choices(item, showing))


def scale_choices(item: Item, showing: Showing) -> dict[str, tuple[Choice, ...]]:
    """Return what a scale may be set on, with the piece's own size."""
    other = next(choice for choice in SCALES if choice.value == OTHER)
    own = next(choice for choice in SCALES if choice.value == OWN)
    return {"scale_of": (Choice(OWN, own.label, own_words(item, showing)), other)}


def view_so_far(session: Session, photo_id: int, form: PhotoDepthForm, showing: Showing) -> RimDepthView:
    """Return what the points set so far make, or what is still missing."""
    photo = get_row(session, Photo, photo_id)
    item = piece_of(session, photo)
    try:
        found = measure(photo, item, form)
    except StepRefused as problem:
        return RimDepthView(missing=problem.message)
    depth = found.depth
    return RimDepthView(
        depth=showing.length(depth.mean_m),
        give_or_take=showing.length(SDS_OF_90 * depth.doubt_m),
        spread=_from_to(min(depth.depths_m), max(depth.depths_m), showing),
        places=tuple(showing.length(one) for one in depth.depths_m),
        cautions=tuple(_cautions(found, item, showing)),
    )


def _from_to(low_m: float, high_m: float, showing: Showing) -> str:
    """Return two lengths with one unit, as in 0.54 to 0.61 mm."""
    return f"{showing.length(low_m).removesuffix(f' {showing.length_unit}')} to {showing.length(high_m)}"


def _cautions(found: Measured, item: Item, showing: Showing) -> Iterator[str]:
    circle_m = found.circle_m if item.shape != "plate" else None
    if circle_m is not None and abs(circle_m / item.size_m - 1.0) > CIRCLE_OFF:
        yield (
            f"Your points on the surface make a circle of {showing.size(circle_m)}, and the piece is"
            f" {own_words(item, showing)}: the camera stood at a slant, or an end of the scale is off."
        )
    if found.depth.mean_m < FEWEST_PIXELS_DEEP * found.depth.metres_a_pixel:
        yield "The case is only a few dots deep on this photo. A closer one can be measured better."
