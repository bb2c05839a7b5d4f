"""Which fit stands, and how a new one comes about: read the book, fit in the worker, store the result."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from hashlib import sha256
from threading import Lock
from typing import Any

from sqlmodel import Session, col, delete, select

from model import MODEL_VERSION
from model.belief import ShopBelief, handbook_belief
from webapp.services.fit_job import FitOutcome
from webapp.services.observations import Told
from webapp.store.errors import NotFound
from webapp.store.tables import Fit, Plan
from webapp.store.unit_of_work import UnitOfWork

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
    known = _newest_known(session)
    if known is None:
        return CurrentBelief(handbook_belief())
    return replace(known, belief=known.belief.of_fires(*fires))


def _newest_known(session: Session) -> CurrentBelief | None:
    """Return what the newest fit believes; unpacked once, for it is large in an old logbook.

    One is kept, and a fit is never changed once it stands: it is known by its file, number and moment.
    """
    query = select(Fit.id, Fit.created_at, Fit.fingerprint).where(Fit.model_version == MODEL_VERSION)
    found = session.exec(query.order_by(col(Fit.id).desc()).limit(1)).first()
    if found is None:
        return None
    key = (str(session.get_bind()), *found)
    with _unpacking:
        if key not in _UNPACKED:
            row = session.get_one(Fit, found[0])
            _UNPACKED.clear()
            _UNPACKED[key] = belief_of(row)
            session.expunge(row)
        return _UNPACKED[key]


_UNPACKED: dict[tuple[object, ...], CurrentBelief] = {}
_unpacking = Lock()


def belief_of(row: Fit) -> CurrentBelief:
    """Return what a stored fit believes."""
    belief = ShopBelief.from_dict(row.belief)
    return CurrentBelief(belief, row.id, belief.coupons, row.summary)


def newest_fit(session: Session) -> Fit | None:
    """Return the newest fit that this version of the model made."""
    query = select(Fit).where(Fit.model_version == MODEL_VERSION).order_by(col(Fit.id).desc()).limit(1)
    return session.exec(query).first()


def newest_summary(session: Session) -> FitSummary | None:
    """Return what is to be said of the newest fit, without its belief, which is large in an old logbook."""
    query = select(Fit.id, Fit.created_at, Fit.summary).where(Fit.model_version == MODEL_VERSION)
    found = session.exec(query.order_by(col(Fit.id).desc()).limit(1)).first()
    return FitSummary(found[0] or 0, found[1], dict(found[2])) if found is not None else None


def learnt_by(session: Session, fit_id: int) -> ShopBelief:
    """Return what a fit believes, or raise `NotFound`; one of an earlier model is not understood any more."""
    row = session.get(Fit, fit_id)
    if row is None or row.model_version != MODEL_VERSION:
        raise NotFound("fit", fit_id)
    return ShopBelief.from_dict(row.belief)


def fingerprint_of(told: Told) -> str:
    """Return what tells one set of readings, and what is asked of it, from another that needs its own fit."""
    changes = [job.keys.loosened for job in told.jobs]  # a change that no fire ran with yet is news as well
    asked = (MODEL_VERSION, told.observations, told.checks, told.sides, changes)
    return sha256(repr(asked).encode()).hexdigest()


def store_fit(work: UnitOfWork, told: Told, outcome: FitOutcome, now: datetime) -> Fit:
    """Keep a fit with the readings it used; the reasons of the readings never told to it stand beside."""
    summary = {**outcome.summary, "left_out": {**told.untold, **outcome.summary["left_out"]}}
    row = Fit(
        created_at=now,
        model_version=MODEL_VERSION,
        reading_ids=[int(key) for key in outcome.summary["used"]],
        fingerprint=fingerprint_of(told),
        belief=outcome.belief,
        summary=summary,
    )
    work.add(row)
    forget_unused(work, row, now)
    return row


def forget_unused(work: UnitOfWork, newest: Fit, now: datetime) -> None:
    """Drop the fits that no plan goes by any more, but those a plan may be being worked out from."""
    in_plans = select(Plan.fit_id).where(col(Plan.fit_id).is_not(None))
    is_unused = col(Fit.id).not_in(in_plans) & (col(Fit.id) != newest.id)
    work.session.exec(delete(Fit).where(is_unused, col(Fit.created_at) < now - STILL_ASKED))
