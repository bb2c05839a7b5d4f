"""A dated change loosens the constants it touches from its day, and no other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.belief import ShopBelief
from model.dated_changes import Loosened, loosened_by, since, touches_of
from model.evidence import Evidence, InstrumentCheck, WarmUpCheck
from model.inputs import LOCAL_INPUTS, ROW, bias_terms, links
from model.learnt import oven_band, parameter_rows
from model.look import look
from model.narrowed import Taken, narrow
from model.process import Keys, Process, Temper
from model.readings import HardnessReading, Observation
from tests.model.linear_shop import drawn_shop, fitted
from tests.model.logbooks import job

MOVED = loosened_by("7", "heat_moved", "1")
FULL_KEYS = Keys("1", "1", "1", "4", "5", "thermocouple:1", "f0")


def after(process: Process, *loosened: Loosened) -> Process:
    return replace(process, keys=replace(process.keys, loosened=loosened))


def full_job() -> Process:
    made = job("f0")
    return replace(made, keys=FULL_KEYS, steps=(*made.steps, Temper(453.15, 3600.0)))


def input_sds(belief: ShopBelief, process: Process) -> np.ndarray:
    """Sd of every local input of a process, without what only one fire has; exact, not drawn."""
    linked = links(process)
    names = linked.names()
    place = {name: index for index, name in enumerate(belief.names)}
    covariance = np.eye(len(names))
    known = [at for at, name in enumerate(names) if name in place]
    at = [place[names[one]] for one in known]
    covariance[np.ix_(known, known)] = belief.covariance.full(np.array(at, dtype=np.intp))
    matrix = linked.matrix(names)
    matrix[:, [name.startswith(("fire/", "load/")) for name in names]] = 0.0
    return np.sqrt(np.einsum("ij,jk,ik->i", matrix, covariance, matrix))


@pytest.fixture(scope="module")
def belief() -> ShopBelief:
    shop = drawn_shop(3, 12)
    found = fitted(shop)
    return ShopBelief(shop.names, found.mean, found.narrowed, 1.0, 24)


def test_every_row_says_where_it_comes_from_and_touches_a_constant_that_there_is() -> None:
    coordinates = (*links(full_job()).names(), "tester/rockwell:1")
    for kind, touches in touches_of().items():
        for touch in touches:
            assert touch.source, kind
            assert touch.reason, kind
            assert 0.0 <= touch.keeps <= 1.0, kind
            assert touch.width is None or touch.width > 0.0 or kind == "heat_as_before", kind
            one = Loosened("1", touch.constant, "")
            assert any(one.touches(name) for name in coordinates), (kind, touch.constant)
            # a step that many things share cannot make each of them new
            assert touch.of == "thing" or touch.keeps == 1.0, kind


@pytest.mark.parametrize(
    ("kind", "thing", "name", "is_touched"),
    [
        ("heat_moved", "1", "temperature_bias/thermocouple:1", True),
        ("heat_moved", "1", "temperature_bias/thermocouple:11", False),
        ("relined", "2", "temperature_bias/colour:3", True),
        ("relined", "2", "lag/shop", True),
        ("relined", "2", "lag/box:2", False),
        ("box_mended", "2", "lag/box:2", True),
        ("mix_renewed", "2", "ln_transfer/mix:2", True),
        ("mix_renewed", "2", "ln_transfer/shop", False),
        ("bath_fresh", "4", "bath/oil:4", True),
        ("bath_fresh", "4", "bath/oil:?4", False),
        ("oven_moved", "5", "oven/5", True),
        ("tester_serviced", "1", "tester/rockwell:1", True),
        ("tester_serviced", "1", "temper/1", False),
    ],
)
def test_a_change_touches_its_own_thing_and_no_other(
    kind: str, thing: str, name: str, is_touched: bool
) -> None:
    assert any(one.touches(name) for one in loosened_by("7", kind, thing)) == is_touched


def test_a_process_that_no_change_came_before_is_as_it_was() -> None:
    terms = links(full_job()).terms
    assert since(terms, ()) is terms
    assert links(after(full_job(), *loosened_by("7", "heat_moved", "2"))).terms == terms


def test_a_new_thing_shares_nothing_with_the_old_and_is_as_wide_as_the_books() -> None:
    new = links(after(full_job(), *loosened_by("7", "heat_replaced", "1"))).terms
    own = [
        term for term in new if term[1] == ROW["temperature_K"] and not term[0].startswith(("fire", "load"))
    ]
    assert own == [("change/7|temperature_bias", ROW["temperature_K"], 10.6)]


def test_half_a_change_leaves_the_books_as_wide_as_they_were() -> None:
    new = links(after(full_job(), *loosened_by("7", "mix_renewed", "1"))).terms
    sds = [sd for name, row, sd in new if row == ROW["ln_transfer"] and name != "ln_transfer/shop"]
    assert np.hypot(*sds) == pytest.approx(0.35)
    assert sds[0] == pytest.approx(0.5 * 0.35)


def test_ten_changes_in_a_day_each_add_their_width() -> None:
    ten = tuple(one for day in range(10) for one in loosened_by(str(day), "heat_moved", "1"))
    rows = [
        sd
        for name, row, sd in links(after(full_job(), *ten)).terms
        if row == ROW["temperature_K"] and not name.startswith(("fire/", "load/"))
    ]
    assert np.linalg.norm(rows) == pytest.approx(np.sqrt(10.6**2 + 10 * 10.0**2))


def test_only_what_a_change_touches_is_less_sure_tomorrow(belief: ShopBelief) -> None:
    tomorrow = job("tomorrow")
    before = input_sds(belief, tomorrow)
    for kind, thing, rows, wider in (
        ("heat_moved", "1", ("temperature_K",), 10.0),
        ("box_mended", "1", ("ln_lag",), 0.15),
        ("mix_topped_up", "1", ("ln_transfer",), 0.15),
        ("relined", "1", ("temperature_K", "ln_lag"), None),
    ):
        now = input_sds(belief, after(tomorrow, *loosened_by("7", kind, thing)))
        moved = [LOCAL_INPUTS[row] for row in np.flatnonzero(~np.isclose(now, before))]
        assert moved == list(rows), kind
        if wider is not None:
            at = ROW[rows[0]]
            assert now[at] == pytest.approx(np.hypot(before[at], wider)), kind


def test_coupons_since_a_change_teach_the_step_and_the_coupons_before_still_count() -> None:
    def told_of(fire: int) -> tuple[Loosened, ...]:
        return MOVED if fire >= 12 else ()

    steps, sds, before = [], [], []
    for seed in range(6):
        shop = drawn_shop(seed, 24, colder_K=lambda fire: 20.0 * (fire >= 12), told_of=told_of)
        found = fitted(shop)
        at = shop.names.index("change/7|temperature_bias")
        steps.append(10.0 * found.mean[at])
        sds.append(10.0 * np.sqrt(found.covariance[at, at]))
        old = shop.names.index("temperature_bias/thermocouple:1")
        before.append(np.sqrt(found.covariance[old, old]))
    assert np.max(sds) < 7.0  # the books have 10 K
    # six shops: the mean step is known to 2.5 K, and pulled towards nothing by what the books say
    assert -22.0 < np.mean(steps) < -8.0
    assert np.max(before) < 1.0


def test_a_check_speaks_of_the_instrument_as_it_was_on_its_day() -> None:
    checks = [
        InstrumentCheck("oven:5", 450.0, 473.15, 5.0),
        InstrumentCheck("oven:5", 473.15, 473.15, 5.0, loosened_by("7", "oven_replaced", "5")),
        WarmUpCheck("1", 2400.0, 4800.0, "thermocouple", loosened_by("8", "relined", "1")),
    ]
    evidence = Evidence([], checks, look)
    assert evidence.names == ("oven/5", "change/7|oven", "lag/shop", "change/8|lag/shop", "lag/box:1")
    found = fitted(evidence)
    belief = ShopBelief(evidence.names, found.mean, found.narrowed)
    assert oven_band(belief, "5").median < -15.0
    assert abs(oven_band(belief, "5", loosened_by("7", "oven_replaced", "5")).median) < 0.5


def test_a_serviced_tester_is_told_from_what_it_was_in_every_way_of_reading_a_piece(
    belief: ShopBelief,
) -> None:
    serviced = loosened_by("9", "tester_serviced", "1")
    process = after(job("f0"), *serviced)
    assert dict(bias_terms("rockwell:1", 0.5, process.keys)) == pytest.approx(
        {"tester/rockwell:1": 0.25, "change/9|tester": 0.5 * 0.75**0.5}
    )
    reading = Observation("a", process, HardnessReading("HRC", 61.0, "rockwell:1"), "c")
    assert "change/9|tester" in narrow(belief, [Taken(reading)], [process]).names
    rows = {row.of: row for row in parameter_rows([reading], belief) if row.kind == "tester"}
    assert set(rows) == {"rockwell:1", "rockwell:1@9"}
    assert rows["rockwell:1@9"].coupons == 1


def test_the_row_of_a_thing_says_since_which_change_it_speaks(belief: ShopBelief) -> None:
    process = after(job("f0"), *loosened_by("7", "heat_moved", "1"), *loosened_by("9", "heat_moved", "1"))
    rows = [(row.kind, row.of) for row in parameter_rows([], belief, [process])]
    assert ("temperature_bias", "thermocouple:1@9") in rows
    assert ("lag", "1") in rows
