"""The coupon that would teach most: what the panel says, what its taps pack, and what it does without."""

from __future__ import annotations

import pickle
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from model.errors import ModelError
from model.experiment import Trial, weigh
from model.process import Quench
from tests.conftest import FixedClock
from tests.web.batch_steps import rows, walk
from tests.web.conftest import Save
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import begin, send, text_of
from webapp.asked_sums import MOST_KEPT, AskedSums
from webapp.context import AppContext
from webapp.services.coupon_asked import CouponAsked, key_of, pieces_of
from webapp.services.coupon_offers import forge_offers, pulled, usual_coupon
from webapp.services.coupon_reads import outcomes_of, reads_of
from webapp.services.coupon_shop import ShopThings, things_of
from webapp.services.step_rules import StepRefused
from webapp.services.teach import Question, ask_of_forge
from webapp.services.teach_advice import advice_of
from webapp.services.teach_job import run_weigh
from webapp.settings import Settings
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Batch, Box, Instrument, Item, Mix, Plan, ShopChange
from webapp.worker import Job, JobState
from webapp.worker_child import run_function

FORGE, PLAN = "/forge/teach", "/plans/1/teach"
COUPON = CouponAsked(1, "rod", 0.01, 2, 1, 1, 1, 1198.15, 4 * 3600.0)
AS_PIECE = {"HX-Request": "true"}


class HereAndNow:
    """Stands for the worker: does a sum at once in this process, or leaves it undone."""

    def __init__(self, end: JobState = JobState.DONE) -> None:
        self.end, self.asked = end, 0

    def submit(self, function: str, *arguments: Any, **_: Any) -> Job:
        self.asked += 1
        job = Job(b"", "", None)
        if self.end is JobState.DONE:
            # through a pickle, as the real one's pipe would
            job.result = pickle.loads(
                pickle.dumps(run_function(function, pickle.loads(pickle.dumps(arguments))))
            )
        job.state = self.end
        if self.end in (JobState.DONE, JobState.FAILED):
            job.ended.set()
        return job


def with_worker(app: FastAPI, worker: HereAndNow) -> HereAndNow:
    context: AppContext = app.state.context
    app.state.context = replace(context, sums=AskedSums(worker))  # type: ignore[arg-type]
    return worker


@pytest.fixture
def here(app: FastAPI) -> HereAndNow:
    return with_worker(app, HereAndNow())


@pytest.fixture
def shop(client: TestClient, here: HereAndNow) -> TestClient:
    """A usual shop that has read nothing yet: an old file, an eye for heat, one bar."""
    begin(client)
    return client


@pytest.fixture
def planned(shop: TestClient) -> TestClient:
    """A pin of 12 mm with a plan."""
    send(shop, "/parts/new", "/parts", name="Pivot pin", size_m="12", grind_m="0.1")
    assert send(shop, "/plans/new?part=1", "/plans").status_code == 303
    return shop


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        with_worker(client.app, HereAndNow())  # type: ignore[arg-type]
        yield client


def asked_of(store: Store) -> Question:
    with read(store) as session:
        asked = ask_of_forge(session)
    assert isinstance(asked, Question)
    return asked


def first_key(html: str) -> str:
    found = re.search(r'name="pieces" value="(.*?)"', html)
    assert found
    return found[1].replace("&amp;", "&")


def pack(client: TestClient, address: str, key: str, form_id: str = "tap") -> Any:
    return client.post(address, data={"form_id": form_id, "pieces": key})


def test_a_shop_that_knows_nothing_is_told_where_to_begin(shop: TestClient) -> None:
    words = text_of(shop.get(FORGE).text)
    assert "Nothing is learnt here yet" in words
    assert re.search(r"would (about halve|take a (third|quarter|fifth) off) the doubt in the depth", words)
    assert "Another hardness reading" not in words
    assert "one file only on which side" in words
    assert "thermocouple and its meter teach more" in words
    assert "Common practice, no source" in words
    assert "the pick hardly matters" in words
    assert "nan" not in words.lower()


