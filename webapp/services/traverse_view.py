"""The traverses of a piece: every dent beside the hardness that the other fires foretell at its depth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from sqlmodel import Session

from model.belief import ShopBelief
from model.cause_changes import AS_TOLD
from model.drawn_piece import DrawnPiece, draw_piece
from model.errors import ModelError
from model.look import look
from model.planner import band
from model.readings import Observation, TraverseReading
from model.traverse_reading import TRAVERSE_SD_HV
from model.usable import why_not_used
from webapp.charts import Chart
from webapp.services.batch_rows import get_row, load_batch, row_id
from webapp.services.fire_apart import apart_from_fire, readings_of_fire
from webapp.services.fitting import current_belief
from webapp.services.observations import told_of_batch
from webapp.services.plan_sums import Believed
from webapp.services.reading_words import say_where
from webapp.services.showing import Showing, plural
from webapp.services.traverse_chart import Dent, Profile, traverse_chart
from webapp.store.tables import Item, Reading

Array = NDArray[np.float64]
DRAWS: Final = 96
PLACES: Final = 41
BEYOND: Final = 1.15
"""How far the band goes on past the deepest dent."""
NORMAL_90: Final = float(ndtri(0.95))
SCATTERS: Final = ndtri((np.arange(20) + 0.5) / 20)
KEPT: Final = 16
BOOKS_ONLY: Final = "By the books alone: no coupon has taught this forge anything yet."
NOT_MODELLED: Final = "The model cannot forecast this piece as it was noted; look at its steps."


@dataclass(frozen=True)
class TraverseView:
    """The charts of a piece's traverses, and why one has no band."""

    title: str
    item_href: str
    charts: tuple[Chart, ...]
    missing: tuple[str, ...]
    source: str


def view_traverse(session: Session, item_id: int, now: datetime, showing: Showing) -> TraverseView:
    """Return a chart of each traverse that was read of a piece."""
    item = get_row(session, Item, item_id)
    rows = load_batch(session, item.batch_id)
    own = [row for row in rows.readings.get(row_id(item), []) if row.kind == "traverse"]
    if not own:
        return TraverseView(f"{item.mark} {item.name}".strip(), f"/items/{item.id}", (), (), "")
    told, known = told_of_batch(session, rows, now), current_belief(session, str(rows.batch.fire_id))
    fire, believed = readings_of_fire(session, rows.batch, known, now), Believed.of(known.belief)
    charts, missing = [], []
    for row in own:
        dents, profile, why = _foretold(told[row_id(row)], row, believed, fire)
        charts.append(traverse_chart(f"traverse-{row.id}", say_where(row, showing), dents, profile, showing))
        missing += [f"No forecast: {why.rstrip('.')}."] if why else []
    learnt = f"Learnt from {plural(known.coupons, 'coupon')}, this fire’s own left out."
    return TraverseView(
        title=f"{item.mark} {item.name}".strip(),
        item_href=f"/items/{item.id}",
        charts=tuple(charts),
        missing=tuple(missing),
        source=learnt if known.coupons else BOOKS_ONLY,
    )


def _foretold(
    told: Observation | str, row: Reading, believed: Believed, fire: tuple[Observation, ...]
) -> tuple[tuple[Dent, ...], Profile | None, str]:
    """Return a traverse with what is foretold of it, or its dents alone and why."""
    plain = tuple(
        Dent(depth_m, value, NORMAL_90 * TRAVERSE_SD_HV) for depth_m, value in row.details["points"]
    )
    if not isinstance(told, Observation):
        return plain, None, told
    refused = why_not_used(told)
    if refused:
        return plain, None, refused
    try:
        dents, profile = _worked_out(believed, told, fire)
    except ModelError as refusal:
        return plain, None, str(refusal)
    return (dents, profile, "") if profile else (plain, None, NOT_MODELLED)


@lru_cache(maxsize=KEPT)
def _worked_out(
    believed: Believed, told: Observation, fire: tuple[Observation, ...]
) -> tuple[tuple[Dent, ...], Profile | None]:
    """Return the dents and the band by the belief without this fire; kept by the fit and what was noted."""
    belief = apart_from_fire(believed, told.process.keys.fire, fire)
    return foretell_traverse(told, belief)


def foretell_traverse(told: Observation, belief: ShopBelief) -> tuple[tuple[Dent, ...], Profile | None]:
    """Return each dent with what a belief foretells of it, and the band over the depth; none if refused."""
    reading = told.reading
    assert isinstance(reading, TraverseReading)
    pieces = draw_piece([told], [AS_TOLD], belief, look, DRAWS)
    if not pieces:
        return (), None
    at = np.linspace(0.0, BEYOND * max(reading.depth_m), PLACES)
    shown = _at(pieces[0], told, tuple(float(depth_m) for depth_m in at))[0]
    if not np.isfinite(shown).all():
        return (), None
    low, middle, high = band(shown.T)
    profile = Profile(*(tuple(round(float(value), 6) for value in row) for row in (at, low, middle, high)))
    return _dents(pieces[0], told, reading), profile


def _at(piece: DrawnPiece, told: Observation, depths_m: tuple[float, ...]) -> tuple[Array, Array]:
    """Return what a tester would show at some depths and its doubt there, (draws, depths) each."""
    assert isinstance(told.reading, TraverseReading)
    asked = replace(told.reading, depth_m=depths_m, hardness_HV=(0.0,) * len(depths_m))
    found = piece.shows(told.process, asked)
    return found.value, found.doubt


def _dents(piece: DrawnPiece, told: Observation, reading: TraverseReading) -> tuple[Dent, ...]:
    """Return each dent; where the hardness falls steeply, the doubt of its place is in its give or take."""
    values, doubt = _at(piece, told, reading.depth_m)
    sd = np.hypot(TRAVERSE_SD_HV, np.median(doubt, axis=0))
    spread = values[:, None, :] + SCATTERS[:, None] * sd
    low, middle, high = band(spread.reshape(-1, len(sd)).T)
    return tuple(
        Dent(depth_m, read, float(NORMAL_90 * own), float(least), float(half), float(most))
        for depth_m, read, own, least, half, most in zip(
            reading.depth_m, reading.hardness_HV, sd, low, middle, high, strict=True
        )
    )
