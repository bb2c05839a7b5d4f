"""The readings of a piece beside what was foretold of them, and what may lie behind the odd ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from threading import Lock
from typing import Final

from sqlmodel import Session

from model.causes import Explained, explain
from model.errors import ModelError
from model.readings import Observation, SparkReading
from model.usable import why_not_used
from webapp.services.batch_rows import get_row, load_batch, row_id
from webapp.services.causes_view import CausesView, Judged, view_causes
from webapp.services.fire_apart import apart_from_fire, readings_of_fire
from webapp.services.fitting import current_belief
from webapp.services.observations import told_of_batch
from webapp.services.plan_sums import Believed
from webapp.services.showing import Showing
from webapp.store.tables import Item, Reading

KEPT_ANSWERS: Final = 64
NOT_FORETOLD: Final = "nothing is foretold of it"
SET_ASIDE: Final = "it is set aside, so it is not held against a forecast"
# How many times likelier a way becomes by what was noted of the box; common practice, no source.
NOTED: Final[Mapping[str, Mapping[str, float]]] = {
    "seal cracked": {"seal_failed": 10.0},
    "gas ran out": {"fire_cool": 5.0},
    "burner out": {"fire_cool": 5.0},
    "burning back": {"fire_cool": 3.0},
}
_explaining = Lock()


def explain_item(session: Session, item_id: int, now: datetime, showing: Showing) -> CausesView:
    """Hold every reading of a piece against its forecast, and word what may lie behind the odd ones."""
    item = get_row(session, Item, item_id)
    rows = load_batch(session, item.batch_id)
    told = told_of_batch(session, rows, now)
    own = rows.readings.get(row_id(item), [])
    aside = bool(item.left_out_why or rows.batch.left_out_why)
    used = {
        row_id(row): SET_ASIDE if aside or row.left_out_why else _foretellable(told[row_id(row)])
        for row in own
    }
    lives = _by_life(own, used)
    skipped = tuple((row, why) for row in own if isinstance(why := used[row_id(row)], str))
    belief = current_belief(session, str(rows.batch.fire_id))
    if not lives:
        return view_causes(item, (), None, skipped, showing)
    fire = readings_of_fire(session, rows.batch, belief, now)
    events = tuple(sorted({event.kind for event in rows.events}))
    try:
        # one at a time: two at once would only share the processor
        with _explaining:
            found = [_explained(Believed.of(belief.belief), life, fire, events) for life in lives]
    except ModelError as refused:
        refusals = tuple((row, str(refused)) for row in own if isinstance(used[row_id(row)], Observation))
        return view_causes(item, (), None, (*skipped, *refusals), showing)
    by_id = {str(row.id): row for row in own}
    judged = tuple(Judged(by_id[place.key], place) for one in found for place in one.places)
    newest_odd = next((one for one in reversed(found) if one.is_odd), found[-1])
    return view_causes(item, judged, newest_odd, skipped, showing, coupons=belief.coupons)


def _by_life(
    own: Sequence[Reading], used: Mapping[int, Observation | str]
) -> tuple[tuple[Observation, ...], ...]:
    """Return the readings of each life of a piece: what went wrong in one need not have in the next."""
    lives: dict[int, list[Observation]] = {}
    for row in sorted(own, key=lambda row: row.life):
        if isinstance(one := used[row_id(row)], Observation):
            lives.setdefault(row.life, []).append(one)
    return tuple(tuple(life) for life in lives.values())


def _foretellable(told: Observation | str) -> Observation | str:
    """Return a reading that a forecast can be held against, or why there is none."""
    if isinstance(told, str):
        return told
    if isinstance(told.reading, SparkReading):
        return NOT_FORETOLD
    return why_not_used(told) or told


@lru_cache(maxsize=KEPT_ANSWERS)
def _explained(
    believed: Believed,
    own: tuple[Observation, ...],
    of_fire: tuple[Observation, ...],
    events: tuple[str, ...],
) -> Explained:
    """Explain a piece by the belief without its fire; kept by the fit and by all that was noted."""
    belief = apart_from_fire(believed, own[0].process.keys.fire, of_fire)
    noted = {way: factor for event in events for way, factor in NOTED.get(event, {}).items()}
    return explain(own, belief, noted)