def test_a_shop_that_has_read_much_is_told_what_is_left_to_luck(demo: TestClient) -> None:
    words = text_of(demo.get(FORGE).text)
    assert "Nothing is learnt here yet" not in words
    assert "would stay if all were learnt" in words
    # the hidden forge's fires scatter as the books say; one seal that failed is no luck of every fire
    assert "Your fires scatter more than the books expect" not in words
    assert "its way up to heat timed: then give or take" in words
    assert "Another hardness reading out of Rain-water barrel would teach nothing of the depth" in words
    for name in ("Folded plate box", "Square tube box", "Rapeseed oil", "Charcoal with chalk"):
        assert name in words


def test_fires_that_scatter_more_than_the_books_expect_are_spoken_of() -> None:
    bare = ShopThings({}, {}, {}, {}, {}, {}, {}, (), 1200.0, 3600.0)
    said, unsaid = (" ".join(advice_of(bare, luck)) for luck in (1.3, 1.0))
    assert "Your fires scatter more than the books expect" in said
    assert "Your fires" not in unsaid


def test_the_forge_page_comes_first_and_its_panel_asks_for_itself(demo: TestClient) -> None:
    html = demo.get("/forge").text
    assert 'hx-get="/forge/teach" hx-trigger="load"' in html
    assert "would teach nothing" not in html
    assert 'href="/forge/teach"' in html  # without script


def test_what_is_still_worked_out_says_so_and_asks_again(app: FastAPI, client: TestClient) -> None:
    begin(client)
    with_worker(app, HereAndNow(JobState.RUNNING))
    html = client.get(FORGE, headers=AS_PIECE).text
    assert "Still being worked out" in html
    assert 'hx-trigger="load delay:1s"' in html


def test_sums_that_fail_are_told_and_tried_once_more_only_when_asked(
    app: FastAPI, client: TestClient
) -> None:
    begin(client)
    worker = with_worker(app, HereAndNow(JobState.FAILED))
    assert "did not come out" in client.get(FORGE, headers=AS_PIECE).text
    assert "did not come out" in client.get(FORGE, headers=AS_PIECE).text
    assert worker.asked == 1
    client.get(FORGE)
    assert worker.asked == 2


def test_the_same_question_is_worked_out_once_and_another_one_anew(
    shop: TestClient, here: HereAndNow, save: Save
) -> None:
    shop.get(FORGE)
    shop.get(FORGE)
    assert here.asked == 1
    with save() as work:
        work.change(work.get(Box, 1), wall_m=0.006)
    shop.get(FORGE)
    assert here.asked == 2


def test_kept_sums_are_not_kept_for_ever() -> None:
    worker = HereAndNow(JobState.FAILED)
    sums = AskedSums(worker)  # type: ignore[arg-type]
    for mark in range(MOST_KEPT + 1):
        sums.job(str(mark), "none")
    sums.job(str(MOST_KEPT), "none")
    assert worker.asked == MOST_KEPT + 1
    sums.job("0", "none")
    assert worker.asked == MOST_KEPT + 2


def test_a_shop_without_a_bar_or_a_tester_gets_plain_advice(
    shop: TestClient, save: Save, app_store: Store
) -> None:
    testers = [row.id for row in rows(app_store, Instrument) if row.role == "hardness"]
    with save() as work:
        for tester in testers:
            work.remove(work.get(Instrument, tester or 0))
    words = text_of(shop.get(FORGE).text)
    assert "No way of telling hardness is written down" in words
    assert "Another hardness reading" not in words
    assert "broken and measured" in words or "etched and measured" in words
    with save() as work:
        work.remove(work.get(Bar, 1))
    answer = shop.get(FORGE)
    assert answer.status_code == 200
    assert "A coupon needs a bar of known steel first" in text_of(answer.text)


def test_only_what_the_shop_owns_is_offered(demo: TestClient) -> None:
    things = asked_of(store_of(demo)).things
    with read(store_of(demo)) as session:
        assert things_of(session).sections == things.sections
    for offer in forge_offers(things):
        for piece in offer.pieces:
            assert piece.bar_id in things.bars
            assert piece.box_id in things.boxes
            assert piece.mix_id in things.mixes
            assert piece.bath_id in things.baths
            assert piece.heat_id in things.heats
    kinds = {read_.kind for reads in reads_of(things.testers) for read_ in reads}
    assert kinds == {"break", "etch", "hardness"}  # nobody there walks dents through a section
    assert pulled(usual_coupon(things)).pull_s == 2 * 3600.0
    assert pulled(replace(COUPON, soak_s=3600.0)).pull_s == 1800.0


