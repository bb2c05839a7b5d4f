"""Two to four batches side by side: a link to keep, differences by word and shape, charts with tables."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from time import process_time
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.conftest import A_SPRING_DAY
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import text_of
from webapp.services.fitting import newest_summary
from webapp.services.whole_book import load_book
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Batch, Step
from webapp.store.unit_of_work import Actor, write

MOST_SUMS_S = 1.0


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def lines(page: str) -> dict[str, tuple[str, list[str]]]:
    """Return what a page of compared batches says, by line: differs or same, and a text a batch."""
    found = {}
    for row in re.findall(r"<tr[^>]*><th scope=\"row\">.*?</tr>", page, re.DOTALL):
        label, mark = re.search(r'scope="row">(.*?) <span.*?</svg>(\w+)</span>', row, re.DOTALL).groups()  # type: ignore[union-attr]
        found[label] = (mark, re.findall(r"<td[^>]*>(.*?)</td>", row))
    return found


def charts(page: str) -> dict[str, Any]:
    return {
        key: json.loads(payload)
        for key, payload in re.findall(
            r'<script type="application/json" id="([\w-]+)-data">(.*?)</script>', page, re.DOTALL
        )
    }


def test_what_differs_is_told_by_word_and_shape(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        book = {rows.batch.number: rows for rows in load_book(session)}
    page = demo.get("/logbook/compare?b=5&b=6&b=13").text
    told = lines(page)
    for label, names in (
        ("Box", [book[number].box.name for number in (5, 6, 13)]),
        ("Mix", [book[number].mix.name for number in (5, 6, 13)]),
        ("Heat known by", [book[number].heat.name for number in (5, 6, 13)]),
    ):
        assert told[label] == ("differs" if len(set(names)) > 1 else "same", names)
    assert {mark for mark, _ in told.values()} == {"differs", "same"}
    assert page.count('<tr class="differs">') == sum(mark == "differs" for mark, _ in told.values())


def test_a_seal_noted_that_time_counts_and_not_the_usual_one(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        box_in = work.session.exec(select(Step).where(Step.batch_id == 5, Step.kind == "box_in")).one()
        work.change(box_in, settings={**box_in.settings, "seal": "lid only", "fill": "gap"})
    told = lines(demo.get("/logbook/compare?b=5&b=4").text)
    assert told["Closed with"][1][0] == "lid only"
    assert told["Pack"] == ("differs", ["a gap above the part", "filled to the lid"])


def test_their_heat_over_the_hours_is_one_chart_with_a_table(demo: TestClient) -> None:
    page = demo.get("/logbook/compare?b=13&b=15").text
    course = charts(page)["course"]
    assert [line["name"] for line in course["lines"]] == ["Batch 13", "Batch 15"]
    assert [line["dashed"] for line in course["lines"]] == [False, True]
    hottest = [max(value for value in line["y"] if value is not None) for line in course["lines"]]
    assert hottest == pytest.approx([905, 920], abs=25)
    rows = re.findall(r'<tr><td class="number">([\d.]+)</td><td class="number">(\d+|–)</td>', page)
    assert rows[:2] == [("0.0", f"{course['lines'][0]['y'][0]:.0f}"), ("0.5", f"{hottest[0]:.0f}")]


def test_profiles_and_readings_beside_what_the_fit_makes_of_them_come_after_the_page(
    demo: TestClient,
) -> None:
    page = demo.get("/logbook/compare?b=13&b=15").text
    panel = re.search(r'hx-get="(/logbook/compare/worked-out\?b=13&amp;b=15)" hx-trigger="load"', page)
    assert panel is not None
    drawn = charts(demo.get("/logbook/compare/worked-out?b=13&b=15").text)
    assert [line["name"] for line in drawn["carbons"]["lines"]] == ["Batch 13", "Batch 15"]
    for line in drawn["carbons"]["lines"]:
        assert 0.5 < line["y"][0] < 1.4
        assert line["y"][-1] < 0.3
    assert drawn["hardnesses"]["lines"][0]["y"][0] > 500
    with read(store_of(demo)) as session:
        newest = newest_summary(session)
        assert newest is not None
        foretold = {int(row["key"]): row for row in newest.summary["predictions"]}
        depths = sorted(
            (round(reading.value * 1000, 6), round(1000 * foretold[reading.id]["median"], 6))
            for rows in load_book(session)
            if rows.batch.number in (13, 15)
            for own in rows.readings.values()
            for reading in own
            if reading.kind == "depth" and reading.id in foretold
        )
    met = drawn["met-mm"]["points"]
    drawn_depths = sorted(pair for one in met for pair in zip(one["x"], one["y"], strict=True))
    assert len(depths) > 2
    assert np.array(drawn_depths) == pytest.approx(np.array(depths), abs=1e-5)


def test_four_forecasts_take_less_than_a_second(demo: TestClient) -> None:
    started = process_time()
    assert demo.get("/logbook/compare/worked-out?b=12&b=13&b=14&b=15").status_code == 200
    assert process_time() - started < MOST_SUMS_S


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("", "It takes two batches"),
        ("b=3", "It takes two batches"),
        ("b=3&b=3&b=%233", "It takes two batches"),
        ("b=1&b=2&b=3&b=4&b=5", "5 batches are too many"),
        ("b=3&b=9999", "There is no batch “9999”"),
        ("b=3&b=elm", "There is no batch “elm”"),
        ("b=3&b=-1", "There is no batch “-1”"),
        ("b=3&b=" + "9" * 40, "There is no batch “99999999999999999999”"),
        ("b=3&b=%C2%B2", "There is no batch “²”"),
        ("b=3&b=%00%22%3Cb%3E", "There is no batch"),
    ],
)
def test_numbers_that_cannot_be_compared_get_a_plain_word(demo: TestClient, asked: str, says: str) -> None:
    for address in ("/logbook/compare", "/logbook/compare/worked-out"):
        answer = demo.get(f"{address}?{asked}")
        assert answer.status_code == 422
        assert says in text_of(answer.text)


def test_what_was_chosen_stays_when_one_more_is_put_beside(demo: TestClient) -> None:
    page = demo.get("/logbook/compare?b=3").text
    assert '<input type="hidden" name="b" value="3">' in page
    assert demo.get("/logbook/compare?b=3&b=4&b=").status_code == 200


def test_a_batch_in_the_bin_is_not_compared(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        work.remove(work.session.exec(select(Batch).where(Batch.number == 3)).one())
    assert "no batch “3”" in text_of(demo.get("/logbook/compare?b=3&b=4").text)


def test_every_pair_of_the_book_can_be_compared(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        numbers = sorted(rows.batch.number for rows in load_book(session))
    for first in range(0, len(numbers) - 3, 3):
        asked = "&".join(f"b={number}" for number in numbers[first : first + 4])
        assert demo.get(f"/logbook/compare?{asked}").status_code == 200
        assert demo.get(f"/logbook/compare/worked-out?{asked}").status_code == 200
