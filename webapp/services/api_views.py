"""The logbook as the JSON interface answers it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
from sqlalchemy import func
from sqlalchemy import select as select_columns
from sqlmodel import Session, col

from model import MODEL_VERSION
from model.belief import ShopBelief
from webapp.forms.logbook import BatchesQuery, CouponsQuery
from webapp.forms.logbook_output import (
    BatchAnswer,
    BatchesAnswer,
    BeliefAnswer,
    CouponAnswer,
    CouponsAnswer,
    EndsAnswer,
    FitAnswer,
    NamedAnswer,
    NewestFitAnswer,
    OddWord,
    PhotoAnswer,
    ReadingAnswer,
    SoakAnswer,
)
from webapp.services.batch_rows import aware, kept, row_id
from webapp.services.fitting import current_belief, newest_summary, readings_used
from webapp.services.logbook_rows import Ends, LogRow, find_batches
from webapp.services.whole_book import by_id, grouped
from webapp.store.tables import Bar, Batch, Instrument, Item, Photo, Reading, Step


def answer_batches(session: Session, query: BatchesQuery) -> BatchesAnswer:
    """Return a page of batches."""
    found = find_batches(session, query, query.rows)
    batches = [_batch(row) for row in found.rows]
    return BatchesAnswer(total=found.total, page=found.page, pages=found.pages, batches=batches)


def _batch(row: LogRow) -> BatchAnswer:
    batch = row.batch
    odd: OddWord = row.odd  # type: ignore[assignment]  # one of the words of `odd_fires`
    return BatchAnswer(
        id=row_id(batch),
        number=batch.number,
        day=batch.day,
        state=batch.state,
        box=_named(row.box),
        mix=_named(row.mix),
        heat=_named(row.heat),
        bath=_named(row.bath) if row.bath else None,
        soak=_soak(row.soak) if row.soak else None,
        coupons=sum(item.kind == "coupon" for item in row.items),
        parts=sum(item.count for item in row.items if item.kind == "part"),
        readings=row.readings,
        depth_by_eye_m=_ends(row.depth_m),
        hardness_HRC=_ends(row.hardness_HRC),
        odd=odd,
        given_up_because=batch.given_up_why,
        set_aside_because=batch.left_out_why,
        note=batch.note,
    )


def _named(row: Any) -> NamedAnswer:
    return NamedAnswer(id=row_id(row), name=row.name)


def _ends(ends: Ends | None) -> EndsAnswer | None:
    return EndsAnswer(least=ends[0], greatest=ends[1]) if ends else None


def _soak(soak: Step) -> SoakAnswer:
    return SoakAnswer(
        clock_from=str(soak.settings.get("clock_from", "")),
        temperature_K=soak.temperature_K,
        temperature_give_or_take_K=soak.temperature_spread_K,
        seconds=soak.seconds,
        seconds_give_or_take=soak.seconds_spread,
        typed=soak.typed,
    )


def answer_coupons(session: Session, query: CouponsQuery) -> CouponsAnswer:
    """Return a page of coupons with their readings, oldest first."""
    wanted = [
        col(Item.kind) == "coupon",
        col(Item.deleted_at).is_(None),
        col(Batch.deleted_at).is_(None),
        *([col(Item.batch_id) == query.batch] if query.batch else []),
    ]
    of_batch = col(Batch.id) == Item.batch_id
    total = session.execute(
        select_columns(func.count(col(Item.id))).join(Batch, of_batch).where(*wanted)
    ).scalar_one()
    pages = max(1, -(-total // query.rows))
    page = min(query.page, pages)
    rows = select_columns(Item, col(Batch.number)).join(Batch, of_batch).where(*wanted).order_by(col(Item.id))
    found = session.execute(rows.limit(query.rows).offset((page - 1) * query.rows)).all()
    return CouponsAnswer(total=total, page=page, pages=pages, coupons=_coupons(session, found))


def _coupons(session: Session, found: Sequence[tuple[Item, int]]) -> list[CouponAnswer]:
    ids = [row_id(item) for item, _ in found]
    readings = grouped(kept(session, Reading, col(Reading.item_id).in_(ids)), lambda row: row.item_id)
    photos = grouped(kept(session, Photo, col(Photo.item_id).in_(ids)), lambda row: row.item_id or 0)
    bars, testers = by_id(session, Bar), by_id(session, Instrument)
    newest = newest_summary(session)
    summary = newest.summary if newest is not None else {}
    used, why = set(summary.get("used", ())), summary.get("left_out", {})
    return [
        CouponAnswer(
            id=row_id(item),
            batch_id=item.batch_id,
            batch_number=number,
            steel=_named(bars[item.bar_id]),
            set_aside_because=item.left_out_why,
            readings=[_reading(row, testers, used, why) for row in readings[row_id(item)]],
            photos=[_photo(row) for row in photos[row_id(item)]],
            **{name: getattr(item, name) for name in PLAIN_OF_COUPON},
        )
        for item, number in found
    ]


def _photo(photo: Photo) -> PhotoAnswer:
    own = {name: getattr(photo, name) for name in PLAIN_OF_PHOTO}
    return PhotoAnswer(address=f"/photos/{photo.sha256}.jpg", **own)


PLAIN_OF_PHOTO = ("id", "sha256", "caption", "width_px", "height_px", "reading_id", "measured")
PLAIN_OF_COUPON = ("mark", "name", "shape", "size_m", "bore_m", "place", "is_pin")
PLAIN_OF_READING = (
    "kind", "after", "life", "place", "surface", "removed_m", "value", "low", "high", "unit", "details",
    "typed",
)  # fmt: skip


def _reading(
    row: Reading, testers: Mapping[int, Instrument], used: Collection[str], why: Mapping[str, str]
) -> ReadingAnswer:
    tester = testers.get(row.instrument_id or 0)
    return ReadingAnswer(
        id=row_id(row),
        tester=_named(tester) if tester else None,
        measured_at=aware(row.measured_at),
        used=str(row.id) in used,
        not_used_because=row.left_out_why or why.get(str(row.id), ""),
        **{name: getattr(row, name) for name in PLAIN_OF_READING},
    )


def answer_belief(belief: ShopBelief) -> BeliefAnswer:
    """Return a belief in plain numbers."""
    return BeliefAnswer(
        names=list(belief.names),
        mean=belief.mean.tolist(),
        covariance=belief.covariance.full().tolist(),
        spread=belief.spread,
        coupons=belief.coupons,
        draws=None if belief.draws is None else belief.draws.tolist(),
        books=np.asarray(belief.books).tolist(),
    )


def answer_fit(session: Session) -> NewestFitAnswer:
    """Return the newest fit that this model made."""
    newest, known = newest_summary(session), current_belief(session)
    if newest is None:
        return NewestFitAnswer(model_version=MODEL_VERSION, fit=None)
    fit = FitAnswer(
        id=newest.fit_id,
        created_at=aware(newest.created_at),
        model_version=MODEL_VERSION,
        readings_used=readings_used(session, newest.fit_id),
        coupons=known.coupons,
        settled=bool(newest.summary["settled"]),
        summary=dict(newest.summary),
        belief=answer_belief(known.belief),
    )
    return NewestFitAnswer(model_version=MODEL_VERSION, fit=fit)
