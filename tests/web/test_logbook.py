"""The logbook: one list of all batches, narrowed down by links that can be kept, page by page."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event
from sqlmodel import select

from tests.web.fitted_demo import speaking_to, speaking_to_demo, store_of
from tests.web.many_batches import fill
from tests.web.page_forms import begin, text_of
from webapp.services.batch_rows import BatchRows
from webapp.services.fitting import newest_summary
from webapp.services.odd_fires import odd_fires
from webapp.services.whole_book import load_book
from webapp.settings import Settings
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Batch, Bath, Box, Event, Item, Mix
from webapp.store.unit_of_work import Actor, write

PAGE_ROWS = 50


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


@contextmanager
def long_lived(settings: Settings, batches: int) -> Iterator[TestClient]:
    """Give a client of a logbook with very many batches."""
    with speaking_to(settings) as client:
        fill(store_of(client), batches)
        yield client


def numbers(html: str) -> list[int]:
    """Return the batches of a list in the order shown."""
    return [
        int(n) for n in re.findall(r'<a href="/batches/\d+"><span class="quiet">Batch </span>(\d+)</a>', html)
    ]


def listed(client: TestClient, address: str = "/logbook") -> list[int]:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return numbers(answer.text)


def book(client: TestClient) -> list[BatchRows]:
    with read(store_of(client)) as session:
        return load_book(session)


def id_of(client: TestClient, kind: type[Any], name: str) -> int:
    with read(store_of(client)) as session:
        found: int = session.exec(select(kind).where(kind.name == name)).one().id
        return found


def change(client: TestClient, number: int, **fields: Any) -> None:
    store, clock = store_of(client), client.app.state.context.clock  # type: ignore[attr-defined]
    with write(store, Actor("test bench"), clock.now()) as work:
        row = work.session.exec(select(Batch).where(Batch.number == number)).one()
        work.change(row, **fields)


def test_all_batches_stand_there_newest_first(demo: TestClient) -> None:
    days = {rows.batch.number: rows.batch.day for rows in book(demo)}
    shown = listed(demo)
    assert sorted(shown) == sorted(days)
    assert [days[number] for number in shown] == sorted(days.values(), reverse=True)


def test_the_address_of_batches_leads_to_the_one_list_and_keeps_what_was_asked(demo: TestClient) -> None:
    answer = demo.get("/batches?odd=1")
    assert answer.status_code == 307
    assert answer.headers["location"] == "/logbook?odd=1"


def test_a_line_says_state_by_word_and_shape_and_how_it_came_out(demo: TestClient) -> None:
    html = demo.get("/logbook?q=16").text
    assert re.search(r'<span class="tag wait"><svg.*?</svg>to measure</span>', html)
    words = text_of(demo.get("/logbook?q=15").text)
    depths = [
        reading.value * 1000
        for rows in book(demo)
        if rows.batch.number == 15
        for own in rows.readings.values()
        for reading in own
        if reading.kind == "depth"
    ]
    assert f"{min(depths):.2f} to {max(depths):.2f} mm" in words
    assert "3 h 30 min at 920 °C" in words
    assert "Pivot pin × 8, 3 coupons" in words


def quench_baths(rows: BatchRows) -> set[int | None]:
    steps = [*rows.steps, *(step for own in rows.item_steps.values() for step in own)]
    return {step.bath_id for step in steps if step.kind == "quench"}


@pytest.mark.parametrize(
    ("name", "kind", "row", "holds"),
    [
        ("box", Box, "Folded plate box", lambda rows, key: rows.batch.box_id == key),
        ("mix", Mix, "Charcoal with chalk", lambda rows, key: rows.batch.mix_id == key),
        ("bar", Bar, "Black flat S275", lambda rows, key: key in {item.bar_id for item in rows.items}),
        ("bath", Bath, "Brine bucket", lambda rows, key: key in quench_baths(rows)),
    ],
)
def test_a_filter_shows_just_those_it_names(
    demo: TestClient, name: str, kind: type[Any], row: str, holds: Callable[[BatchRows, int], bool]
) -> None:
    key = id_of(demo, kind, row)
    wanted = [rows.batch.number for rows in book(demo) if holds(rows, key)]
    assert 0 < len(wanted) < len(book(demo))
    assert sorted(listed(demo, f"/logbook?{name}={key}")) == wanted


def test_filters_narrow_together(demo: TestClient) -> None:
    box, mix = id_of(demo, Box, "Folded plate box"), id_of(demo, Mix, "Charcoal with chalk")
    wanted = [
        rows.batch.number for rows in book(demo) if rows.batch.box_id == box and rows.batch.mix_id == mix
    ]
    assert len(wanted) > 0
    assert sorted(listed(demo, f"/logbook?box={box}&mix={mix}")) == wanted


def test_the_states_are_links_with_counts_that_heed_the_other_filters(demo: TestClient) -> None:
    change(demo, 6, state="given_up", given_up_why="the seal went")
    assert listed(demo, "/logbook?state=given_up") == [6]
    box = id_of(demo, Box, "Folded plate box")
    of_box = sum(rows.batch.box_id == box for rows in book(demo))
    html = demo.get(f"/logbook?box={box}").text
    whole = rf'href="/logbook\?box={box}" aria-current="true">All <small class="soft">{of_box}<'
    assert re.search(whole, html)
    assert unescape(re.findall(r'href="(/logbook\?[^"]*state=given_up)"', html)[0]).count("box=") == 1


def test_odd_ones_are_those_of_the_newest_fit(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        newest = newest_summary(session)
        assert newest is not None
        odd = odd_fires(newest.summary)
    wanted = [rows.batch.number for rows in book(demo) if rows.batch.fire_id in odd]
    assert 6 in wanted
    assert sorted(listed(demo, "/logbook?odd=1")) == wanted


def test_words_are_found_in_notes_names_marks_and_what_happened(demo: TestClient) -> None:
    assert listed(demo, "/logbook?q=clay+corner") == [6]
    assert listed(demo, "/logbook?q=SEAL") == [6]
    turned = [rows.batch.number for rows in book(demo) if any("turned" in e.kind for e in rows.events)]
    assert listed(demo, "/logbook?q=turned") == turned
    pawls = [
        rows.batch.number for rows in book(demo) if any("pawl" in item.name.lower() for item in rows.items)
    ]
    assert sorted(listed(demo, "/logbook?q=pawl")) == pawls


def test_a_number_finds_its_batch(demo: TestClient) -> None:
    assert 12 in listed(demo, "/logbook?q=12")
    assert 12 in listed(demo, "/logbook?q=%2312")
    assert listed(demo, "/logbook?q=99999999999999999999") == []


@pytest.mark.parametrize("typed", ["%25", "_", "%5C", "'", '"', "%25%25"])
def test_signs_of_the_search_language_are_plain_text(demo: TestClient, typed: str) -> None:
    assert listed(demo, f"/logbook?q={typed}") == []


def test_what_hangs_on_a_removed_piece_or_event_is_not_found(demo: TestClient) -> None:
    store, clock = store_of(demo), demo.app.state.context.clock  # type: ignore[attr-defined]
    with write(store, Actor("test bench"), clock.now()) as work:
        for happened in work.session.exec(select(Event).where(Event.kind == "seal cracked")):
            work.remove(happened)
        for item in work.session.exec(select(Item).where(Item.name == "Rail coupon")):
            work.remove(item)
    assert listed(demo, "/logbook?q=cracked") == []
    assert listed(demo, "/logbook?q=rail+coupon") == []


def test_a_removed_batch_is_not_listed(demo: TestClient) -> None:
    store, clock = store_of(demo), demo.app.state.context.clock  # type: ignore[attr-defined]
    with write(store, Actor("test bench"), clock.now()) as work:
        work.remove(work.session.exec(select(Batch).where(Batch.number == 9)).one())
    assert 9 not in listed(demo)


@pytest.mark.parametrize(
    ("order", "kind", "pick", "is_down"),
    [
        ("deepest", "depth", max, True),
        ("shallowest", "depth", max, False),
        ("hardest", "hardness", max, True),
        ("softest", "hardness", max, False),
    ],
)
def test_it_is_ordered_by_what_was_read_and_the_unread_come_last(
    demo: TestClient, order: str, kind: str, pick: Callable[[list[float]], float], is_down: bool
) -> None:
    best: dict[int, float] = {}
    for rows in book(demo):
        values = [
            reading.value
            for item in rows.items
            if not item.left_out_why
            for reading in rows.readings.get(item.id or 0, [])
            if reading.kind == kind
        ]
        if values:
            best[rows.batch.number] = pick(values)
    shown = listed(demo, f"/logbook?sort={order}")
    read_of = [best[number] for number in shown if number in best]
    assert read_of == sorted(best.values(), reverse=is_down)
    assert not set(shown[len(best) :]) & set(best)


def test_a_long_list_is_turned_page_by_page_and_keeps_its_filters(settings: Settings) -> None:
    with long_lived(settings, 120) as client:
        first = client.get("/logbook?box=1&sort=number").text
        assert "Page 1 of 2" in text_of(first)
        following = unescape(re.findall(r'rel="next" href="([^"]*)"', first)[0])
        both = numbers(first) + listed(client, following)
        assert both == [number for number in range(1, 121) if 1 + number % 2 == 1]
        assert len(numbers(first)) == PAGE_ROWS


def test_a_page_past_the_end_is_the_last_one(settings: Settings) -> None:
    with long_lived(settings, 120) as client:
        assert listed(client, "/logbook?page=900") == listed(client, "/logbook?page=3")
        assert 'rel="next"' not in client.get("/logbook?page=900").text


def test_a_form_that_leaves_filters_empty_asks_for_everything(demo: TestClient) -> None:
    assert listed(demo, "/logbook?q=&box=&mix=&bath=&bar=&state=&sort=") == listed(demo)


@pytest.mark.parametrize("asked", ["box=elm", "state=lost", "page=0", "sort=up", "box=-1", "q=" + "x" * 101])
def test_an_address_that_makes_no_sense_gets_a_plain_answer(demo: TestClient, asked: str) -> None:
    answer = demo.get(f"/logbook?{asked}")
    assert answer.status_code == 422
    assert "this page does not know" in text_of(answer.text)


def test_when_nothing_fits_it_says_so_and_offers_the_way_back(demo: TestClient) -> None:
    page = demo.get("/logbook?q=zzz").text
    assert "No batch fits that" in text_of(page)
    assert '<a class="button go" href="/logbook">' in page


def test_an_empty_logbook_teaches_how_batches_come_into_it(client: TestClient) -> None:
    begin(client)
    words = text_of(client.get("/logbook").text)
    assert "No batch yet" in words
    assert "Write up an old one" in words


def test_what_is_picked_stays_picked(demo: TestClient) -> None:
    box = id_of(demo, Box, "Folded plate box")
    page = demo.get(f"/logbook?box={box}&sort=deepest&odd=1&q=pin").text
    assert f'<option value="{box}" selected>' in page
    assert '<option value="deepest" selected>' in page
    assert 'name="odd" value="1" checked' in page
    assert 'name="q" type="search" value="pin"' in page


def statements(store: Store, ask: Callable[[], object]) -> int:
    """Return how many statements were sent to the database meanwhile."""
    sent: list[str] = []

    def note(*arguments: Any) -> None:
        sent.append(arguments[2])

    event.listen(store.reader, "before_cursor_execute", note)
    ask()
    event.remove(store.reader, "before_cursor_execute", note)
    return len(sent)


@pytest.mark.parametrize("asked", ["", "?q=pin+order&sort=deepest&bath=1&bar=1"])
def test_a_hundred_batches_take_no_more_queries_than_two(settings: Settings, asked: str) -> None:
    counts = []
    for batches in (2, 100):
        own = Settings(data_folder=settings.data_folder / str(batches))
        with long_lived(own, batches) as client:
            counts.append(statements(store_of(client), lambda: listed(client, f"/logbook{asked}")))
    assert counts[0] == counts[1]
    assert counts[0] < 30


def test_a_batch_fits_on_paper_with_lines_to_fill_in_while_it_is_open(demo: TestClient) -> None:
    done, waiting = demo.get("/batches/15/print").text, demo.get("/batches/16/print").text
    assert "Pivot pin × 8" in text_of(done)
    assert "Seen on the way" not in text_of(done)
    assert "Temper: how hot" in text_of(waiting)
    assert "Box out at" not in text_of(waiting)
    assert 'href="/batches/15/print"' in demo.get("/batches/15").text
