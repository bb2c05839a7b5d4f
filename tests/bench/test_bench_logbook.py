"""A logbook of a thousand batches: how long the server takes to list and to filter it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from time import perf_counter

import pytest
from fastapi.testclient import TestClient

from tests.web.fitted_demo import speaking_to, store_of
from tests.web.many_batches import fill
from webapp.settings import Settings

pytestmark = pytest.mark.bench

BATCHES = 1000
LONGEST_ANSWER_S = 0.100
ROUNDS = 15
# The list must cost no more than this many bare reads of every row it rests on: in the same run.
MOST_BARE_READS = 4.0
ASKED = (
    "",
    "?sort=deepest&page=7",
    "?box=1&mix=2&state=measured",
    "?bath=1&bar=1&sort=hardest",
    "?q=gauge+pins+Box",
)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with speaking_to(Settings(data_folder=tmp_path_factory.mktemp("long") / "data")) as speaking:
        fill(store_of(speaking), BATCHES)
        yield speaking


def shortest(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def bare_read_s(client: TestClient) -> float:
    """Return how long plain SQLite takes to read every batch, piece, step and reading."""
    file = store_of(client).file

    def read_all() -> None:
        connection = sqlite3.connect(file)
        for table in ("batch", "item", "step", "reading"):
            assert len(connection.execute(f"SELECT * FROM {table}").fetchall()) >= BATCHES
        connection.close()

    return shortest(read_all)


@pytest.mark.parametrize("asked", ASKED)
def test_a_thousand_batches_are_listed_and_filtered_in_a_tenth_of_a_second(
    client: TestClient, asked: str, record_property: Callable[[str, object], None]
) -> None:
    def ask() -> None:
        answer = client.get(f"/logbook{asked}")
        assert answer.status_code == 200
        assert answer.text.count('<th scope="row">') > 0

    page_s, bare_s = shortest(ask), bare_read_s(client)
    record_property("page_ms", round(1000 * page_s, 1))
    record_property("bare_read_ms", round(1000 * bare_s, 1))
    print(f"\n/logbook{asked}: {1000 * page_s:.0f} ms; a bare read of all rows: {1000 * bare_s:.0f} ms")  # noqa: T201
    assert page_s < LONGEST_ANSWER_S
    assert page_s < MOST_BARE_READS * bare_s
