"""A form whose record was removed while it lay open: what was typed comes back, and can still be saved."""

from __future__ import annotations

from fastapi.testclient import TestClient

from tests.web.batch_steps import press, rows, start, walk
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.store.engine import Store
from webapp.store.tables import Reading

READING = "/readings/1"
FIRST = "/items/1/readings/new?kind=first"


def test_what_was_typed_about_a_removed_record_comes_back_and_is_saved_once_that_is_put_back(
    client: TestClient, app_store: Store
) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out", "reheat", "quench")
    send(client, FIRST, FIRST, hardness="60")
    typed = read_page_form(client.get(READING).text, READING) | {"value": ["59"], "note": ["<b>"]}
    press(client, "/items/1", f"{READING}/remove")
    answer = client.post(READING, data=typed)
    assert answer.status_code == 404
    assert "or it was removed" in text_of(answer.text)
    assert "put it back in another window" in text_of(answer.text)
    back = read_page_form(answer.text, READING)
    assert back == typed
    press(client, "/bin", "/bin/reading/1/put-back")
    clash = client.post(READING, data=back)
    assert clash.status_code == 409
    assert client.post(READING, data=read_page_form(clash.text, READING)).status_code == 303
    (kept,) = rows(app_store, Reading)
    assert (kept.value, kept.note) == (59.0, "<b>")


def test_a_button_for_what_is_gone_is_refused_and_offers_no_second_press(client: TestClient) -> None:
    begin(client)
    answer = client.post("/readings/9/remove", data={"form_id": "x" * 12, "version": "1"})
    assert answer.status_code == 404
    assert "Save it now" not in answer.text


def test_what_was_typed_comes_back_where_the_logbook_itself_refuses_the_record(client: TestClient) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out")
    answer = client.post("/batches/1/steps/quench", data={"form_id": "x" * 12, "bath_id": "0", "note": "hot"})
    assert answer.status_code == 422
    assert "The logbook refused this record" in text_of(answer.text)
    assert read_page_form(answer.text, "/batches/1/steps/quench")["note"] == ["hot"]