def test_what_cannot_be_forecast_is_left_out_and_the_rest_is_weighed(
    shop: TestClient, app_store: Store
) -> None:
    asked = asked_of(app_store)
    wants, belief = [one.want for one in asked.wanted], asked.belief.to_dict()
    first = next(trial for trial in asked.trials if trial.takings)
    process = first.takings[0].process
    odd = replace(process, steps=(*process.steps[:-1], Quench("molten salt")))
    taking = replace(first.takings[0], process=odd)
    found = run_weigh(wants, (first, Trial("odd", (taking,))), belief)
    assert [worth.trial for worth in found.worths] == [first.key]
    with pytest.raises(ModelError):
        weigh(wants, (Trial("odd", (taking,)),), asked.belief)


def test_a_poisonous_mix_and_a_box_too_large_are_never_offered(
    shop: TestClient, app_store: Store, save: Save
) -> None:
    with save() as work:
        work.change(work.get(Mix, 1), note="with yellow prussiate")
        work.add(replace_row(work.get(Box, 1), inner_length_m=0.9))
    things = asked_of(app_store).things
    assert 1 not in things.mixes
    assert list(things.boxes) == [1]
    answer = pack(shop, FORGE, key_of((replace(COUPON, mix_id=1),)))
    assert answer.status_code == 422
    assert "cyanide" in answer.text.lower()


def replace_row(row: Box, **changes: Any) -> Box:
    return Box(**{**row.model_dump(exclude={"id"}), **changes})


def test_a_thing_that_was_changed_is_asked_of_as_it_is_now(
    shop: TestClient, app_store: Store, save: Save, clock: FixedClock
) -> None:
    assert pack(shop, FORGE, key_of((COUPON,))).status_code == 303
    walk(shop, "/batches/1", "box_in", "at_heat")
    clock.move(days=30)
    with save() as work:
        work.add(ShopChange(kind="heat_drift", changed_on=clock.now().date(), instrument_id=1))
    asked = asked_of(app_store)
    assert asked.things.loosened
    for process in (asked.wanted[0].want.process, asked.trials[0].takings[0].process):
        assert process.keys.loosened == asked.things.loosened


def test_a_file_set_is_every_pair_of_its_files_and_one_file_skates_marks_or_cuts() -> None:
    def files(method: str, *hardness: float) -> Instrument:
        return Instrument(
            id=4, name="x", role="hardness", method=method, spread=1.5, settings={"files_HRC": list(hardness)}
        )

    def ends(row: Instrument) -> list[tuple[Any, Any]]:
        (reads,) = [reads for reads in reads_of({4: row}) if len(reads) == 1 and reads[0].kind == "hardness"]
        return [(one.low_HRC, one.high_HRC) for one in outcomes_of(reads[0], {4: row})]  # type: ignore[attr-defined]

    assert ends(files("file_set", 40, 50, 60)) == [(None, 40), (40, 50), (50, 60), (60, None)]
    assert len(ends(files("one_file", 65))) == 3
    lab = {4: replace_method(files("file_set"), "lab")}
    assert {read_.kind for reads in reads_of(lab) for read_ in reads} == {"break", "etch", "traverse"}


def replace_method(row: Instrument, method: str) -> Instrument:
    return Instrument(**{**row.model_dump(), "method": method})


def test_a_tap_on_the_forge_page_plans_a_batch_with_the_coupon_in_it(
    shop: TestClient, app_store: Store
) -> None:
    key = first_key(shop.get(FORGE).text)
    answer = pack(shop, FORGE, key)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/batches/1"
    (piece,) = pieces_of(key)
    (batch,) = rows(app_store, Batch)
    assert (batch.box_id, batch.mix_id) == (piece.box_id, piece.mix_id)
    coupon = rows(app_store, Item)[0]
    assert (coupon.kind, coupon.shape, coupon.size_m) == ("coupon", piece.shape, piece.size_m)
    assert "Break it and measure" in coupon.note
    assert pack(shop, FORGE, key).headers["location"] == "/batches/1"  # a double tap
    assert len(rows(app_store, Batch)) == 1


