"""Which fit stands, and how a new one comes about: read the book, fit in the worker, store the result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import Lock
from typing import Any, Generic, TypeVar

from sqlalchemy import String, insert, type_coerce
from sqlmodel import Session, col, delete, select

from model import MODEL_VERSION
from model.belief import ShopBelief, handbook_belief
from model.stored_belief import read_belief
from webapp.services.fit_made import FitMade
from webapp.store.errors import NotFound
from webapp.store.tables import Fit, Plan
from webapp.store.unit_of_work import UnitOfWork

Value = TypeVar("Value")

STILL_ASKED = timedelta(minutes=10)  # a plan is worked out from a fit some seconds before it is saved with it


@dataclass(frozen=True)
class CurrentBelief:
    """What plans are worked out from: the newest fit, or the books alone when there is none."""

    belief: ShopBelief
    fit_id: int | None = None
    coupons: int = 0
    summary: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class FitSummary:
    """What a fit found, ready to be worded."""

    fit_id: int
    created_at: datetime
    summary: dict[str, Any]


def current_belief(session: Session, *fires: str) -> CurrentBelief:
    """Return what the newest fit of this model believes, or the books.

    fires : keys of those whose own luck is asked for too; a plan asks for none, as its fire is still to come
    """
    standing = _standing(session)
    if standing is None:
        return CurrentBelief(handbook_belief())
    belief = _BELIEFS.of(standing, lambda: read_belief(_column(session, standing, Fit.belief)))
    summary = _SUMMARIES.of(standing, lambda: _column(session, standing, Fit.summary))
    return CurrentBelief(belief.of_fires(*fires), standing.fit_id, belief.coupons, summary)


@dataclass(frozen=True)
class _Standing:
    """The newest fit, known by its file, number, moment and readings: it is never changed once it stands."""

    file: str
    fit_id: int
    created_at: datetime
    fingerprint: str


class _LastOne(Generic[Value]):
    """Something of the newest fit, unpacked once: it is large in an old logbook, so one is kept."""

    def __init__(self) -> None:
        """Begin empty."""
        self._kept: dict[_Standing, Value] = {}
        self._lock = Lock()

    def of(self, standing: _Standing, unpack: Callable[[], Value]) -> Value:
        """Return what is kept of a fit, or unpack it and forget the one before."""
        with self._lock:
            if standing not in self._kept:
                self._kept.clear()  # first, for two at once are one too many
                self._kept[standing] = unpack()
            return self._kept[standing]


_BELIEFS: _LastOne[ShopBelief] = _LastOne()
_SUMMARIES: _LastOne[dict[str, Any]] = _LastOne()


def _standing(session: Session) -> _Standing | None:
    query = select(Fit.id, Fit.created_at, Fit.fingerprint).where(Fit.model_version == MODEL_VERSION)
    found = session.exec(query.order_by(col(Fit.id).desc()).limit(1)).first()
    return _Standing(str(session.get_bind()), found[0] or 0, found[1], found[2]) if found else None


def _column(session: Session, standing: _Standing, column: Any) -> dict[str, Any]:
    return dict(session.exec(select(column).where(Fit.id == standing.fit_id)).one())


def newest_belief(session: Session) -> ShopBelief | None:
    """Return all that the newest fit of this model believes, None where none stands."""
    standing = _standing(session)
    return read_belief(_column(session, standing, Fit.belief)) if standing else None


def newest_summary(session: Session) -> FitSummary | None:
    """Return what is to be said of the newest fit, to be read and not to be changed."""
    standing = _standing(session)
    if standing is None:
        return None
    summary = _SUMMARIES.of(standing, lambda: _column(session, standing, Fit.summary))
    return FitSummary(standing.fit_id, standing.created_at, summary)


def readings_used(session: Session, fit_id: int) -> list[int]:
    """Return the numbers of the readings that a fit used."""
    found = session.exec(select(Fit.reading_ids).where(Fit.id == fit_id)).one()
    return [int(key) for key in found]


def learnt_by(session: Session, fit_id: int) -> ShopBelief:
    """Return what a fit believes, or raise `NotFound`; one of an earlier model is not understood any more."""
    row = session.get(Fit, fit_id)
    if row is None or row.model_version != MODEL_VERSION:
        raise NotFound("fit", fit_id)
    return read_belief(row.belief)


def store_fit(work: UnitOfWork, made: FitMade, now: datetime) -> int:
    """Keep a fit with the readings it used; return its number."""
    texts = {"reading_ids": made.reading_ids, "belief": made.belief, "summary": made.summary}
    written = {name: type_coerce(text, String) for name, text in texts.items()}  # JSON as it is
    mark = {"created_at": now, "model_version": MODEL_VERSION, "fingerprint": made.fingerprint}
    row = insert(Fit).values(**mark, **written).returning(col(Fit.id))
    fit_id: int = work.session.execute(row).scalar_one()
    forget_unused(work, fit_id, now)
    return fit_id


def forget_unused(work: UnitOfWork, newest: int, now: datetime) -> None:
    """Drop the fits that no plan goes by any more, but those a plan may be being worked out from."""
    in_plans = select(Plan.fit_id).where(col(Plan.fit_id).is_not(None))
    is_unused = col(Fit.id).not_in(in_plans) & (col(Fit.id) != newest)
    work.session.exec(delete(Fit).where(is_unused, col(Fit.created_at) < now - STILL_ASKED))
