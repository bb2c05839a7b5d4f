"""What the watch for drift asks the owner, and what each answer does."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from model.inputs import links
from tests.conftest import A_SPRING_DAY
from tests.web.fitted_demo import fire_days, speaking_to_demo, store_of
from tests.web.page_forms import read_page_form, text_of
from webapp.services.fitting import newest_summary
from webapp.services.observations import tell
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Batch, Fire, Fit, Instrument, ShopChange
from webapp.store.unit_of_work import Actor, write

TIP = 1


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def first_batch(client: TestClient) -> Batch:
    """The seventh fire that the demo's thermocouple saw."""
    with read(store_of(client)) as session:
        day = fire_days(session, TIP)[6]
        query = select(Batch).join(Fire, col(Fire.id) == Batch.fire_id)
        return session.exec(query.where(Batch.day == day, Fire.heat_instrument_id == TIP)).all()[0]


def found(client: TestClient, **more: Any) -> Batch:
    """Let the newest fit have found a drift since some batch; return the batch."""
    batch = first_batch(client)
    told = {"heat_method": f"thermocouple:{TIP}", "first": str(batch.fire_id), "rang": str(batch.fire_id),
            "fires": 7, "by_K": -28.0, "sd_K": 6.0} | more  # fmt: skip
    with read(store_of(client)) as session:
        newest = newest_summary(session)
    assert newest is not None
    with write(store_of(client), Actor("test bench"), A_SPRING_DAY) as work:
        fit = work.session.get(Fit, newest.fit_id)
        assert fit is not None
        fit.summary = {**newest.summary, "drifts": [told]}
        fit.fingerprint += "'"  # a fit is never changed once it stands: this is another
    return batch


def kept(client: TestClient) -> list[ShopChange]:
    with read(store_of(client)) as session:
        return list(session.exec(select(ShopChange).where(col(ShopChange.deleted_at).is_(None))))


def say(client: TestClient) -> str:
    return text_of(client.get("/forge").text)


def answer(client: TestClient, word: str) -> Any:
    action = f"/forge/drift/{TIP}/{word}"
    return client.post(action, data=read_page_form(client.get("/forge").text, action))


def test_a_fit_keeps_what_the_watch_found_and_the_demo_asks_nothing(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        newest = newest_summary(session)
    assert newest is not None
    assert newest.summary["drifts"] == []
    assert "Has something changed?" not in say(demo)


def test_a_drift_is_asked_as_since_batch_with_its_size(demo: TestClient) -> None:
    batch = found(demo)
    words = say(demo)
    assert f"Since batch {batch.number} (" in words
    assert "runs colder than before at the same reading, by about 28 °C, give or take 10 °C" in words
    assert "shallower" in words
    assert f'href="/batches/{batch.id}"' in demo.get("/forge").text


def test_a_hotter_one_is_asked_as_hotter_and_blames_no_old_thermocouple(demo: TestClient) -> None:
    found(demo, by_K=31.0)
    words = say(demo)
    assert "runs hotter than before" in words
    assert "grown old" not in words


def test_yes_keeps_a_dated_change_that_can_be_removed_and_is_not_asked_again(demo: TestClient) -> None:
    batch = found(demo)
    reply = answer(demo, "yes")
    assert reply.headers["location"] == f"/shop/heats/{TIP}/changes"
    (change,) = kept(demo)
    assert (change.kind, change.changed_on, change.instrument_id) == ("heat_drift", batch.day, TIP)
    assert "Has something changed?" not in say(demo)
    assert "Came to read otherwise" in text_of(demo.get(reply.headers["location"]).text)
    with read(store_of(demo)) as session:
        told = tell(session, A_SPRING_DAY)
    names = {name for one in told.observations for name in links(one.process).names()}
    assert f"change/{change.id}|temperature_bias" in names


def test_no_loosens_nothing_and_is_not_asked_again(demo: TestClient) -> None:
    found(demo)
    assert answer(demo, "no").status_code == 303
    (change,) = kept(demo)
    assert (change.kind, change.changed_on) == ("heat_as_before", A_SPRING_DAY.date())
    assert "Has something changed?" not in say(demo)
    with read(store_of(demo)) as session:
        told = tell(session, A_SPRING_DAY)
    names = {name for one in told.observations for name in links(one.process).names()}
    assert not any(name.startswith("change/") for name in names)


def test_a_change_that_the_owner_knows_answers_it_too(demo: TestClient) -> None:
    batch = found(demo)
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        fire = work.get(Fire, batch.fire_id)
        work.add(ShopChange(kind="relined", changed_on=batch.day, forge_id=fire.forge_id))
    assert "Has something changed?" not in say(demo)


def test_an_answer_to_what_is_not_asked_changes_nothing_and_says_so(demo: TestClient) -> None:
    for word in ("yes", "no"):
        reply = demo.post(f"/forge/drift/{TIP}/{word}", data={"form_id": f"not-asked-{word}"})
        assert reply.status_code == 422
        assert "does not ask this any more" in text_of(reply.text)
    assert demo.post(f"/forge/drift/{TIP}/perhaps", data={}).status_code in (404, 422)
    assert kept(demo) == []


def test_two_taps_on_yes_keep_one_change(demo: TestClient) -> None:
    found(demo)
    action = f"/forge/drift/{TIP}/yes"
    form = read_page_form(demo.get("/forge").text, action)
    first, second = demo.post(action, data=form), demo.post(action, data=form)
    assert first.status_code == second.status_code == 303
    assert len(kept(demo)) == 1


@pytest.mark.parametrize(
    "told",
    [
        {"by_K": -5.0},  # later fires went back: what is left is smaller than its doubt
        {"heat_method": "thermocouple:999"},
        {"heat_method": "colour"},
        {"first": "999"},
        {"first": "planned"},
    ],
)
def test_what_does_not_hold_or_is_not_there_any_more_is_not_asked(
    demo: TestClient, told: dict[str, Any]
) -> None:
    found(demo, **told)
    assert "Has something changed?" not in say(demo)


def test_a_thermocouple_that_was_removed_is_not_asked_about(demo: TestClient) -> None:
    found(demo)
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        work.remove(work.get(Instrument, TIP))
    assert "Has something changed?" not in say(demo)
