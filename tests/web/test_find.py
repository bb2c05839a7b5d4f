"""The one search box: any words of the book, in any order, with where they stand."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlmodel import Session, col, select

from tests.conftest import A_SPRING_DAY
from tests.web.fitted_demo import copy_fitted_demo, speaking_to_demo, store_of
from webapp.services.argument_sides import seal_of
from webapp.services.found_things import find_things
from webapp.services.search_words import batches_asked_for
from webapp.services.whole_book import load_book
from webapp.services.word_hits import batches_with, words_of
from webapp.settings import Settings
from webapp.store.engine import open_store, read
from webapp.store.tables import Batch, Box, Event, Item, Photo, Plan, Reading, Reminder, Step
from webapp.store.unit_of_work import Actor, UnitOfWork, write
from webapp.store.word_index import ensure_words


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    """A snapshot of the fitted demo with a few more words in it."""
    folder = tmp_path_factory.mktemp("words")
    copy_fitted_demo(folder)
    with closing(open_store(folder)) as store:
        ensure_words(store)
        with write(store, Actor("test bench"), A_SPRING_DAY) as work:
            scribble(work)
        with read(store) as session:
            yield session


def scribble(work: UnitOfWork) -> None:
    """Put words that the demo lacks where only one field holds each."""
    item = work.session.exec(select(Item).where(Item.batch_id == 3)).first()
    assert item is not None
    reading = work.session.exec(select(Reading).where(Reading.item_id == item.id)).first()
    assert reading is not None
    work.change(item, mark="two dots", note="Die Köpfe (grün) blieben weich", scrapped_why="snapped")
    work.change(reading, note='file "skated" all round', left_out_why="wrong anvil")
    work.add(
        Photo(item_id=item.id, sha256="0" * 64, size_bytes=1, width_px=1, height_px=1, caption="fracture")
    )
    work.change(work.get(Plan, 1), note="for the Åsen loop")
    work.add(
        Reminder(what="Renew the ribbon of the thermocouple", after_days=90, done_on=A_SPRING_DAY.date())
    )
    work.change(work.get(Box, 1), note="lid warps; turn it")


def found(book: Session, typed: str) -> list[int]:
    numbers = {batch.id: batch.number for batch in book.exec(select(Batch))}
    return sorted(numbers[batch_id] for batch_id in batches_with(book, words_of(typed)))


@pytest.mark.parametrize(
    "typed",
    [
        "köpfe",
        "KOPFE",
        "snapp",
        "fractur",
        "grun",
        "two dots",
        "skated",
        "anvil wrong",
        '"file skated"',
        "(grün)",
        "weich!",
    ],
)
def test_a_word_is_found_whatever_field_holds_it_however_it_is_written(book: Session, typed: str) -> None:
    assert found(book, typed) == [3]


@pytest.mark.parametrize(
    ("typed", "batches"),
    [
        ("kated", [3]),  # in the middle of a word, with its end
        ("ÖPF", [3]),
        ("napp otted", []),
        ('"ated all"', []),  # what is quoted stands as it is
        ("at", None),  # two letters are the beginning of a word, or the book is full of them
    ],
)
def test_the_middle_of_a_word_finds_it_too(book: Session, typed: str, batches: list[int] | None) -> None:
    assert found(book, typed) == batches if batches is not None else found(book, typed) != [3]
    coal = found(book, "coal")
    assert coal == found(book, "charcoal") != []


def test_a_reminder_is_found_with_the_way_to_it(book: Session) -> None:
    reminder, *_ = find_things(book, words_of("thermocouple ribbon")).shown
    assert (reminder.kind, reminder.name, reminder.href) == (
        "reminder",
        "Renew the ribbon of the thermocouple",
        "/shop/reminders",
    )


def batches_by_number(book: Session, typed: str) -> set[int]:
    numbers = {batch.id: batch.number for batch in book.exec(select(Batch))}
    return {numbers[batch_id] for batch_id in batches_asked_for(book, typed)}


def test_a_number_with_its_unit_is_found_where_it_would_be_written_so(book: Session) -> None:
    hard = {
        row.number
        for row in book.exec(
            select(Batch)
            .join(Item, col(Item.batch_id) == Batch.id)
            .join(Reading, col(Reading.item_id) == Item.id)
            .where(Reading.unit == "HRC", col(Reading.value).between(62.499, 63.501))
        )
    }
    assert batches_by_number(book, "63 HRC") == batches_by_number(book, "63hrc") == hard != set()
    assert batches_by_number(book, "63.0 HRC") < hard
    thick = {row.batch_id for row in book.exec(select(Item).where(Item.size_m == 0.006))}
    assert batches_asked_for(book, "6 mm") >= thick != frozenset()
    assert batches_asked_for(book, "6 mm") == batches_asked_for(book, "15/64 in")
    hot = {
        row.batch_id for row in book.exec(select(Step).where(col(Step.temperature_K).between(1197.6, 1198.7)))
    }
    assert (
        {one for one in hot if one} <= batches_asked_for(book, "925 C") == batches_asked_for(book, "1697 °F")
    )
    assert batches_asked_for(book, "9999 HRC") == frozenset()


def test_numbers_marks_and_words_are_asked_together(book: Session) -> None:
    assert batches_by_number(book, "6 mm köpfe") == {3}
    assert batches_by_number(book, "6 mm clay corner snapped") == set()


def test_where_a_number_stands_is_said(demo: TestClient) -> None:
    page = demo.get("/logbook?q=63+HRC").text
    assert re.search(
        r'<a href="/items/\d+">hardness of (coupon|part) [A-Z]: <mark>6[23](\.5)? HRC</mark></a>', page
    )


def test_several_words_must_all_be_there_but_not_in_one_place(book: Session) -> None:
    assert found(book, "skated köpfe dots") == [3]
    assert found(book, "skated clay corner") == []
    assert found(book, "clay corner") == [6]


def test_quotes_hold_words_together(book: Session) -> None:
    assert found(book, '"two dots"') == [3]
    assert found(book, '"dots two"') == []


def test_a_number_is_its_batch_and_not_those_that_begin_with_it(book: Session) -> None:
    assert 1 in found(book, "1")
    assert 1 in found(book, "batch #1")
    assert not {10, 11, 12, 13, 14, 15, 16} & set(found(book, "batch 1"))


@given(st.text(max_size=40))
@settings(max_examples=150, deadline=None, derandomize=True)
def test_nothing_that_can_be_typed_is_an_error(book: Session, typed: str) -> None:
    words = words_of(typed)
    assert batches_with(book, words) <= {row.id for row in book.exec(select(Batch))}
    assert find_things(book, words).total >= 0


@pytest.mark.parametrize(
    "typed", ['"', '""', "AND", "NEAR(", "a OR", "col:x", "*", "-pin", "^pin", "\x00", "{", "'; --"]
)
def test_signs_of_the_index_are_plain_words(book: Session, typed: str) -> None:
    batches_with(book, words_of(typed))
    assert found(book, f"clay {typed} corner") in ([6], [])


def test_words_on_their_own_find_nothing_when_there_are_none(book: Session) -> None:
    assert words_of("  - / ") == ()
    assert found(book, "- köpfe /") == [3]


def test_things_of_the_shop_are_found_with_the_way_to_their_page(book: Session) -> None:
    box = find_things(book, words_of("lid warp")).shown[0]
    assert (box.kind, box.href) == ("box", "/shop/boxes/1")
    assert [words.text for words in box.places[0].words if words.is_found] == ["lid", "warps"]
    assert box.places[0].where == "note of the box"
    assert [one.href for one in find_things(book, words_of("asen loop")).shown] == ["/plans/1"]
    steel = find_things(book, words_of("bright 1018")).shown
    assert [one.kind for one in steel] == ["steel"]
    assert steel[0].places[0].where == ""


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def test_a_line_says_where_the_words_stand_and_marks_them(demo: TestClient) -> None:
    page = demo.get("/logbook?q=seal+crack").text
    assert "<li>happened: <mark>seal</mark> <mark>cracked</mark></li>" in page
    assert page.count("<mark>") == 2
    assert re.search(
        r'<a href="/items/\d+">coupon: <mark>Rail</mark> coupon</a>', demo.get("/logbook?q=rail").text
    )


def test_what_stands_in_the_book_is_never_taken_for_markup(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        happened = work.session.exec(select(Event)).first()
        assert happened is not None
        work.change(happened, note="<b>loud</b> bang")
    page = demo.get("/logbook?q=bang").text
    assert "&lt;b&gt;loud&lt;/b&gt; <mark>bang</mark>" in page


def test_every_page_has_the_search_and_the_logbook_has_one_only(demo: TestClient) -> None:
    for address in ("/", "/parts", "/shop", "/forge", "/batches/1"):
        page = demo.get(address).text
        assert page.count('type="search"') == 1, address
        assert 'href="/logbook#q"' in page
    assert demo.get("/logbook").text.count('type="search"') == 1


def test_the_order_is_remembered_on_a_device_and_a_link_with_its_own_wins(demo: TestClient) -> None:
    demo.get("/logbook?sort=oldest")
    assert '<option value="oldest" selected>' in demo.get("/logbook").text
    newest = demo.get("/logbook?sort=newest")
    assert '<option value="newest" selected>' in newest.text
    demo.cookies.set("casewright_order", "up; drop", domain="127.0.0.1")
    assert demo.get("/logbook?q=pin").status_code == 200


def test_batches_are_found_by_how_the_box_was_closed_that_time(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        box_in = work.session.exec(select(Step).where(Step.batch_id == 3, Step.kind == "box_in")).one()
        work.change(box_in, settings={**box_in.settings, "seal": "lid only"})
    with read(store_of(demo)) as session:
        sealed = {rows.batch.number: seal_of(rows) for rows in load_book(session)}
    assert sealed[3] == "lid only"
    for seal in set(sealed.values()):
        lines = demo.get(f"/logbook.csv?seal={seal}&sort=number").text.splitlines()[1:]
        numbers = [int(line.partition(",")[0]) for line in lines]
        assert numbers == [number for number in sorted(sealed) if sealed[number] == seal]
    assert demo.get("/logbook?seal=glue").status_code == 422


def test_batches_with_something_set_aside_are_a_link(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        reading = work.session.exec(select(Reading)).first()
        assert reading is not None
        work.change(reading, left_out_why="wrong anvil")
    page = demo.get("/logbook?aside=1").text
    assert "anvil" not in page
    assert 'name="aside" value="1" checked' in page
    assert page.count('<th scope="row">') >= 1


def test_words_reach_the_table_to_take_along(demo: TestClient) -> None:
    lines = demo.get("/logbook.csv?q=clay+corner").text.splitlines()
    assert [line.partition(",")[0] for line in lines[1:]] == ["6"]


def test_the_logbook_is_searched_without_a_word_in_it(tmp_path: Path) -> None:
    with closing(open_store(tmp_path)) as store:
        from webapp.store.migrate import bring_up_to_date

        bring_up_to_date(store, A_SPRING_DAY)
        ensure_words(store)
        with read(store) as session:
            assert batches_with(session, words_of("pin")) == set()
