"""Lines of a shop's own: asked, shown, printed, found, compared, taken along, and never lost."""

from __future__ import annotations

import csv
import io
import json
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.conftest import A_SPRING_DAY
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.read_back import read_back
from webapp.services.search_words import batches_asked_for
from webapp.store.engine import Store, open_store, read
from webapp.store.tables import Bar, Batch, Item, OwnLine, Part

HREF = "/shop/own-lines"
NEW = "/batches/new"


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


def ask_for(client: TestClient, label: str, **typed: str) -> Any:
    return send(client, HREF, HREF, label=label, **typed)


def batch_of(store: Store, number: int) -> Batch:
    with read(store) as session:
        return session.exec(select(Batch).where(Batch.number == number)).one()


def a_line_of_each_kind(client: TestClient) -> None:
    for label, typed in (
        ("Charcoal from", {"kind": "words"}),
        ("Ash left", {"kind": "number", "unit": "g"}),
        ("Lid warped", {"kind": "yes_no"}),
        ("Weather", {"kind": "choice", "choices": "dry\n wet \n\ndry", "is_copied": "yes"}),
    ):
        assert ask_for(client, label, **typed).headers["location"] == HREF


def a_batch_with_all(client: TestClient) -> None:
    said = {"own_1": "the beech wood", "own_2": "12,5", "own_3": "no", "own_4": "wet"}
    assert send(client, NEW, NEW, **said).status_code == 303


def test_every_kind_is_asked_kept_as_typed_and_shown_on_the_page_and_on_paper(
    client: TestClient, app_store: Store
) -> None:
    a_line_of_each_kind(client)
    asked = client.get(NEW).text
    assert {"own_1", "own_2"} <= read_page_form(asked, NEW).keys()
    assert "Your own lines Charcoal from, Ash left, Lid warped, Weather" in text_of(asked)
    a_batch_with_all(client)
    batch = batch_of(app_store, 1)
    assert batch.own_lines == {"1": "the beech wood", "2": 12.5, "3": "no", "4": "wet"}
    assert batch.typed["own_2"] == "12,5"
    for address in ("/batches/1", "/batches/1/print"):
        said = text_of(client.get(address).text)
        assert "Charcoal from the beech wood Ash left 12,5 g Lid warped no Weather wet" in said
    ask_for(client, "Ash of it", kind="number", unit="g")
    said = text_of(client.get("/batches/1/run-sheet").text)
    assert "Charcoal from: the beech wood · Ash left: 12,5 g · Lid warped: no · Weather: wet" in said
    assert "By hand Ash of it (g):" in said
    again = read_page_form(client.get("/batches/1/edit").text, "/batches/1/edit")
    assert (again["own_1"], again["own_2"], again["own_4"]) == (["the beech wood"], ["12,5"], ["wet"])


def test_what_is_no_number_or_not_in_the_list_is_refused_and_nothing_typed_is_lost(
    client: TestClient, app_store: Store
) -> None:
    a_line_of_each_kind(client)
    for typed, said in (
        ({"own_2": "a lot"}, "is not a number"),
        ({"own_2": "nan"}, "not a number that can be used"),
        ({"own_2": "1e12"}, "Type the number alone, as in 6.5."),
        ({"own_4": "snow"}, "not in the list"),
        ({"own_1": "x" * 201}, "200"),
    ):
        answer = send(client, NEW, NEW, **{"own_1": "kept on the page", **typed})
        assert answer.status_code == 422
        assert said in answer.text
        assert 'value="kept on the page"' in answer.text or "own_1" in typed
    with read(app_store) as session:
        assert session.exec(select(Batch)).all() == []


def test_parts_pieces_and_bars_bear_them_too(client: TestClient, app_store: Store) -> None:
    for about in ("part", "piece", "bar"):
        ask_for(client, f"Drawing of the {about}", about=about)
    send(client, "/parts/new", "/parts", name="Pawl", size_m="8", own_1="D-17")
    send(client, "/bars/new", "/bars", name="Square", grade="1018", own_3="heat 9")
    assert send(client, NEW, NEW).status_code == 303
    pack = "/batches/1/items/new?kind=coupon"
    assert send(client, pack, pack, own_2="top left").status_code == 303
    with read(app_store) as session:
        held = [session.exec(select(kind).order_by(kind.id.desc())).first() for kind in (Part, Item, Bar)]  # type: ignore[attr-defined]
        assert [one.own_lines for one in held if one] == [{"1": "D-17"}, {"2": "top left"}, {"3": "heat 9"}]
        part, item, bar = (one.id for one in held if one)
    for address, said in (
        (f"/parts/{part}", "Drawing of the part D-17"),
        (f"/items/{item}", "Drawing of the piece top left"),
        (f"/bars/{bar}", "Drawing of the bar heat 9"),
        ("/batches/1/print", "Drawing of the piece: top left"),
        ("/batches/1/run-sheet", "Drawing of the piece: top left"),
    ):
        assert said in text_of(client.get(address).text)
    edit = f"/items/{item}/edit"
    assert send(client, edit, edit, own_2="").status_code == 303
    assert "Drawing of the piece" not in client.get(f"/items/{item}").text
    edit = f"/parts/{part}/edit"
    assert send(client, edit, f"/parts/{part}", own_1="D-18").status_code == 303
    assert "D-18" in client.get("/parts").text