def test_a_tap_on_a_plan_starts_its_batch_with_a_pin_to_pull(planned: TestClient, app_store: Store) -> None:
    words = text_of(planned.get(PLAN).text)
    assert "What to put in the box beside it" in words
    assert "tells of this very fire: its depth is then known to give or take" in words
    plan = rows(app_store, Plan)[0]
    pin = replace(
        COUPON,
        mix_id=plan.mix_id,
        box_id=plan.box_id,
        heat_id=plan.heat_instrument_id,
        bath_id=plan.bath_id or 0,
        soak_s=plan.soak_s,
        pull_s=3600.0,
    )
    assert pack(planned, PLAN, key_of((pin,))).headers["location"] == "/batches/1"
    items = rows(app_store, Item)
    assert [item.name for item in items] == ["Pivot pin", "coupon, pull at 1 h", "standard pin"]
    assert [item.is_pin for item in items] == [False, True, True]
    assert rows(app_store, Batch)[0].plan_id == plan.id
    # the batch waits, so the next one joins it
    assert (
        pack(planned, PLAN, key_of((replace(pin, pull_s=0.0),)), "second").headers["location"] == "/batches/1"
    )
    assert [item.mark for item in rows(app_store, Item)] == ["A", "B", "C", "D"]


def test_a_coupon_packed_to_be_pulled_is_drawn_before_the_standard_pin(
    planned: TestClient, app_store: Store, clock: FixedClock
) -> None:
    begun = send(planned, "/plans/1", "/batches?plan=1").headers["location"]
    plan = rows(app_store, Plan)[0]
    ids = {"mix_id": plan.mix_id, "box_id": plan.box_id, "heat_id": plan.heat_instrument_id}
    pack(planned, PLAN, key_of((replace(COUPON, **ids, pull_s=3600.0),)))  # type: ignore[arg-type]
    walk(planned, begun, "box_in", "at_heat")
    clock.move(hours=1)
    words = text_of(planned.get(begun).text)
    assert words.index("standard pin") < words.index("coupon, pull at 1 h", words.index("In the box"))
    assert "Pin C coupon, pull at 1 h" in words


def test_a_plan_of_which_something_is_gone_says_so(planned: TestClient, save: Save) -> None:
    with save() as work:
        work.remove(work.get(Box, 1))
    answer = planned.get(PLAN)
    assert answer.status_code == 200
    assert "first" in text_of(answer.text)


def test_a_plan_whose_box_no_longer_fits_its_forge_says_so(planned: TestClient, save: Save) -> None:
    with save() as work:
        work.add(replace_row(work.get(Box, 1), name="Another"))
        work.change(work.get(Box, 1), inner_length_m=0.9)
    assert "its box does not fit the forge" in text_of(planned.get(PLAN).text)


@pytest.mark.parametrize(
    "key",
    [
        "",
        "nonsense",
        key_of((replace(COUPON, size_m=float("nan")),)),
        key_of((replace(COUPON, size_m=25.4),)),
        key_of((replace(COUPON, pull_s=9e9),)),
        key_of((replace(COUPON, bar_id=-1),)),
        key_of((COUPON,) * 9),
        key_of((replace(COUPON, shape="tube"),)),
        key_of((replace(COUPON, box_id=77),)),
    ],
)
def test_a_coupon_that_was_not_made_here_is_refused_in_words(
    shop: TestClient, app_store: Store, key: str
) -> None:
    answer = pack(shop, FORGE, key)
    assert answer.status_code == 422
    assert "Nothing was changed" in answer.text
    assert rows(app_store, Batch) == []


def test_a_coupon_survives_its_way_over_the_page() -> None:
    pair = (pulled(COUPON), replace(COUPON, shape="plate", size_m=0.00635))
    assert pieces_of(key_of(pair)) == pair
    with pytest.raises(StepRefused):
        pieces_of(key_of(pair).replace("rod", "cube"))


def test_a_shop_in_inches_reads_its_own_units(shop: TestClient) -> None:
    send(shop, "/shop/settings", "/shop/settings", length_unit="in", temperature_unit="F")
    words = text_of(shop.get(FORGE).text)
    assert re.search(r"give or take 0\.0\d+ in becomes 0\.0\d+ in", words)
    assert " mm" not in words.replace("half millimetres", "")


def test_the_panel_speaks_shop_not_statistics(demo: TestClient) -> None:
    words = text_of(demo.get(FORGE).text).lower()
    for word in ("posterior", "prior ", "variance", "information", "sigma", "covariance", "expected"):
        assert word not in words.replace("than the books expect", ""), word
