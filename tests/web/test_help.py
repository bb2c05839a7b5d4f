"""Help in place: each word of the trade is told once on a page, and has its long page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.web.fitted_demo import copy_fitted_demo, speaking_to
from tests.web.words_told import faults_of_words, read_page, stands_in
from webapp import templating
from webapp.marks import marked
from webapp.services.help_pages import TOPICS
from webapp.services.help_words import BY_KEY, WORDS, Word
from webapp.settings import Settings

LONGEST_SENTENCE = 200
# every page is read so in the browser tests; these need no sum of their own
SOME_PAGES = (
    "/",
    "/batches/1",
    "/items/1/readings/new?kind=hardness",
    "/bars/new",
    "/forge",
    "/help",
    "/help/snap",
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("demo")
    copy_fitted_demo(folder)
    with speaking_to(Settings(data_folder=folder)) as client:
        yield client


@pytest.fixture(autouse=True)
def _words_marked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(templating, "marked", marked)


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.key)
def test_a_word_is_told_in_one_short_sentence_with_its_source_and_its_long_page(
    demo: TestClient, word: Word
) -> None:
    assert len(word.sentence) <= LONGEST_SENTENCE
    assert re.fullmatch(r"[A-Z][^.]*(\d\.\d[^.]*)*\.", word.sentence)
    assert word.source
    assert word.topic in {topic.key for topic in TOPICS}
    page, _, anchor = word.href.partition("#")
    assert f'id="{anchor}" data-told="{word.key}"' in demo.get(page).text


def test_no_two_words_go_by_one_name() -> None:
    assert len(BY_KEY) == len(WORDS)
    assert all(stands_in(word, word.shown) or "/" in word.shown for word in WORDS)


def test_a_topic_that_is_not_there_is_said_so(demo: TestClient) -> None:
    assert demo.get("/help/no-such-thing").status_code == 404


@pytest.mark.parametrize("address", SOME_PAGES)
def test_each_word_on_a_page_is_marked_once_or_told_there(demo: TestClient, address: str) -> None:
    answer = demo.get(address)
    assert answer.status_code == 200
    assert faults_of_words(answer.text) == []
    assert 'href="/help"' in answer.text


def test_a_device_whose_reader_knows_the_words_shows_no_dots(demo: TestClient) -> None:
    answer = demo.post("/words", data={"words": "off"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/help")
    page = demo.get("/batches/1").text
    assert "popovertarget" not in page
    assert 'href="/help"' in page
    assert "Dots under words again" in demo.get("/help").text
    demo.post("/words", data={"words": "on"})
    assert "popovertarget" in demo.get("/batches/1").text


@pytest.mark.parametrize(
    ("page", "fault"),
    [
        ("<p>A coupon.</p>", "coupon is not told"),
        (
            "<p><button popovertarget='word-rim-1'>rim</button><i popovertarget='word-rim-1'></i></p>",
            "rim is marked 2 times",
        ),
        ("<label><button popovertarget='word-rim-1'>rim</button></label>", "a mark stands within label"),
        ("<p data-told='rim'><button popovertarget='word-rim-1'>rim</button></p>", "rim is marked, and told"),
    ],
)
def test_the_check_of_a_page_finds_what_is_wrong(page: str, fault: str) -> None:
    assert faults_of_words(f"<main>{page}</main>") == [fault]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("<p>In any case, soak it.</p>", {"soak": 1}),
        ("<p>The case depth of a case</p>", {"case-depth": 1, "case": 1}),
        ("<p><a href='/x'>soak</a> then soak</p>", {"soak": 1}),
        ("<details><p>soak</p></details><p>the soak</p>", {"soak": 1}),
        ("<p title='a > soak'>x</p><label>soak</label>", {"soak": 1}),
        ("<script>soak</script><textarea>soak</textarea>", {"soak": 1}),
        ("<p>showcase, scored, soak-marked</p>", {}),
    ],
)
def test_a_word_is_marked_where_it_can_be_read_first(before: str, after: dict[str, int]) -> None:
    page = read_page(marked(f"<main>{before}</main>", "/x"))
    assert page.marks == after
    assert page.within == set()


def test_a_word_in_sight_is_marked_before_one_that_is_folded_away() -> None:
    shown = marked("<main><details><p>soak</p></details><p>the soak</p></main>", "/x")
    assert shown.index("</details>") < shown.index("popovertarget")


def test_nothing_of_an_address_gets_into_the_page() -> None:
    assert "<b>" not in marked("<main><p>soak</p></main>", "/<b>").replace("<b>soak</b>", "")


def test_long_pages_are_written_by_hand_and_each_is_there() -> None:
    folder = Path(__file__).parents[2] / "webapp/templates/pages/help"
    assert {file.stem for file in folder.glob("[!_]*.html")} == {topic.key for topic in TOPICS}


def test_a_sentence_lies_at_the_end_of_the_part_of_the_page_that_its_word_stands_in() -> None:
    shown = marked("<main><section><p>A soak.</p></section><p>A core.</p></main>", "/x")
    part, _, rest = shown.partition("</section>")
    assert BY_KEY["soak"].sentence.replace("'", "&#x27;") in part
    assert BY_KEY["core"].sentence in rest