def test_a_renamed_line_keeps_its_answers_and_a_retired_one_shows_them_and_asks_no_more(
    client: TestClient, app_store: Store
) -> None:
    a_line_of_each_kind(client)
    a_batch_with_all(client)
    change = f"{HREF}/1"
    assert send(client, change, change, label="Wood").headers["location"] == HREF
    assert "Wood the beech wood" in text_of(client.get("/batches/1").text)
    assert client.post(f"{HREF}/2/retire", data={"version": "1"}).status_code == 303
    assert "own_2" not in client.get(NEW).text
    edit = "/batches/1/edit"
    assert send(client, edit, edit, note="put right").status_code == 303
    assert batch_of(app_store, 1).own_lines["2"] == 12.5
    assert "Ash left 12,5 g" in text_of(client.get("/batches/1").text)
    assert client.post(f"{HREF}/2/ask-again", data={"version": "2"}).status_code == 303
    assert read_page_form(client.get(edit).text, edit)["own_2"] == ["12,5"]
    assert client.post(f"{HREF}/2/retire", data={"version": "1"}).status_code == 409


@pytest.mark.parametrize(
    ("label", "typed", "said"),
    [
        ("", {}, "is needed"),
        ("charcoal FROM", {}, "There is a line of this name"),
        ("Sky", {"kind": "choice", "choices": "blue"}, "two answers or more"),
        ("Sky", {"kind": "words", "choices": "blue\ngrey"}, "Only one of a list has a list"),
        ("Sky", {"kind": "words", "unit": "g"}, "Only a number has a unit"),
        ("Sky", {"kind": "choice", "choices": "\n".join(map(str, range(13)))}, "too many to pick from"),
        ("Sky", {"kind": "choice", "choices": f"a\n{'b' * 61}"}, "too long for a button"),
        ("Sky", {"kind": "colour"}, "not in the list"),
    ],
)
def test_a_line_that_cannot_be_asked_is_refused(
    client: TestClient, label: str, typed: dict[str, str], said: str
) -> None:
    ask_for(client, "Charcoal from")
    answer = ask_for(client, label, **typed)
    assert answer.status_code == 422
    assert said in answer.text


def test_an_answer_that_was_given_stays_in_its_list(client: TestClient) -> None:
    a_line_of_each_kind(client)
    a_batch_with_all(client)
    change = f"{HREF}/4"
    refused = send(client, change, change, choices="dry\nsnow")
    assert refused.status_code == 422
    assert "“wet” is noted of 1 batch: keep it in the list." in refused.text
    assert send(client, change, change, choices="wet\nsnow").status_code == 303


def test_done_again_a_setting_comes_along_and_a_result_does_not(client: TestClient, app_store: Store) -> None:
    a_line_of_each_kind(client)
    a_batch_with_all(client)
    assert client.post("/batches/1/again").status_code == 303
    assert batch_of(app_store, 2).own_lines == {"4": "wet"}


def test_they_are_found_compared_taken_along_and_read_back(
    client: TestClient, app_store: Store, tmp_path: Path
) -> None:
    a_line_of_each_kind(client)
    a_batch_with_all(client)
    assert send(client, NEW, NEW, own_4="dry").status_code == 303
    with read(app_store) as session:
        assert batches_asked_for(session, "beech wet") == {1}
        assert batches_asked_for(session, "12.5") == {1}
    found = text_of(client.get("/logbook?q=beech").text)
    assert "also noted: the beech wood · 12.5 · no · wet" in found
    assert "line of your own" in text_of(client.get("/logbook?q=weather").text)
    for asked, numbers in (
        ("4:wet", [1]),
        ("4:dry", [2]),
        ("1:the beech wood", [1]),
        ("2:12.5", [1]),
        ("3:yes", []),
    ):
        page = client.get("/logbook", params={"own": ["", asked]}).text
        assert [number for number in (1, 2) if f'href="/batches/{number}"' in page] == numbers
        assert f'<option value="{asked}" selected>' in page
        api = client.get("/api/batches", params={"own": asked}).json()
        assert [row["number"] for row in api["batches"]] == numbers
    assert '<option value="2:12.5">12.5 g</option>' in client.get("/logbook").text
    assert client.get("/logbook", params={"own": ["4:wet", "2:7"]}).text.count('href="/batches/1"') == 0
    compared = text_of(client.get("/logbook/compare?b=1&b=2").text)
    assert "wet dry" in compared
    rows = list(csv.DictReader(io.StringIO(client.get("/logbook.csv?sort=oldest").text.lstrip("\ufeff"))))
    assert [row["own line: Ash left (g)"] for row in rows] == ["12.5", ""]
    document = client.get("/api/export").content
    (tmp_path / "whole.json").write_bytes(document)
    told = json.loads(document)["tables"]
    assert [row["label"] for row in told["ownline"]] == ["Charcoal from", "Ash left", "Lid warped", "Weather"]
    assert told["batch"][0]["own_lines"] == {"1": "the beech wood", "2": 12.5, "3": "no", "4": "wet"}
    (tmp_path / "new").mkdir()
    read_back(tmp_path / "whole.json", tmp_path / "new", A_SPRING_DAY)
    with closing(open_store(tmp_path / "new")) as again, read(again) as session:
        assert [line.label for line in session.exec(select(OwnLine))][3] == "Weather"
        assert [one.own_lines.get("4") for one in session.exec(select(Batch))] == ["wet", "dry"]


