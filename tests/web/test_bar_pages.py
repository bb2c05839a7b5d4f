"""A bar's own page and its quick tests: what is believed of it, why, and where it was used."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import read_page_form, text_of
from webapp.forms.bars import TESTS
from webapp.services.bar_tests import QUESTIONS
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Bar


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def add_mystery(client: TestClient) -> str:
    data = read_page_form(client.get("/bars/new").text, "/bars")
    answer = client.post("/bars", data={**data, "name": "scrap", "grade": "mystery"}, follow_redirects=False)
    assert answer.status_code == 303
    with read(store_of(client)) as session:
        bar = f"/bars/{max(bar.id or 0 for bar in session.exec(select(Bar)))}"
    assert answer.headers["location"] == f"{bar}/tests/coating"
    return bar


def answer_tests(client: TestClient, bar: str, **answers: str) -> str:
    """Go through the tests as the pages lead; return where they end."""
    at = f"{bar}/tests/coating"
    while "/tests/" in at:
        data = read_page_form(client.get(at).text, at)
        told = answers.get(at.rpartition("/")[2], "not tried")
        answer = client.post(at, data={**data, "answer": told}, follow_redirects=False)
        assert answer.status_code == 303, text_of(answer.text)
        at = answer.headers["location"]
    return at


def test_a_bar_says_what_the_books_and_the_forge_say_of_it_and_where_it_was_used(demo: TestClient) -> None:
    page = text_of(demo.get("/bars/1").text)
    assert "its own carbon" in page
    assert "time it gives in the quench" in page
    assert "the books say:" in page
    assert "Batch 1 " in page
    assert 'href="/items/' in demo.get("/bars/1").text
    assert 'href="/parts/1"' in demo.get("/bars/1").text


def test_quick_tests_are_asked_one_by_one_and_end_in_a_range_with_its_reason(demo: TestClient) -> None:
    bar = add_mystery(demo)
    assert "Find out what it is" in text_of(demo.get(bar).text)
    end = answer_tests(
        demo, bar, coating="bare", magnet="sticks", sparks="few, long, plain lines", broken_slip="bends"
    )
    assert end == bar
    page = text_of(demo.get(bar).text)
    assert "0.03 to 0.22 %" in page
    assert "bends double after a hot quench" in page
    assert "plain spark lines" in page
    assert "Go on testing it" in page


def test_an_answer_can_be_put_right_and_taken_back(demo: TestClient) -> None:
    bar = add_mystery(demo)
    answer_tests(demo, bar, file_as_bought="file skates")
    assert "0.30 to 1.00 %" in text_of(demo.get(bar).text)
    answer_tests(demo, bar, file_as_bought="file bites")
    assert "0.05 to 0.60 %" in text_of(demo.get(bar).text)
    answer_tests(demo, bar)
    assert "None made yet" in text_of(demo.get(bar).text)


def test_zinc_stops_the_tests_and_warns(demo: TestClient) -> None:
    bar = add_mystery(demo)
    at = f"{bar}/tests/coating"
    data = read_page_form(demo.get(at).text, at)
    answer = demo.post(at, data={**data, "answer": "zinc"}, follow_redirects=False)
    assert answer.headers["location"] == bar
    assert "poisonous fume" in text_of(demo.get(bar).text)


def test_a_test_without_an_answer_or_of_a_bar_with_a_grade_or_not_there_is_refused(demo: TestClient) -> None:
    bar = add_mystery(demo)
    at = f"{bar}/tests/magnet"
    data = read_page_form(demo.get(at).text, at)
    assert demo.post(at, data={**data, "answer": ""}).status_code == 422
    assert demo.post(at, data={**data, "answer": "sings"}).status_code == 422
    known = read_page_form(demo.get("/bars/1/tests/magnet").text, "/bars/1/tests/magnet")
    refused = demo.post("/bars/1/tests/magnet", data={**known, "answer": "sticks"})
    assert refused.status_code == 422
    assert "has a grade" in text_of(refused.text)
    assert demo.get(f"{bar}/tests/taste").status_code == 404
    assert demo.get("/bars/999").status_code == 404


def test_every_test_of_the_form_is_asked_and_what_can_hurt_is_said() -> None:
    assert [question.key for question in QUESTIONS] == list(TESTS)
    said = {question.key: " ".join(question.cautions) for question in QUESTIONS}
    for key, danger in (
        ("coating", "poisonous"),
        ("sparks", "shield"),
        ("quenched_scrap", "steam"),
        ("broken_slip", "shards"),
    ):
        assert danger in said[key]
