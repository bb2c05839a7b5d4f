"""The most memory that a fit holds: of a book from nothing, and in the real worker at a logbook."""

from __future__ import annotations

import multiprocessing
import pickle
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.bench.growth import measure
from tests.bench.peak import STATUS
from tests.web.big_book import BIG, SMALL, BigBook, copy_big_book
from webapp.fit_keeper import FIT, LOOK
from webapp.worker_process import WorkerProcess

pytestmark = [
    pytest.mark.bench,
    pytest.mark.skipif(not STATUS.exists(), reason="how much a process has held is told by Linux"),
]

MOST_MB = 400.0
WORKER_MOST_MB = 500.0  # the aim is 400; fires of that book share 341 coordinates


@pytest.mark.parametrize(
    ("batches", "most_MB"), [(60, 180.0), pytest.param(1000, MOST_MB, marks=pytest.mark.long)]
)
def test_a_book_is_fitted_from_nothing_in_little_memory(batches: int, most_MB: float) -> None:
    with multiprocessing.get_context("spawn").Pool(1) as own:
        held_MB = own.apply(measure, (batches,)).peak_MB
    print(f"\n{batches} batches: {held_MB:.0f} MB at most")  # noqa: T201
    assert held_MB < most_MB


@pytest.mark.parametrize(
    ("book", "most_MB"), [(SMALL, 200.0), pytest.param(BIG, WORKER_MOST_MB, marks=pytest.mark.long)]
)
def test_the_worker_fits_a_logbook_in_little_memory(tmp_path: Path, book: BigBook, most_MB: float) -> None:
    held_MB = held_by_worker(tmp_path / "data", book)
    print(f"\n{book}: the worker held {held_MB:.0f} MB at most")  # noqa: T201
    assert held_MB < most_MB


def held_by_worker(folder: Path, book: BigBook) -> float:
    """Have a worker look for news and fit a book from nothing, and return the most that it held [MB]."""
    copy_big_book(folder, book)
    worker = WorkerProcess()
    try:
        news = asked(worker, LOOK, folder, book.now)
        assert news.asks_for_a_fit
        made = asked(worker, FIT, folder, book.now, news.fingerprint, False)
        assert made.reading_ids != "[]"
        return float(asked(worker, "tests.bench.peak:peak_MB"))
    finally:
        worker.put_away()
        shutil.rmtree(folder)


def asked(worker: WorkerProcess, function: str, *arguments: object) -> Any:
    """Have a worker do a job, and return what comes out of it."""
    worker.tell(pickle.dumps((1, function, arguments)))
    word, outcome = worker.answer()
    assert word == "done", outcome
    return outcome
