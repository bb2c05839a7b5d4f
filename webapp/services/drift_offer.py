"""A forge that has come to run otherwise: what the watch found, in words, and what the owner answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col

from webapp.services.batch_rows import kept, row_id
from webapp.services.change_words import DRIFTED
from webapp.services.fitting import newest_summary
from webapp.services.heats_seen import AS_BEFORE
from webapp.services.instruments import HEATS
from webapp.services.oven_words import degrees
from webapp.services.showing import Showing, plural
from webapp.services.step_rules import StepRefused
from webapp.services.thing_changes import changes_href, keep_change
from webapp.store.tables import Batch, Fire, Instrument, ShopChange
from webapp.store.unit_of_work import UnitOfWork

NORMAL_90 = 1.6448536
NOTHING_TO_ANSWER = "The watch does not ask this any more: a newer look at the logbook has settled it."


@dataclass(frozen=True)
class DriftOffer:
    """What the watch found of one way of knowing the heat, and where to answer.

    first : the batch since which it leans so; day : when that was
    """

    instrument_id: int
    headline: str
    how: str
    batch_words: str
    batch_href: str
    yes_action: str
    no_action: str
    changes_href: str


@dataclass(frozen=True)
class _Found:
    """A drift of the newest fit that nobody has answered, with its first batch."""

    instrument: Instrument
    batch: Batch
    told: Mapping[str, Any]


def drift_offers(session: Session, showing: Showing) -> tuple[DriftOffer, ...]:
    """Return what the owner is to be asked."""
    return tuple(_offer(found, showing) for found in _unanswered(session))


def say_drifted(work: UnitOfWork, instrument_id: int) -> str:
    """Note the drift from the day of its first fire; return where it may be removed again."""
    found = _asked(work.session, instrument_id)
    keep_change(work, HEATS.key, instrument_id, DRIFTED, found.batch.day)
    return changes_href(HEATS, instrument_id)


def say_as_before(work: UnitOfWork, instrument_id: int, today: date) -> str:
    """Note that nothing was changed: nothing is loosened and the watch begins anew."""
    _asked(work.session, instrument_id)
    keep_change(work, HEATS.key, instrument_id, AS_BEFORE, today)
    return changes_href(HEATS, instrument_id)


def _asked(session: Session, instrument_id: int) -> _Found:
    for found in _unanswered(session):
        if found.instrument.id == instrument_id:
            return found
    raise StepRefused("", NOTHING_TO_ANSWER)


def _unanswered(session: Session) -> list[_Found]:
    newest = newest_summary(session)
    told = newest.summary.get("drifts", ()) if newest is not None else ()
    found = [one for row in told if (one := _rows_of(session, row)) is not None]
    return [one for one in found if _still_leans(one.told) and not _is_answered(session, one)]


def _still_leans(told: Mapping[str, Any]) -> bool:
    """Tell whether the fires since then, taken together, still say so: later ones may have gone back."""
    return abs(float(told["by_K"])) > NORMAL_90 * float(told["sd_K"])


def _rows_of(session: Session, told: Mapping[str, Any]) -> _Found | None:
    """Return a drift with its rows; None where they are not there any more."""
    number = str(told["heat_method"]).rpartition(":")[2]
    instrument = session.get(Instrument, int(number)) if number.isdecimal() else None
    fire = str(told["first"])
    batches = kept(session, Batch, col(Batch.fire_id) == int(fire)) if fire.isdecimal() else []
    if instrument is None or instrument.deleted_at is not None or not batches:
        return None
    return _Found(instrument, min(batches, key=lambda batch: (batch.day, batch.id or 0)), told)


def _is_answered(session: Session, found: _Found) -> bool:
    """Tell whether a change of that day or later explains it: of the instrument, or of its forge."""
    fire = session.get(Fire, found.batch.fire_id)
    since: Sequence[ShopChange] = kept(session, ShopChange, col(ShopChange.changed_on) >= found.batch.day)
    forge_id = fire.forge_id if fire else None
    return any(
        row.instrument_id == found.instrument.id or (row.forge_id is not None and row.forge_id == forge_id)
        for row in since
    )


def _offer(found: _Found, showing: Showing) -> DriftOffer:
    by_K, half_K = float(found.told["by_K"]), NORMAL_90 * float(found.told["sd_K"])
    href = changes_href(HEATS, row_id(found.instrument))
    answer = f"/forge/drift/{found.instrument.id}"
    return DriftOffer(
        instrument_id=row_id(found.instrument),
        headline=(
            f"Since batch {found.batch.number} ({showing.day(found.batch.day)}) the forge runs "
            f"{'colder' if by_K < 0 else 'hotter'} than before at the same reading, by about "
            f"{degrees(abs(by_K), showing)}, give or take {degrees(half_K, showing)}."
        ),
        how=_how(found, by_K),
        batch_words=f"Look at batch {found.batch.number}",
        batch_href=f"/batches/{found.batch.id}",
        yes_action=f"{answer}/yes",
        no_action=f"{answer}/no",
        changes_href=href,
    )


def _how(found: _Found, by_K: float) -> str:
    fires = plural(int(found.told["fires"]), "fire")
    depth = "shallower" if by_K < 0 else "deeper"
    ageing = (
        " A thermocouple that has grown old reads high, and the work stays colder than it says."
        if found.instrument.method == "thermocouple" and by_K < 0
        else ""
    )
    return (
        f"The heat was known by “{found.instrument.name}”. Of the last {fires} most came out {depth} than "
        f"the fires before foretell.{ageing}"
    )
