"""A usual shop with one batch that went the whole way, by the services; tests add what they ask about."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from webapp.services.batch_rows import load_batch, row_id
from webapp.services.batches import start_at_once
from webapp.services.usual_shop import add_usual_shop
from webapp.services.whole_book import by_id
from webapp.store.tables import Bath, Item, Reading, Shop, Step
from webapp.store.unit_of_work import UnitOfWork

NOW = datetime(2026, 4, 3, 20, 0, tzinfo=UTC)
LIT = datetime(2026, 4, 3, 8, 0, tzinfo=UTC)
HEAT_K = 1193.15


def begin_shop(work: UnitOfWork) -> None:
    """Put the usual shop into an empty logbook."""
    work.add(Shop(id=1, name="shop", created_at=NOW, updated_at=NOW))
    add_usual_shop(work)


def begin_batch(work: UnitOfWork) -> tuple[int, Item]:
    """Start a batch of the usual kind; return its id and its pin."""
    batch = start_at_once(work)
    return row_id(batch), load_batch(work.session, row_id(batch)).items[0]


def step(work: UnitOfWork, batch_id: int | None, kind: str, order: int, hours: float, **more: Any) -> None:
    """Note a step some hours after the fire was lit."""
    more.setdefault("item_id", None)
    more.setdefault("started_at", LIT + timedelta(hours=hours))
    work.add(Step(batch_id=batch_id, kind=kind, order=order, **more))


def water(work: UnitOfWork) -> int:
    """Return the shop's bath of water."""
    return next(id_ for id_, bath in by_id(work.session, Bath).items() if bath.medium == "water")


def soak(work: UnitOfWork, batch_id: int, clock_from: str = "at_heat", **more: Any) -> None:
    """Note four hours of soak."""
    settings = {"clock_from": clock_from}
    fields = {"temperature_K": HEAT_K, "seconds": 4 * 3600.0, "settings": settings} | more
    step(work, batch_id, "soak", 1, 1.0, **fields)


def whole_run(work: UnitOfWork, batch_id: int, _pin: Item) -> None:
    """Note a batch from the box in the fire to the temper."""
    step(work, batch_id, "box_in", 0, 0.0)
    soak(work, batch_id)
    step(work, batch_id, "box_out", 2, 5.0, settings={"then": "slow_cool"})
    step(work, batch_id, "reheat", 3, 9.0, temperature_K=1073.15, seconds=900.0)
    step(work, batch_id, "quench", 4, 9.3, bath_id=water(work), settings={"seconds_to_bath": 3})
    step(work, batch_id, "temper", 5, 10.0, temperature_K=453.15, seconds=3600.0)


def reading(pin: Item, kind: str, **fields: Any) -> Reading:
    """Return a reading of a piece."""
    return Reading(item_id=row_id(pin), kind=kind, measured_at=NOW, **fields)


def add_read_batch(work: UnitOfWork, depth_m: float) -> int:
    """Note a batch that went straight into water, and a rim read of its pin; return the batch's id."""
    batch_id, pin = begin_batch(work)
    soak(work, batch_id)
    step(work, batch_id, "box_out", 2, 5.0, settings={"then": "quench"})
    step(work, batch_id, "quench", 3, 5.0, bath_id=water(work), settings={"seconds_to_bath": 3})
    work.add(reading(pin, "depth", value=depth_m, details={"how": "break"}))
    return batch_id
