"""Dated changes of the shop: noted, counted from, taken back, and answered with words when they cannot be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from model.dated_changes import touches_of
from model.inputs import links
from model.process import Process
from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.fitted_demo import fire_days, speaking_to_demo, store_of
from tests.web.many_batches import FIRST_DAY, fill
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.fit_keeper import FitKeeper
from webapp.services.change_words import ANSWERED, CHANGES, LABELS, LOOSENS
from webapp.services.dated_changes import before_rework, changes_in_force, changes_up_to_now
from webapp.services.fit_news import fingerprint_of
from webapp.services.fitting import current_belief, newest_summary
from webapp.services.heats_seen import COLUMN_OF, seen_words
from webapp.services.observations import Told, tell
from webapp.services.sheets import showing_of
from webapp.services.shop import SHOP_KINDS
from webapp.services.shop_view import view_shop
from webapp.settings import Settings
from webapp.store.engine import Store, read
from webapp.store.tables import Batch, Box, Fire, Fit, Instrument, Reading, ShopChange
from webapp.store.unit_of_work import Actor, write
from webapp.worker import JobState

TODAY = A_SPRING_DAY.date()


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


@pytest.fixture
def session(demo: TestClient) -> Iterator[Session]:
    with read(store_of(demo)) as opened:
        yield opened


def told_by(client: TestClient) -> Told:
    with read(store_of(client)) as session:
        return tell(session, A_SPRING_DAY)


def tip_of(client: TestClient) -> int:
    """The thermocouple by which most fires of the demo were run."""
    with read(store_of(client)) as session:
        heats = [row.heat_instrument_id for row in session.exec(select(Fire))]
    return max(set(heats), key=heats.count)


def middle_day(client: TestClient, tip: int) -> date:
    with read(store_of(client)) as session:
        return fire_days(session, tip)[6]


def note(client: TestClient, key: str, record_id: int, kind: str, day: date | str) -> Any:
    href = f"/shop/{key}/{record_id}/changes"
    return send(client, href, href, kind=kind, changed_on=str(day))


def kept(client: TestClient) -> list[ShopChange]:
    with read(store_of(client)) as session:
        return list(session.exec(select(ShopChange).where(col(ShopChange.deleted_at).is_(None))))


def steps_of(process: Process) -> set[str]:
    return {name for name in links(process).names() if name.startswith("change/")}


def test_every_kind_of_the_table_has_its_words_and_every_list_its_kinds() -> None:
    assert set(LABELS) == set(touches_of())
    assert set(CHANGES) == set(COLUMN_OF) == set(LOOSENS) == set(SHOP_KINDS)
    assert set(ANSWERED) & {choice.value for choices in CHANGES.values() for choice in choices} == set()


def test_a_change_loosens_the_fires_since_its_day_and_leaves_those_before_alone(demo: TestClient) -> None:
    before, tip = told_by(demo), tip_of(demo)
    day = middle_day(demo, tip)
    answer = note(demo, "heats", tip, "heat_moved", day)
    assert answer.headers["location"] == f"/shop/heats/{tip}/changes"
    assert f"Moved or set otherwise , {day.day}" in text_of(demo.get(answer.headers["location"]).text)
    now, step = told_by(demo), f"change/{kept(demo)[0].id}|temperature_bias"
    assert fingerprint_of(now) != fingerprint_of(before)
    with read(store_of(demo)) as session:
        days = {str(row.fire_id): row.day for row in session.exec(select(Batch))}
    since = [one for one in now.observations if days[one.process.keys.fire] >= day]
    assert 0 < len(since) < len(now.observations)
    by_tip = f"thermocouple:{tip}"
    for one in now.observations:
        touched = one in since and one.process.keys.heat_method == by_tip
        assert steps_of(one.process) == ({step} if touched else set()), one.key
    # plans and standard jobs of tomorrow run on what there is now
    assert all(steps_of(job) == {step} for job in now.jobs if job.keys.heat_method == by_tip)


def test_a_change_can_be_taken_back_and_put_back_again(demo: TestClient) -> None:
    before, tip = told_by(demo), tip_of(demo)
    href = f"/shop/heats/{tip}/changes"
    note(demo, "heats", tip, "heat_moved", middle_day(demo, tip))
    change = kept(demo)[0]
    form = read_page_form(demo.get(href).text, f"{href}/{change.id}/remove")
    assert demo.post(f"{href}/{change.id}/remove", data=form).status_code == 303
    assert kept(demo) == []
    assert fingerprint_of(told_by(demo)) == fingerprint_of(before)
    assert demo.post(f"{href}/{change.id}/put-back", data={"form_id": "a-second-try"}).status_code == 303
    assert len(kept(demo)) == 1


def test_a_day_that_has_not_come_is_refused_and_nothing_typed_is_lost(demo: TestClient) -> None:
    tip = tip_of(demo)
    for day, said in (
        (TODAY + timedelta(days=1), "still to come"),
        (date(26, 4, 1), "from 1950 on"),
        ("soon", "day"),
    ):
        href = f"/shop/heats/{tip}/changes"
        answer = send(demo, href, href, kind="heat_moved", changed_on=str(day), note="put it lower")
        assert answer.status_code == 422
        assert said in text_of(answer.text)
        assert "put it lower" in answer.text
    assert kept(demo) == []


def test_a_kind_of_another_thing_and_a_second_one_of_a_day_are_refused(demo: TestClient) -> None:
    tip = tip_of(demo)
    day = middle_day(demo, tip)
    assert note(demo, "heats", tip, "bath_fresh", day).status_code == 422
    assert note(demo, "heats", tip, "heat_drift", day).status_code == 422
    assert note(demo, "heats", tip, "heat_moved", day).status_code == 303
    twice = note(demo, "heats", tip, "heat_moved", day)
    assert twice.status_code == 422
    assert "noted for that day already" in text_of(twice.text)


def test_a_change_before_the_first_fire_is_kept_and_loosens_nothing(demo: TestClient) -> None:
    before, tip = told_by(demo), tip_of(demo)
    assert note(demo, "heats", tip, "heat_replaced", date(2001, 5, 3)).status_code == 303
    assert "nothing to loosen" in text_of(demo.get(f"/shop/heats/{tip}/changes").text)
    assert fingerprint_of(told_by(demo)) == fingerprint_of(before)


def test_ten_changes_in_a_day_are_kept_and_the_plan_only_grows_less_sure(demo: TestClient) -> None:
    tip = tip_of(demo)
    day = middle_day(demo, tip)
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        for _ in range(10):
            work.add(ShopChange(kind="heat_moved", changed_on=day, instrument_id=tip))
    jobs = [job for job in told_by(demo).jobs if job.keys.heat_method == f"thermocouple:{tip}"]
    assert jobs
    assert all(len(steps_of(job)) == 10 for job in jobs)
    assert demo.get("/forge/changes").status_code == 200
    assert demo.get("/forge").status_code == 200


def test_a_change_of_a_thing_that_was_removed_stays_true_of_its_fires(demo: TestClient) -> None:
    tip = tip_of(demo)
    note(demo, "heats", tip, "heat_moved", middle_day(demo, tip))
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        name = work.remove(work.get(Instrument, tip)).name
    assert any(steps_of(one.process) for one in told_by(demo).observations)
    assert f"{name} (removed)" in text_of(demo.get("/forge/changes").text)
    assert demo.get(f"/shop/heats/{tip}/changes").status_code == 404
    assert demo.post(f"/shop/heats/{tip}/changes", data={"kind": "heat_moved"}).status_code == 404


def test_what_is_no_list_or_not_in_it_is_not_found(demo: TestClient) -> None:
    tip = tip_of(demo)
    for href in (f"/shop/bars/{tip}/changes", "/shop/heats/999/changes", f"/shop/testers/{tip}/changes"):
        assert demo.get(href).status_code == 404, href


def test_a_tester_is_changed_by_the_day_of_the_reading_and_a_bath_by_that_of_the_fire(
    demo: TestClient,
) -> None:
    with read(store_of(demo)) as session:
        readings = [row for row in session.exec(select(Reading)) if row.instrument_id is not None]
        used = [row.instrument_id for row in readings]
        tester = max(set(used), key=used.count)
        days = sorted({row.measured_at.date() for row in readings if row.instrument_id == tester})
        measured = {str(row.id): row.measured_at.date() for row in session.exec(select(Reading))}
    note(demo, "testers", tester, "tester_serviced", days[len(days) // 2])
    for one in told_by(demo).observations:
        changed = [loosened.constant for loosened in one.process.keys.loosened]
        assert changed == (["tester"] if measured[one.key] >= days[len(days) // 2] else []), one.key


def test_a_forge_s_change_touches_no_other_forge_and_rework_only_baths_and_ovens(session: Session) -> None:
    relined = ShopChange(id=1, kind="relined", changed_on=date(2026, 2, 1), forge_id=1)
    filled = ShopChange(id=2, kind="bath_fresh", changed_on=date(2026, 2, 3), bath_id=1)
    found = before_rework((relined, filled), date(2026, 1, 1), date(2026, 2, 2))
    assert found == ()
    found = before_rework((relined, filled), date(2026, 1, 1), date(2026, 2, 3))
    assert [one.constant for one in found] == ["bath"]
    assert changes_up_to_now(session) == ()


def test_the_rows_of_a_changed_thing_say_until_and_since(demo: TestClient) -> None:
    tip = tip_of(demo)
    note(demo, "heats", tip, "heat_moved", middle_day(demo, tip))
    change = kept(demo)[0]
    with read(store_of(demo)) as session:
        newest = newest_summary(session)
        assert newest is not None
        summary = dict(newest.summary)
    own = next(row for row in summary["rows"] if row["of"] == f"thermocouple:{tip}")
    summary["rows"] = [*summary["rows"], {**own, "of": f"thermocouple:{tip}@{change.id}"}]
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        fit = work.session.get(Fit, newest.fit_id)
        assert fit is not None
        fit.summary = summary
        fit.fingerprint += "'"  # a fit is never changed once it stands: this is another
    words = text_of(demo.get("/forge").text)
    day = change.changed_on
    assert f", until {day.day} {day:%b %Y}" in words
    assert f", since {day.day} {day:%b %Y}" in words


def test_heats_are_counted_once_a_fire_and_since_the_newest_change(store: Store) -> None:
    fill(store, 20)
    with write(store, Actor("bench"), A_SPRING_DAY) as work:
        box = Box(
            name="new", inner_length_m=0.2, inner_width_m=0.1, inner_height_m=0.1, wall_m=0.003, seal=""
        )
        work.add(box)
        # a second box in the fire of batch 2, from the same tin and known by the same thermocouple
        first = work.get(Batch, 2)
        work.add(Batch(number=21, state="measured", fire_id=2, box_id=2, mix_id=first.mix_id, day=first.day))
        work.add(ShopChange(kind="box_mended", changed_on=FIRST_DAY + timedelta(days=11), box_id=1))
    with read(store) as session:
        showing = showing_of(view_shop(session))
        boxes, mixes = (seen_words(session, key, showing) for key in ("boxes", "mixes"))
        baths, heats = (seen_words(session, key, showing) for key in ("baths", "heats"))
    assert boxes[1] == "10 heats, 5 since 17 Jan 2020"
    assert boxes[2] == "10 heats"  # batch 21 was written down and never went in
    assert 3 not in boxes
    assert sum(int(words.split()[0]) for words in mixes.values()) == 20
    assert heats == {1: "20 heats"}
    assert baths[1].startswith("10 heats quenched")


def test_a_new_shop_shows_no_counts_and_takes_a_change_all_the_same(client: TestClient) -> None:
    begin(client)
    assert "Has seen" not in text_of(client.get("/shop").text)
    href = "/shop/boxes/1/changes"
    assert "Not in a fire yet" in text_of(client.get(href).text)
    assert send(client, href, href, kind="box_mended").status_code == 303
    assert "Nothing is learnt of it yet" in text_of(client.get(href).text)


def test_the_shop_page_counts_and_leads_to_the_changes_of_each_thing(demo: TestClient) -> None:
    html = demo.get("/shop").text
    tip = tip_of(demo)
    assert f'href="/shop/heats/{tip}/changes"' in html
    assert "Has seen" in text_of(html)


def test_changes_travel_with_the_whole_logbook(demo: TestClient) -> None:
    tip = tip_of(demo)
    note(demo, "heats", tip, "heat_moved", middle_day(demo, tip))
    whole = json.loads(demo.get("/api/export").text)
    assert [row["kind"] for row in whole["tables"]["shopchange"]] == ["heat_moved"]


def test_changes_in_force_come_in_the_order_of_their_days(store: Store) -> None:
    fill(store, 20)
    with write(store, Actor("bench"), A_SPRING_DAY) as work:
        for days in (15, 5, 1, -3):
            work.add(ShopChange(kind="box_mended", changed_on=FIRST_DAY + timedelta(days=days), box_id=2))
    with read(store) as session:
        found = [(row.changed_on - FIRST_DAY).days for row in changes_in_force(session)]
    # box 2 was first in the fire on day 1
    assert found == [5, 15]


def test_a_fit_that_is_killed_after_a_change_leaves_the_change_and_the_old_fit(demo: TestClient) -> None:
    tip, store = tip_of(demo), store_of(demo)
    note(demo, "heats", tip, "heat_moved", middle_day(demo, tip))
    with read(store) as session:
        before = newest_summary(session)
    keeper = FitKeeper(store, KilledWorker(), FixedClock())  # type: ignore[arg-type]
    keeper.catch_up()
    assert keeper.state.trouble == "the worker was killed"
    with read(store) as session:
        after = newest_summary(session)
    assert before is not None
    assert after is not None
    assert after.fit_id == before.fit_id
    assert len(kept(demo)) == 1
    # what the old fit knows nothing of is as the books have it, so a plan can be made all the same
    with read(store) as session:
        job = next(job for job in tell(session, A_SPRING_DAY).jobs if steps_of(job))
        assert current_belief(session).belief.constants(job, 20).draws == 20


class KilledWorker:
    """A worker whose every job dies in the middle of the sum."""

    def submit(self, *_: object, **__: object) -> KilledWorker:
        return self

    def drop(self, _job: KilledWorker) -> None:
        return None

    def wait(self, _seconds: float) -> None:
        return None

    state = JobState.FAILED
    error = "the worker was killed"
