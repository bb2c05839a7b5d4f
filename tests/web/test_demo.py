"""The demo: an invented shop, told apart from a real one, and the same each time it is built."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom
from sqlmodel import col, select

from model.arrow import Covariance
from model.belief import ShopBelief
from model.learnt import parameter_rows, standard_job_ratio
from model.process import Process
from model.stored_belief import read_belief
from webapp.demo import build_demo
from webapp.demo.build import true_coordinates
from webapp.demo.shop import EQUIPMENT, INVENTED
from webapp.demo.truth import TRUE_COORDINATES, TrueForge
from webapp.forms.supplies import SuppliesForm
from webapp.services.fit_job import FitOutcome, run_fit
from webapp.services.observations import Told, tell
from webapp.services.planning import stored_figures
from webapp.services.proved_jobs import proved_job
from webapp.services.readouts import readouts
from webapp.services.schedule_page import view_schedule
from webapp.services.sheets import showing_of
from webapp.services.shop_view import view_shop
from webapp.services.supplies import told_of, view_supplies
from webapp.store.engine import Store, open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import (
    Bar,
    Batch,
    Bath,
    Box,
    Event,
    Forge,
    Instrument,
    Item,
    Mix,
    Part,
    Plan,
    Reading,
    Shop,
)

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


@pytest.fixture(scope="module")
def fitted(told: Told) -> FitOutcome:
    return run_fit(told.observations, told.checks, None, told.jobs)


def test_a_fit_of_the_demo_finds_the_failed_seal(fitted: FitOutcome) -> None:
    scores = {row["fire"]: row["score"] for row in fitted.summary["fires"]}
    assert min(scores, key=lambda fire: scores[fire]) == "6"
    assert scores["6"] < -2.0
    assert fitted.summary["settled"]


@pytest.fixture(scope="module")
def forge(demo: Store) -> TrueForge:
    with read(demo) as session:
        named = {
            row.name: row.id or 0
            for kind in (Bar, Bath, Box, Forge, Instrument, Mix)
            for row in session.exec(select(kind))
        }
    return TrueForge(
        true_coordinates({key: named[str(told["name"])] for key, (_, told) in EQUIPMENT.items()})
    )


def true_belief(forge: TrueForge, belief: ShopBelief) -> ShopBelief:
    """Return a belief that is sure of the truth, in the names that were fitted."""
    truth = np.array([forge.coordinate(name) for name in belief.names])
    return ShopBelief(belief.names, truth, Covariance.whole(1e-12 * np.eye(len(truth))))


def rows_outside(
    forge: TrueForge, told: Told, belief: ShopBelief, used: Sequence[str]
) -> tuple[list[str], int]:
    """Return the constants of which the truth lies outside nine in ten, and how many there are."""
    observations = [one for one in told.observations if one.key in set(used)]
    rows, truths = (
        parameter_rows(observations, one, told.jobs) for one in (belief, true_belief(forge, belief))
    )
    known = [(row, true) for row, true in zip(rows, truths, strict=True) if row.now != row.books]
    outside = [
        f"{row.kind} {row.of}: {row.now} truly {true.now.median}"
        for row, true in known
        if not row.now.low < true.now.median < row.now.high
    ]
    return outside, len(known)


def covers_the_standard_jobs(forge: TrueForge, told: Told, belief: ShopBelief) -> bool:
    bands = [(standard_job_ratio(belief, job), true_ratio(forge, belief, job)) for job in told.jobs]
    return all(band.low < true < band.high for band, true in bands)


def true_ratio(forge: TrueForge, belief: ShopBelief, job: Process) -> float:
    return standard_job_ratio(true_belief(forge, belief), job).median


def test_the_hidden_forge_of_the_demo_is_recovered(told: Told, fitted: FitOutcome, forge: TrueForge) -> None:
    belief = read_belief(fitted.belief)
    outside, known = rows_outside(forge, told, belief, fitted.summary["used"])
    assert known >= 15
    # nine in ten each: more than that many outside has a chance below 1 in 100
    assert len(outside) <= binom.ppf(0.99, known, 0.1), outside
    assert covers_the_standard_jobs(forge, told, belief)


def test_one_coupon_of_the_demo_leaves_the_bands_wide_and_they_hold_the_truth(
    told: Told, fitted: FitOutcome, forge: TrueForge
) -> None:
    first = [one for one in told.observations if one.coupon == told.observations[0].coupon]
    found = run_fit(first, (), None, told.jobs)
    belief = read_belief(found.belief)
    outside, known = rows_outside(forge, told, belief, found.summary["used"])
    assert len(outside) <= binom.ppf(0.99, known, 0.1), outside
    assert covers_the_standard_jobs(forge, told, belief)
    one, many = ({row["mix"]: row for row in fit.summary["standard"]} for fit in (found, fitted))
    widths = {mix: (one[mix]["high"] - one[mix]["low"], many[mix]["high"] - many[mix]["low"]) for mix in one}
    assert all(wide > 1.5 * narrow for wide, narrow in widths.values()), widths
    books = readouts((), ShopBelief(), told.jobs)["standard"]
    assert all(widths[row["mix"]][0] > 0.5 * (row["high"] - row["low"]) for row in books), (widths, books)


def test_readings_after_a_temper_teach_the_oven_of_the_demo(demo: Store, fitted: FitOutcome) -> None:
    with read(demo) as session:
        after = session.exec(select(Reading).where(Reading.after == "temper_1")).all()
        (oven,) = session.exec(select(Instrument).where(Instrument.role == "oven")).all()
    assert len(after) >= 5
    assert {str(one.id) for one in after} <= set(fitted.summary["used"])
    (row,) = (row for row in fitted.summary["rows"] if row["kind"] == "oven")
    assert row["of"] == str(oven.id)
    assert row["now"]["low"] < 12.0 * TRUE_COORDINATES["oven/oven"] < row["now"]["high"]
    assert row["now"]["high"] - row["now"]["low"] < row["books"]["high"] - row["books"]["low"]
    assert row["now"]["median"] < -2.0


def test_the_demo_has_something_to_show_on_every_page_of_supplies_and_of_the_day(demo: Store) -> None:
    with read(demo) as session:
        plan = session.exec(select(Plan)).one()
        view = view_schedule(session, plan.id or 0, {}, view_shop(session), NOW)
        assert view.are_hours_told
        assert view.starts_at == "08:00"
        told = told_of(session, plan.id or 0)
        supplies = view_supplies(
            session, plan.id or 0, SuppliesForm(**told.values), showing_of(view_shop(session))
        )
        said = {line.label: line.text for line in supplies.gas.lines}
        assert "by 6 weighed fires" in said["Gas"]
        assert "At 0.7 bar" in said
        assert supplies.cost is not None
        assert supplies.cost.missing == ""
        assert "cheaper" in supplies.cost.beside
        soft = stored_figures(plan.result).more.soft  # type: ignore[union-attr]
        assert soft is not None
        assert "burner out" in [event.kind for event in session.exec(select(Event))]


def test_one_part_of_the_demo_is_proved_and_its_batches_say_a_line_of_the_shop_s_own(demo: Store) -> None:
    with read(demo) as session:
        proved = [part.name for part in session.exec(select(Part)) if proved_job(session, part)]
        said = {row.number: row.own_lines for row in session.exec(select(Batch))}
    assert proved == ["Wear plate"]
    assert [number for number, own in said.items() if not own] == [1, 2, 3]
    assert said[4] == {"1": "bought, beech"}
