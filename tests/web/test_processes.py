"""From rows to what the model computes: the bridge between the logbook and the metallurgy."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from model.baths import MEDIA
from model.box_course import box_cooling, warm_up
from model.box_fill import Bed
from model.evidence import WarmUpCheck
from model.packed_box import PackedBox
from model.process import Carburize, EvenOut, Process, Quench, Reheat, SlowCool, Temper
from model.readings import FilesReading, HardnessReading, NoHardSkin
from tests.web.one_batch import (
    HEAT_K,
    LIT,
    NOW,
    begin_batch,
    begin_shop,
    reading,
    soak,
    step,
    water,
    whole_run,
)
from webapp.services.batch_rows import load_batch, row_id
from webapp.services.batches import start_at_once
from webapp.services.box_rows import bed_of
from webapp.services.observations import Told, tell
from webapp.services.processes import NotYet, process_at_reading, process_of_item
from webapp.services.whole_book import by_id
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Bath, HeatNote, Instrument, Item, Mix
from webapp.store.unit_of_work import Actor, UnitOfWork, write

Fill = Callable[[UnitOfWork, int, Item], None]


@pytest.fixture
def book(store: Store) -> Callable[[Fill], tuple[int, Item]]:
    """A usual shop with one batch and its pin; `fill` adds what happened."""

    def make(fill: Fill) -> tuple[int, Item]:
        with write(store, Actor("bench"), NOW) as work:
            begin_shop(work)
            batch_id, pin = begin_batch(work)
            fill(work, batch_id, pin)
        return batch_id, pin

    return make


def process_of(store: Store, batch_id: int, item: Item) -> Process | NotYet:
    with read(store) as session:
        rows = load_batch(session, batch_id)
        bar = session.get(Bar, item.bar_id)
        assert bar is not None
        return process_of_item(rows, item, bar, by_id(session, Bath), NOW)


def test_a_whole_run_becomes_its_steps_in_order(store: Store, book: Any) -> None:
    process = process_of(store, *book(whole_run))
    assert isinstance(process, Process)
    kinds = [type(one) for one in process.steps]
    assert kinds == [Carburize, SlowCool, Reheat, Quench, Temper]
    feed, _, reheat, quench, _ = process.steps
    assert isinstance(feed, Carburize)
    assert feed.history.duration_s == pytest.approx(4 * 3600.0)
    assert set(feed.history.temperature_K) == {HEAT_K}
    assert feed.lag_share == 0.0
    assert isinstance(reheat, Reheat)
    assert reheat.history.duration_s == 900.0
    assert isinstance(quench, Quench)
    assert (quench.medium, quench.seconds_to_bath) == ("water", 3.0)
    assert process.keys.heat_method.startswith("colour:")
    assert process.box_inner_m == pytest.approx(0.074)


def test_a_clock_started_at_the_box_in_still_holds_the_whole_warm_up(store: Store, book: Any) -> None:
    process = process_of(store, *book(lambda work, batch_id, _: soak(work, batch_id, "box_in")))
    assert isinstance(process, Process)
    assert isinstance(process.steps[0], Carburize)
    assert process.steps[0].lag_share == 1.0


def test_heat_noted_while_it_burned_shapes_the_soak(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, pin: Item) -> None:
        whole_run(work, batch_id, pin)
        fire = load_batch(work.session, batch_id).fire
        for hours, kelvin in ((0.5, 900.0), (2.0, 1203.15), (4.0, 1213.15), (7.0, 800.0)):
            work.add(
                HeatNote(
                    fire_id=row_id(fire),
                    instrument_id=fire.heat_instrument_id,
                    noted_at=LIT + timedelta(hours=hours),
                    temperature_K=kelvin,
                )
            )

    process = process_of(store, *book(fill))
    assert isinstance(process, Process)
    assert isinstance(process.steps[0], Carburize)
    history = process.steps[0].history
    assert history.seconds == (0.0, 3600.0, 3 * 3600.0, 4 * 3600.0)
    assert history.temperature_K == (HEAT_K, 1203.15, 1213.15, 1213.15)


def test_a_coupon_drawn_in_mid_soak_soaked_only_so_long_and_went_its_own_way(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, pin: Item) -> None:
        whole_run(work, batch_id, pin)
        work.change(pin, own_path=True)
        step(work, None, "drawn", 0, 3.0, item_id=pin.id, settings={"then": "quench"})
        step(work, None, "quench", 1, 3.0, item_id=pin.id, bath_id=water(work))

    process = process_of(store, *book(fill))
    assert isinstance(process, Process)
    assert [type(one) for one in process.steps] == [Carburize, Quench]
    assert isinstance(process.steps[0], Carburize)
    assert process.steps[0].history.duration_s == pytest.approx(2 * 3600.0)


def test_a_piece_left_in_the_air_is_not_fed_while_it_cools(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, _pin: Item) -> None:
        soak(work, batch_id)
        step(work, batch_id, "box_out", 2, 5.0, settings={"then": "open_air"})

    process = process_of(store, *book(fill))
    assert isinstance(process, Process)
    assert [type(one) for one in process.steps] == [Carburize, EvenOut]


def test_a_piece_that_stayed_with_an_opened_box_cooled_in_the_air_too(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, pin: Item) -> None:
        soak(work, batch_id)
        step(work, batch_id, "box_out", 2, 5.0, settings={"then": "open_air"})
        work.change(pin, own_path=True)
        step(work, None, "drawn", 0, 5.0, item_id=pin.id, settings={"then": "with_box"})

    process = process_of(store, *book(fill))
    assert isinstance(process, Process)
    assert [type(one) for one in process.steps] == [Carburize, EvenOut]


def test_doubt_that_was_typed_is_doubt_in_the_fire(store: Store, book: Any) -> None:
    def doubtful(work: UnitOfWork, batch_id: int, _pin: Item) -> None:
        soak(work, batch_id, temperature_spread_K=20.0, seconds_spread=1440.0)

    sure = process_of(store, *book(lambda work, batch_id, _: soak(work, batch_id)))
    assert isinstance(sure, Process)
    assert sure.record_doubt_K == 0.0
    with write(store, Actor("bench"), NOW) as work:
        batch = start_at_once(work)
        doubtful(work, row_id(batch), load_batch(work.session, row_id(batch)).items[0])
    pin = load_pin(store, row_id(batch))
    doubted = process_of(store, row_id(batch), pin)
    assert isinstance(doubted, Process)
    # 10 % of the time is about 8 K at this heat (slope of Harris's law), beside the 20 K of the heat
    assert doubted.record_doubt_K == pytest.approx((20.0**2 + 8.3**2) ** 0.5, abs=0.2)


def load_pin(store: Store, batch_id: int) -> Item:
    with read(store) as session:
        return load_batch(session, batch_id).items[0]


def test_a_batch_that_never_came_to_heat_has_no_process_yet(store: Store, book: Any) -> None:
    missing = process_of(store, *book(lambda work, batch_id, _: step(work, batch_id, "box_in", 0, 0.0)))
    assert isinstance(missing, NotYet)
    assert "soak has not been noted" in missing.why


def test_a_reading_after_the_slow_cool_knows_nothing_of_the_quench(store: Store, book: Any) -> None:
    process = process_of(store, *book(whole_run))
    assert isinstance(process, Process)
    cut = {after: process_at_reading(process, after) for after in ("slow_cool", "quench", "temper_1")}
    assert [type(one) for one in cut["slow_cool"].steps] == [Carburize, SlowCool]
    assert [type(one) for one in cut["quench"].steps] == [Carburize, SlowCool, Reheat, Quench]
    assert cut["temper_1"] == process


def told_of(store: Store) -> Told:
    with read(store) as session:
        return tell(session, NOW)


def test_readings_reach_the_fit_as_what_they_mean(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, pin: Item) -> None:
        whole_run(work, batch_id, pin)
        file = next(i for i in range(1, 20) if _method(work, i) == "one_file")
        work.add(reading(pin, "hardness", value=63.0, unit="HRC"))
        work.add(reading(pin, "depth", value=0.0, details={"how": "break"}))
        work.add(reading(pin, "one_file", details={"result": "cuts"}, instrument_id=file))
        work.add(reading(pin, "cracks", details={"seen": False}))
        work.add(reading(pin, "hardness", value=40.0, unit="HRC", left_out_why="read on the bevel"))

    book(fill)
    told = told_of(store)
    kinds = [type(one.reading) for one in told.observations]
    assert kinds == [HardnessReading, NoHardSkin, FilesReading]
    file = told.observations[2].reading
    assert isinstance(file, FilesReading)
    assert (file.low_HRC, file.high_HRC) == (None, 58.0)
    assert list(told.untold.values())[1] == "read on the bevel"
    assert "kept for you to read" in next(iter(told.untold.values()))


def test_a_lab_has_one_bias_on_rockwell_and_another_on_vickers(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, pin: Item) -> None:
        whole_run(work, batch_id, pin)
        lab = work.add(Instrument(role="hardness", name="The lab", method="lab", spread=1.0))
        for value, unit in ((62.0, "HRC"), (90.0, "HR15N"), (740.0, "HV")):
            work.add(reading(pin, "hardness", value=value, unit=unit, instrument_id=lab.id))

    book(fill)
    testers = [one.reading.tester for one in told_of(store).observations]
    (kind_c, share_c), (kind_15n, share_15n), (kind_v, _) = testers
    assert kind_c == kind_15n
    assert kind_c.startswith("rockwell:")
    assert kind_v.startswith("vickers:")
    assert share_15n == 0.5 * share_c


def _method(work: UnitOfWork, instrument_id: int) -> str:
    row = work.session.get(Instrument, instrument_id)
    return row.method if row else ""


def test_setting_a_batch_aside_sets_all_its_readings_aside(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, pin: Item) -> None:
        whole_run(work, batch_id, pin)
        work.add(reading(pin, "hardness", value=63.0, unit="HRC"))
        work.change(load_batch(work.session, batch_id).batch, left_out_why="seal was off")

    book(fill)
    told = told_of(store)
    assert told.observations == ()
    assert list(told.untold.values()) == ["seal was off"]


def test_every_medium_of_the_shop_is_known_to_the_model(store: Store, book: Any) -> None:
    book(whole_run)
    with read(store) as session:
        media = {bath.medium for bath in by_id(session, Bath).values()}
    assert media
    assert media <= set(MEDIA)


def test_a_quench_knows_its_bath_its_salt_and_how_the_work_was_moved(store: Store, book: Any) -> None:
    def fill(work: UnitOfWork, batch_id: int, _pin: Item) -> None:
        fields = {"volume_m3": 0.02, "salt_percent": 8.0, "temperature_K": 303.15, "agitation": "still"}
        brine = work.add(Bath(name="The bucket", medium="brine", **fields))
        soak(work, batch_id)
        step(work, batch_id, "reheat", 3, 9.0, temperature_K=1073.15, seconds=900.0)
        for order, settings in ((4, {"agitation": "strong"}), (5, {})):
            step(work, batch_id, "quench", order, 9.3, bath_id=row_id(brine), settings=settings)

    process = process_of(store, *book(fill))
    assert isinstance(process, Process)
    moved, hung = (one for one in process.steps if isinstance(one, Quench))
    assert moved == Quench("brine", 303.15, "strong", 2.0, 8.0, pytest.approx(20.0))
    assert hung.agitation == "still"


def test_the_box_is_told_to_the_model_with_its_pack_and_its_load(store: Store, book: Any) -> None:
    process = process_of(store, *book(whole_run))
    assert isinstance(process, Process)
    assert process.box is not None
    assert process.box.half_m == pytest.approx(0.037, abs=0.004)
    assert process.box.bed.grain_m == pytest.approx(6e-3, abs=4e-3)
    cool = process.steps[1]
    assert isinstance(cool, SlowCool)
    assert cool.history == box_cooling(process.box, HEAT_K)


@pytest.mark.parametrize(
    ("noted", "is_bare", "loses"),
    [
        ({"wrapping": "bare", "flame": "lean"}, True, True),
        ({"wrapping": "bare", "flame": "rich"}, True, False),
        ({"wrapping": "bare"}, True, False),
        ({"wrapping": "wrapped", "flame": "lean"}, False, False),
    ],
)
def test_only_bare_work_in_a_lean_flame_is_taken_to_lose_carbon(
    store: Store, book: Any, noted: dict[str, str], is_bare: bool, loses: bool
) -> None:
    def fill(work: UnitOfWork, batch_id: int, _pin: Item) -> None:
        soak(work, batch_id)
        step(work, batch_id, "reheat", 3, 9.0, temperature_K=1073.15, seconds=900.0, settings=noted)

    process = process_of(store, *book(fill))
    assert isinstance(process, Process)
    reheat = process.steps[-1]
    assert isinstance(reheat, Reheat)
    assert (reheat.bare, reheat.surface is not None) == (is_bare, loses)


@pytest.mark.parametrize(
    ("method", "hours_to_heat", "clock_from", "seen_by"),
    [
        ("thermocouple", 0.8, "at_heat", "thermocouple"),
        ("colour", 0.8, "at_heat", "witness"),
        ("thermocouple", 0.8, "evenly_red", "evenly_red"),
        ("thermocouple", 0.03, "at_heat", ""),
        ("thermocouple", 0.8, "box_in", ""),
    ],
)
def test_what_started_the_clock_at_a_known_time_reads_the_boxs_warm_up(
    store: Store, book: Any, method: str, hours_to_heat: float, clock_from: str, seen_by: str
) -> None:
    def fill(work: UnitOfWork, batch_id: int, _pin: Item) -> None:
        heat = load_batch(work.session, batch_id).heat
        work.change(heat, method=method)
        step(work, batch_id, "box_in", 0, 0.0)
        soak(work, batch_id, clock_from, started_at=LIT + timedelta(hours=hours_to_heat))

    batch_id, _ = book(fill)
    checks = [one for one in told_of(store).checks if isinstance(one, WarmUpCheck)]
    assert [one.seen_by for one in checks] == ([seen_by] if seen_by else [])
    if seen_by:
        with read(store) as session:
            assert checks[0].box == str(load_batch(session, batch_id).box.id)
        assert checks[0].noted_s == pytest.approx(0.8 * 3600.0)
        whole_s = checks[0].books_s / (0.5 if seen_by == "evenly_red" else 1.0)
        assert 1200.0 < whole_s < 5400.0


def test_a_mix_that_was_weighed_and_dried_warms_as_it_is_and_one_that_was_not_as_usual() -> None:
    usual, told = (
        bed_of(Mix(name="m", charcoal="lump", grain_m=5e-3, substance="none", substance_percent=0.0, **more))
        for more in ({}, {"litre_kg": 0.42, "water_percent": 12.0})
    )
    assert usual == Bed(grain_m=5e-3)
    assert told == Bed(bulk_kg_per_m3=420.0, grain_m=5e-3, water=0.12)
    slow, quick = (warm_up(PackedBox("square", 37e-3, bed=bed), HEAT_K).at_heat_s for bed in (told, usual))
    assert slow > 1.1 * quick