def test_an_old_table_brings_them_in_below_their_names(client: TestClient, app_store: Store) -> None:
    a_line_of_each_kind(client)
    ask_for(client, "Note", about="piece")  # a heading that is taken already
    (empty,) = csv.reader(io.StringIO(client.get("/bring-in/template.csv").content.decode("utf-8-sig")))
    assert empty[-5:] == ["Charcoal from", "Ash left (g)", "Lid warped", "Weather", "own line: Note"]
    heading = "Batch;Date;Note;own line: Note;charcoal from;Ash left (g);Lid warped;Weather;HRC;Size"
    lines = [
        "A;2024-03-14;dull;cut short;beech;12,5;no;wet;60;12",
        "A;;;second;beech;;;;61;12",
        "B;2024-03-15;;;-;;x;humid;62;12",
        ";2024-03-16;;;;plenty;;;62;12",
    ]
    sent = {"table": ("old.csv", "\n".join((heading, *lines)).encode(), "text/csv")}
    address = client.post("/bring-in", files=sent).headers["location"]
    page = text_of(client.get(address).text)
    assert "Row 4, Weather : 'humid' is not known here. Allowed: dry, wet." in page
    assert "Row 5, Ash left (g) : 'plenty' is not a number" in page
    assert "Charcoal from: beech, Ash left: 12.5 g, Lid warped: no, Weather: wet" in page
    sent["table"] = ("old.csv", sent["table"][1].replace(b"plenty", b""), "text/csv")
    address = client.post("/bring-in", files=sent).headers["location"] + "&m.own_4.humid=wet"
    assert client.post(address, data={"form_id": "form-of-own-lines"}).status_code == 303
    assert batch_of(app_store, 1).own_lines == {"1": "beech", "2": 12.5, "3": "no", "4": "wet"}
    assert batch_of(app_store, 1).typed["own_2"] == "12,5"
    assert batch_of(app_store, 2).own_lines == {"3": "yes", "4": "wet"}
    assert batch_of(app_store, 3).own_lines == {}
    with read(app_store) as session:
        items = session.exec(select(Item).order_by(Item.id)).all()  # type: ignore[arg-type]
        assert [item.own_lines for item in items] == [{"5": "cut short"}, {"5": "second"}, {}, {}]
        assert [item.note for item in items] == ["", "", "", ""]
    kilograms = client.post("/bring-in", files={"table": ("t.csv", b"Date,Ash left (kg)\n2024-03-14,1\n")})
    assert '<option value="own_2" selected>' not in client.get(kilograms.headers["location"]).text


def test_two_tablets_see_each_line_by_itself(client: TestClient) -> None:
    a_line_of_each_kind(client)
    a_batch_with_all(client)
    edit = "/batches/1/edit"
    before = read_page_form(client.get(edit).text, edit)
    assert send(client, edit, edit, own_2="7").status_code == 303
    late = client.post(edit, data={**before, "own_2": "8"})
    assert late.status_code == 409
    assert "Ash left" in text_of(late.text)
    assert "own_lines" not in late.text


def test_the_list_says_how_often_each_was_answered(client: TestClient, app_store: Store) -> None:
    a_line_of_each_kind(client)
    a_batch_with_all(client)
    said = text_of(client.get(HREF).text)
    assert "Weather one of a list: dry, wet; noted of 1 batch" in said
    for number in range(8):
        ask_for(client, f"Line {number}")
    full = ask_for(client, "One more")
    assert full.status_code == 422
    assert "12 lines are asked already" in full.text
    with read(app_store) as session:
        assert len(session.exec(select(OwnLine)).all()) == 12
