"""The demo: an invented shop, told apart from a real one, and the same each time it is built."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlmodel import col, select

from webapp.demo import build_demo
from webapp.demo.shop import INVENTED
from webapp.demo.truth import TRUE_COORDINATES
from webapp.services.fit_job import FitOutcome, run_fit
from webapp.services.observations import Told, tell
from webapp.store.engine import Store, open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Bar, Batch, Box, Instrument, Item, Mix, Part, Reading, Shop

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)


def built(folder: Path) -> Store:
    store = open_store(folder)
    bring_up_to_date(store, NOW)
    build_demo(store, NOW)
    return store


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Built once for all tests here, which only read it."""
    with closing(built(tmp_path_factory.mktemp("demo"))) as store:
        yield store


def test_the_demo_holds_the_story_it_promises(demo: Store) -> None:
    with read(demo) as session:
        batches = session.exec(select(Batch)).all()
        coupons = session.exec(select(Item).where(Item.kind == "coupon")).all()
        days = [batch.day for batch in batches]
        assert len(batches) >= 12
        assert len(coupons) >= 35
        assert (max(days) - min(days)).days >= 230
        assert len(session.exec(select(Box)).all()) == 2
        assert len(session.exec(select(Mix)).all()) == 3


def test_the_things_of_the_demo_are_marked_as_invented(demo: Store) -> None:
    with read(demo) as session:
        shop = session.exec(select(Shop)).one()
        assert shop.is_demo
        for kind in (Bar, Batch, Box, Mix, Part):
            unmarked = session.exec(select(kind).where(~col(kind.note).contains(INVENTED))).all()
            assert unmarked == []


def test_the_demo_comes_out_the_same_each_time(demo: Store, tmp_path: Path) -> None:
    with closing(built(tmp_path / "again")) as again:
        assert _values(again) == _values(demo)


def _values(store: Store) -> list[float | None]:
    with read(store) as session:
        return list(session.exec(select(Reading.value).order_by(col(Reading.id))))


@pytest.fixture(scope="module")
def told(demo: Store) -> Told:
    with read(demo) as session:
        return tell(session, NOW)


def test_the_bar_that_does_not_harden_is_kept_out_with_its_reason(told: Told) -> None:
    kept_out = [why for why in told.untold.values() if "kept for you to read" not in why]
    assert len(kept_out) == 2
    assert all("does not harden" in why for why in kept_out)


def test_a_fit_of_the_demo_finds_the_failed_seal_and_the_hidden_forge(told: Told) -> None:
    found = run_fit(told.observations, told.checks, None)
    scores = {row["fire"]: row["score"] for row in found.summary["fires"]}
    assert min(scores, key=lambda fire: scores[fire]) == "6"
    assert scores["6"] < -2.0
    assert found.summary["settled"]
    truth = {
        name: TRUE_COORDINATES[name]
        for name in ("ln_transfer/shop", "activity/shop", "rim_carbon/shop", "lag/shop")
    }
    for name, value in truth.items():
        mean, sd = _believed(found, name)
        assert abs(mean - value) < 2.0 * sd, f"{name}: {mean:.2f} give or take {sd:.2f}, truly {value}"


def test_readings_after_a_temper_teach_the_oven_of_the_demo(demo: Store, told: Told) -> None:
    with read(demo) as session:
        after = session.exec(select(Reading).where(Reading.after == "temper_1")).all()
        (oven,) = session.exec(select(Instrument).where(Instrument.role == "oven")).all()
    assert len(after) >= 5
    found = run_fit(told.observations, told.checks, None, told.jobs)
    assert {str(one.id) for one in after} <= set(found.summary["used"])
    (row,) = (row for row in found.summary["rows"] if row["kind"] == "oven")
    assert row["of"] == str(oven.id)
    assert row["now"]["low"] < 12.0 * TRUE_COORDINATES["oven/oven"] < row["now"]["high"]
    assert row["now"]["high"] - row["now"]["low"] < row["books"]["high"] - row["books"]["low"]
    assert row["now"]["median"] < -2.0


def _believed(found: FitOutcome, name: str) -> tuple[float, float]:
    place = found.belief["names"].index(name)
    return found.belief["mean"][place], found.belief["covariance"][place][place] ** 0.5
