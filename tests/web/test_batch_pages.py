"""The run of a batch: each step one tap, its time editable, its order held, nothing noted twice."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.web.batch_steps import ANSWERS, press, rows, start, step, utc, walk
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.store.engine import Store
from webapp.store.tables import Batch, Event, Fire, Forge, HeatNote, Item, Step

WHOLE_WAY = ("box_in", "at_heat", "box_out", "reheat", "quench", "temper", "measured")


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


@pytest.fixture
def batch(client: TestClient) -> str:
    return start(client)


def state(store: Store) -> str:
    return rows(store, Batch)[-1].state


def test_a_batch_starts_with_one_tap_and_carries_the_standard_pin(
    client: TestClient, app_store: Store, batch: str
) -> None:
    assert batch == "/batches/1"
    assert state(app_store) == "planned"
    pin = rows(app_store, Item)[0]
    assert (pin.is_pin, pin.shape, pin.size_m) == (True, "rod", 0.010)


def test_a_batch_walks_from_planned_to_measured_by_one_button_each(
    client: TestClient, app_store: Store, batch: str, clock: FixedClock
) -> None:
    states = []
    for action in WHOLE_WAY:
        clock.move(hours=1)
        page = client.get(batch).text
        assert f"{batch}/steps/{action}" in page
        walk(client, batch, action)
        states.append(state(app_store))
    assert states == ["in_the_fire", "in_the_fire", "cooling", "cooling", "hardened", "hardened", "measured"]
    soak = next(row for row in rows(app_store, Step) if row.kind == "soak")
    assert soak.seconds == 3600.0
    assert soak.temperature_K == pytest.approx(1183.15)


def test_the_big_button_alone_is_enough_for_the_box_in(
    client: TestClient, app_store: Store, batch: str, clock: FixedClock
) -> None:
    action = f"{batch}/steps/box_in"
    fields = read_page_form(client.get(batch).text, action)
    clock.move(hours=2)  # the page lay open on the bench: the tap counts, not the page's age
    client.post(action, data=fields)
    assert utc(rows(app_store, Step)[0].started_at) == clock.now()


def test_a_double_tap_notes_one_step(client: TestClient, app_store: Store, batch: str) -> None:
    action = f"{batch}/steps/box_in"
    fields = read_page_form(client.get(batch).text, action)
    answers = [client.post(action, data=fields) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    assert [answer.headers["location"] for answer in answers] == [batch, batch]
    assert len(rows(app_store, Step)) == 1


def test_a_double_tap_starts_one_batch(client: TestClient, app_store: Store) -> None:
    fields = read_page_form(client.get("/").text, "/batches")
    assert {client.post("/batches", data=fields).headers["location"] for _ in range(2)} == {"/batches/1"}
    assert len(rows(app_store, Batch)) == 1


def test_a_second_tablet_that_knew_an_older_batch_is_shown_both_versions(
    client: TestClient, app_store: Store, batch: str
) -> None:
    edit = f"{batch}/edit"
    stale = read_page_form(client.get(edit).text, edit)
    send(client, edit, edit, note="packed tight")
    answer = client.post(edit, data={**stale, "note": "packed loose"})
    assert answer.status_code == 409
    assert "packed tight" in text_of(answer.text)
    assert "packed loose" in answer.text
    assert rows(app_store, Batch)[0].note == "packed tight"
    again = client.post(edit, data={**read_page_form(answer.text, edit)})
    assert again.status_code == 303
    assert rows(app_store, Batch)[0].note == "packed loose"


def test_a_step_that_another_tablet_noted_already_is_not_noted_again(
    client: TestClient, app_store: Store, batch: str
) -> None:
    action = f"{batch}/steps/box_in"
    other = read_page_form(client.get(batch).text, action)
    walk(client, batch, "box_in")
    answer = client.post(action, data=other)
    assert answer.status_code == 422
    assert "in the fire by now" in text_of(answer.text)
    assert len(rows(app_store, Step)) == 1


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2026-04-03T11:00", "before the box went into the fire"),
        ("2026-04-04T12:00", "has not come yet"),
        ("1926-04-03T12:00", "before the box went into the fire"),
        ("soon", "not a date and time"),
    ],
)
def test_a_time_that_cannot_be_is_refused_beside_its_field(
    client: TestClient, app_store: Store, batch: str, at: str, said: str
) -> None:
    walk(client, batch, "box_in")
    answer = step(client, batch, "at_heat", at=at, temperature_K="905")
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert read_page_form(answer.text, f"{batch}/steps/at_heat")["temperature_K"] == ["905"]
    assert len(rows(app_store, Step)) == 1


def test_a_time_to_come_stands_when_the_user_says_so(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in")
    answer = step(client, batch, "at_heat", at="2026-04-03T13:30", insisted="yes")
    assert answer.status_code == 303


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1700", "1700 °F"),
        ("nan", "not a number"),
        ("-40", "too little"),
        ("hot", "not a number"),
    ],
)
def test_a_soak_heat_that_cannot_be_is_asked_about(
    client: TestClient, batch: str, typed: str, said: str
) -> None:
    walk(client, batch, "box_in")
    answer = step(client, batch, "at_heat", temperature_K=typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)


def test_a_temper_hotter_than_steel_hardens_at_is_refused(client: TestClient, batch: str) -> None:
    walk(client, batch, *WHOLE_WAY[:5])
    answer = step(client, batch, "temper", temperature_K="760")
    assert answer.status_code == 422
    assert "hardens afresh" in text_of(answer.text)


def test_the_soak_clock_may_count_from_the_box_in(
    client: TestClient, app_store: Store, batch: str, clock: FixedClock
) -> None:
    walk(client, batch, "box_in")
    clock.move(hours=1)
    step(client, batch, "at_heat", clock_from="box_in")
    box_in, soak = rows(app_store, Step)
    assert soak.started_at == box_in.started_at


def test_doubt_in_the_soak_heat_is_kept_as_a_give_or_take(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in")
    step(client, batch, "at_heat", temperature_K="", temperature_K_sure="unknown")
    soak = rows(app_store, Step)[1]
    assert (soak.temperature_spread_K, soak.temperature_K) == (40.0, pytest.approx(1183.15))


def test_straight_into_the_bath_is_hardened_by_one_tap_and_taken_back_by_one(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in", "at_heat")
    assert step(client, batch, "box_out", then="straight_to_bath").status_code == 303
    assert [row.kind for row in rows(app_store, Step)] == ["box_in", "soak", "box_out", "quench"]
    assert state(app_store) == "hardened"
    press(client, batch, "/steps/4/undo")
    assert [row.kind for row in rows(app_store, Step)] == ["box_in", "soak"]
    assert state(app_store) == "in_the_fire"
    assert rows(app_store, Step)[1].seconds is None


def test_only_the_last_step_can_be_taken_back(client: TestClient, app_store: Store, batch: str) -> None:
    walk(client, batch, "box_in", "at_heat")
    assert "/steps/1/undo" not in client.get(batch).text
    answer = client.post("/steps/1/undo", data={"form_id": "long-enough"})
    assert answer.status_code == 422
    assert len(rows(app_store, Step)) == 2


def test_a_corrected_box_out_stretches_the_soak(
    client: TestClient, app_store: Store, batch: str, clock: FixedClock
) -> None:
    walk(client, batch, "box_in", "at_heat")
    clock.move(hours=4)
    walk(client, batch, "box_out")
    send(client, "/steps/3", "/steps/3", at="2026-04-03T15:32")
    soak = rows(app_store, Step)[1]
    assert soak.seconds == 3.5 * 3600
    assert soak.instrument_id is not None


@pytest.mark.parametrize("hours", [0, 500])
def test_a_soak_whose_times_make_it_nothing_or_endless_is_corrected_as_it_is_shown(
    client: TestClient, app_store: Store, batch: str, clock: FixedClock, hours: float
) -> None:
    walk(client, batch, "box_in", "at_heat")
    clock.move(hours=hours)
    walk(client, batch, "box_out")
    assert send(client, "/steps/2", "/steps/2", note="the clock was slow").status_code == 303
    soak = rows(app_store, Step)[1]
    assert (soak.seconds, soak.note) == (hours * 3600, "the clock was slow")


@pytest.mark.parametrize(
    ("at", "said"),
    [("2026-04-03T12:00", "before the soak clock"), ("2026-04-03T18:30", "after the next step")],
)
def test_a_correction_keeps_the_order_of_steps(
    client: TestClient, batch: str, clock: FixedClock, at: str, said: str
) -> None:
    for action in ("box_in", "at_heat", "box_out", "reheat"):
        clock.move(hours=1)
        walk(client, batch, action)
    clock.move(hours=4)
    answer = send(client, "/steps/3", "/steps/3", at=at)
    assert answer.status_code == 422
    assert said in text_of(answer.text)


def test_notes_written_all_at_once_afterwards_are_not_refused(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, *WHOLE_WAY)
    moments = [utc(row.started_at) for row in rows(app_store, Step)]
    assert moments == sorted(moments)


def test_a_temperature_is_noted_with_two_taps_and_taken_back(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in")
    send(client, batch, f"{batch}/heat-notes", noted_K="1670 F")
    note = rows(app_store, HeatNote)[0]
    assert note.temperature_K == pytest.approx(1183.15)
    assert note.typed == {"temperature_K": "1670 F"}
    press(client, batch, f"{batch}/heat-notes/1/remove")
    assert rows(app_store, HeatNote) == []


def test_a_wrong_temperature_comes_back_where_another_tablet_took_the_box_out_meanwhile(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in", "at_heat")
    shown = read_page_form(client.get(batch).text, f"{batch}/heat-notes")
    walk(client, batch, "box_out")
    answer = client.post(f"{batch}/heat-notes", data={**shown, "noted_K": "9135"})
    assert answer.status_code == 422
    assert 'value="9135"' in answer.text
    assert "Not saved yet" in text_of(answer.text)
    assert rows(app_store, HeatNote) == []
    assert "Note a temperature" not in text_of(client.get(batch).text)


@pytest.mark.parametrize("number", ["9" * 19, "9" * 40, "999999999"])
def test_a_record_that_there_cannot_be_is_refused_and_never_breaks_a_form(
    client: TestClient, app_store: Store, batch: str, number: str
) -> None:
    answer = send(client, "/batches/new", "/batches/new", mix_id=number)
    assert answer.status_code in (404, 422)
    assert len(text_of(answer.text)) > 20
    assert len(rows(app_store, Batch)) == 1


def test_what_happened_is_one_tap_and_brings_its_caution(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in")
    page = f"{batch}/events/new"
    send(client, page, page, event_kind="burner out")
    assert rows(app_store, Event)[0].kind == "burner out"
    assert "Gas off first" in text_of(client.get(batch).text)
    answer = send(client, page, page, event_kind="other")
    assert answer.status_code == 422
    assert "what happened" in text_of(answer.text)
    assert send(client, page, page, event_kind="flood").status_code == 422


def test_a_note_of_a_megabyte_is_refused_and_kept_on_the_page(client: TestClient, batch: str) -> None:
    edit = f"{batch}/edit"
    answer = send(client, edit, edit, note="x" * 1_000_000)
    assert answer.status_code == 422
    assert "1,000,000 characters" in text_of(answer.text)
    assert read_page_form(answer.text, edit)["note"] == ["x" * 1_000_000]


def test_a_batch_is_given_up_with_its_reason_and_opened_again(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, "box_in")
    page = f"{batch}/give-up"
    assert send(client, page, page, why="").status_code == 422
    send(client, page, page, why="seal failed")
    assert state(app_store) == "given_up"
    assert "seal failed" in text_of(client.get(batch).text)
    press(client, batch, f"{batch}/reopen")
    assert state(app_store) == "in_the_fire"


def test_a_batch_is_set_aside_because_of_something_and_counted_again(
    client: TestClient, app_store: Store, batch: str
) -> None:
    page = f"{batch}/set-aside"
    send(client, page, page, why="wrong mix")
    assert "Because wrong mix" in text_of(client.get(batch).text)
    press(client, batch, f"{batch}/take-in")
    assert rows(app_store, Batch)[0].left_out_why == ""


def test_a_removed_batch_can_be_had_back(client: TestClient, app_store: Store, batch: str) -> None:
    answer = press(client, batch, f"{batch}/remove")
    assert rows(app_store, Batch) == []
    undo = client.get(answer.headers["location"]).text
    client.post(f"{batch}/put-back", data=read_page_form(undo, f"{batch}/put-back"))
    assert len(rows(app_store, Batch)) == 1


def test_doing_it_again_takes_the_pieces_and_none_of_the_results(
    client: TestClient, app_store: Store, batch: str
) -> None:
    walk(client, batch, *WHOLE_WAY)
    answer = press(client, batch, f"{batch}/again")
    assert answer.headers["location"] == "/batches/2"
    assert state(app_store) == "planned"
    assert [item.name for item in rows(app_store, Item) if item.batch_id == 2] == ["standard pin"]
    assert all(row.batch_id == 1 for row in rows(app_store, Step))


def test_a_box_too_large_for_the_forge_is_refused(client: TestClient, app_store: Store) -> None:
    box = {"name": "Long box", "inner_length_m": "600", "inner_width_m": "80", "wall_m": "3"}
    send(client, "/shop/boxes/new", "/shop/boxes", **box)
    answer = send(client, "/batches/new", "/batches/new", box_id="2")
    assert answer.status_code == 422
    assert "Long box" in text_of(answer.text)
    assert rows(app_store, Batch) == []
    assert rows(app_store, Fire) == []


def test_two_boxes_share_a_fire_while_it_burns(client: TestClient, app_store: Store, batch: str) -> None:
    form = "/shop/forges/1"
    send(client, form, form, inside_width_m="400", inside_height_m="300", inside_length_m="600")
    assert rows(app_store, Forge)[0].inside_length_m == pytest.approx(0.6)
    walk(client, batch, "box_in")
    answer = send(client, "/batches/new", "/batches/new", fire_id="1")
    assert answer.headers["location"] == "/batches/2"
    assert {row.fire_id for row in rows(app_store, Batch)} == {1}
    assert "Batch 2" in text_of(client.get(batch).text)
    step(client, "/batches/2", "box_in")
    for address in (batch, "/batches/2"):
        client.post(f"{address}/give-up", data={"why": "rain"})
    late = client.post(
        "/batches/new",
        data={"box_id": "1", "mix_id": "1", "forge_id": "1", "heat_instrument_id": "1", "fire_id": "1"},
    )
    assert late.status_code == 422
    assert "That fire is out" in text_of(late.text)


def test_the_pin_is_left_out_when_struck_off_beforehand(client: TestClient, app_store: Store) -> None:
    send(client, "/batches/new", "/batches/new", with_pin="no")
    assert rows(app_store, Item) == []


def test_an_old_batch_is_written_up_with_its_doubt(client: TestClient, app_store: Store) -> None:
    page = "/batches/write-up"
    answer = send(
        client,
        page,
        page,
        day="2025-11-02",
        temperature_K="900",
        temperature_K_sure="about",
        soak_s="4",
        soak_s_sure="unknown",
        bath_id="1",
        coupon_size_m="12",
    )
    assert answer.status_code == 422  # a number and a "don't know" contradict each other
    told = read_page_form(answer.text, page) | {"soak_s": "4", "soak_s_sure": "about"}
    assert client.post(page, data=told).headers["location"] == "/batches/1"
    steps = rows(app_store, Step)
    assert [row.kind for row in steps] == ["box_in", "soak", "box_out", "quench"]
    soak = steps[1]
    assert (soak.seconds, soak.seconds_spread) == (14400.0, 1440.0)
    assert (soak.temperature_spread_K, soak.started_at) == (20.0, None)
    assert state(app_store) == "hardened"
    assert rows(app_store, Item)[0].size_m == pytest.approx(0.012)


@pytest.mark.parametrize("typed", [{"then": "straight_to_bath"}, {"temper_K": "180"}])
def test_an_old_batch_that_must_have_been_quenched_asks_for_the_bath(
    client: TestClient, app_store: Store, typed: dict[str, str]
) -> None:
    page = "/batches/write-up"
    answer = send(client, page, page, day="2025-11-02", temperature_K="900", soak_s="4", **typed)
    assert answer.status_code == 422
    assert "pick" in text_of(answer.text)
    assert rows(app_store, Batch) == []


def test_an_old_batch_cannot_lie_in_the_future(client: TestClient) -> None:
    page = "/batches/write-up"
    told = {"temperature_K": "900", "soak_s": "4"}
    answer = send(client, page, page, day="2026-04-05", **told)
    assert answer.status_code == 422
    assert "has not come yet" in text_of(answer.text)


def test_the_change_record_says_who_changed_what(client: TestClient, batch: str) -> None:
    client.cookies.set("casewright_device", "bench tablet")
    walk(client, batch, "box_in")
    text = text_of(client.get(batch).text)
    assert "bench tablet" in text
    assert "Stands as: planned → in the fire" in text


def test_pages_that_are_not_there_say_so(client: TestClient, batch: str) -> None:
    for address in ("/batches/99", f"{batch}/steps/boil", "/steps/99", "/bars/1/set-aside"):
        assert client.get(address).status_code == 404, address


def test_cautions_stand_at_the_step_where_they_apply(client: TestClient, batch: str) -> None:
    said = {
        "box_in": "carbon monoxide",
        "at_heat": "Stay with the fire",
        "box_out": "Do not open a hot box",
        "reheat": "air through the shop",
        "quench": "Oil can flare",
        "temper": "oven used for food",
    }
    for action in ANSWERS:
        if action in said:
            text = text_of(client.get(batch).text)
            assert said[action] in text, action
            assert "Local codes and licensed practice come first" in text
        walk(client, batch, action)


def test_the_run_clock_shows_hours_and_minutes_of_the_soak(
    client: TestClient, batch: str, clock: FixedClock
) -> None:
    walk(client, batch, "box_in", "at_heat")
    clock.move(hours=2, minutes=5)
    assert "in this soak so far 2:05" in text_of(client.get(batch).text)
