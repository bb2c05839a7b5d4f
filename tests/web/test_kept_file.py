"""Forecasts kept beside the logbook: what comes back is what was kept, and no bad file does any harm."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from model.calibration import fit
from model.cooling_sketch import COLUMNS, KEPT_SKETCHES, TERMS
from model.kept_coolings import KEPT_TABLES
from model.kept_forecasts import KeptForecasts
from model.process import Process
from model.sight import Seen
from tests.model.logbooks import logbook
from tests.model.test_calibration_referee import QuickShop, quick_look
from webapp.services import fit_job, kept_file
from webapp.services.kept_file import KEPT_FILE, keep_in_file, take_from_file

OBSERVATIONS = logbook(QuickShop(7), 2)


@pytest.fixture(scope="module")
def kept() -> KeptForecasts:
    made = KeptForecasts()
    fit(OBSERVATIONS, [], look=quick_look, kept=made)
    return made


@pytest.fixture
def file(kept: KeptForecasts, tmp_path: Path) -> Path:
    keep_in_file(kept, tmp_path / KEPT_FILE)
    return tmp_path / KEPT_FILE


def taken(file: Path) -> KeptForecasts:
    found = KeptForecasts()
    take_from_file(found, file)
    return found


def test_what_was_kept_comes_back_as_it_was_and_in_its_order(kept: KeptForecasts, file: Path) -> None:
    before, after = (list(one.forecasts.newest_first()) for one in (kept, taken(file)))
    assert [mark for mark, _ in after] == [mark for mark, _ in before]
    for (_, old), (_, new) in zip(before, after, strict=True):
        assert np.array_equal(new.inputs, old.inputs)
        assert list(new.values) == list(old.values)
        assert all(np.array_equal(new.values[kind], old.values[kind]) for kind in old.values)
    assert [path.name for path in file.parent.iterdir()] == [KEPT_FILE]


def test_a_fit_by_a_file_asks_for_few_forecasts_and_finds_the_same(file: Path) -> None:
    asked = 0

    def counting(processes: list[Process], inputs: np.ndarray) -> list[Seen]:
        nonlocal asked
        asked += inputs.shape[0] * inputs.shape[1]
        return quick_look(processes, inputs)

    first = fit(OBSERVATIONS, [], look=counting, kept=KeptForecasts()).belief
    of_first, asked = asked, 0
    again = fit(OBSERVATIONS, [], previous=first, look=counting, kept=taken(file)).belief
    assert asked < of_first / 3
    assert again.mean == pytest.approx(first.mean, abs=0.05)


def test_a_start_by_a_file_makes_no_cooling_table_anew(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = KEPT_SKETCHES.kept()
    KEPT_SKETCHES.forget()
    monkeypatch.setattr(KEPT_TABLES, "of", lambda *_: pytest.fail("a table is made"))
    taken(file)
    after = KEPT_SKETCHES.of([one for one, _ in before])
    assert len(before) > 1
    assert all(np.array_equal(after[one], sketch) for one, sketch in before)


def spoilt(part: str, value: object) -> Callable[[Path], object]:
    def spoil(file: Path) -> object:
        with np.load(file) as stored:
            arrays = dict(stored)
        index = json.loads(arrays["index"].tobytes())
        index[part] = value
        return np.savez(file, **arrays | {"index": np.frombuffer(json.dumps(index).encode(), dtype=np.uint8)})

    return spoil


def other_sketches(sketches: np.ndarray) -> Callable[[Path], object]:
    def spoil(file: Path) -> object:
        with np.load(file) as stored:
            arrays = dict(stored)
        return np.savez(file, **arrays | {"sketches": sketches})

    return spoil


@pytest.mark.parametrize(
    "spoil",
    [
        lambda file: file.unlink(),
        lambda file: file.write_bytes(b""),
        lambda file: file.write_bytes(b"not ours"),
        lambda file: file.write_bytes(file.read_bytes()[:-400]),
        lambda file: file.write_bytes(file.read_bytes().replace(b"works", b"worms")),
        lambda file: np.savez(file, index=np.array([{"works": []}], dtype=object), numbers=np.zeros(1)),
        lambda file: np.savez(file, others=np.zeros(3)),
        lambda file: np.save(file.with_suffix(".npy"), np.zeros(3)) or file.with_suffix(".npy").replace(file),
        spoilt("model", "of before"),
        spoilt("works", [["mark", 3, [["kind", 2]]]]),
        spoilt("works", {"a": 1}),
        spoilt("works", 7),
        spoilt("coolings", ["mark"]),
        spoilt("coolings", 3),
        other_sketches(np.zeros((2, 3), dtype=np.float32)),
        other_sketches(np.full((3, COLUMNS, TERMS), np.nan, dtype=np.float32)),
    ],
)
def test_a_file_that_is_broken_foreign_or_of_another_model_is_as_none(
    file: Path, spoil: Callable[[Path], object]
) -> None:
    spoil(file)
    assert taken(file).made() == 0


def test_what_was_not_asked_for_longest_is_left_out_of_a_full_file_and_a_folder_may_refuse_it(
    kept: KeptForecasts, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = next(kept.forecasts.newest_first())[0]
    monkeypatch.setattr(kept_file, "MOST_NUMBERS", 3000)
    keep_in_file(kept, file)
    left = [mark for mark, _ in taken(file).forecasts.newest_first()]
    assert left[0] == first
    assert len(left) < len(list(kept.forecasts.newest_first()))
    keep_in_file(kept, file.parent / "no such folder" / KEPT_FILE)
    assert taken(file.parent / "no such folder" / KEPT_FILE).made() == 0


def test_the_worker_reads_the_file_once_and_writes_it_when_it_made_more(
    kept: KeptForecasts, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = KeptForecasts()
    monkeypatch.setattr(fit_job, "_KEPT", own)
    monkeypatch.setattr(fit_job, "run_fit", lambda *_: own.made())
    written = file.stat().st_mtime_ns
    assert fit_job.fit_again([], [], None, file=file) == kept.made()  # type: ignore[comparison-overlap]
    assert file.stat().st_mtime_ns == written
    mark, one = next(own.forecasts.newest_first())
    monkeypatch.setattr(fit_job, "run_fit", lambda *_: own.forecasts.put(mark, one.with_more(one)))
    fit_job.fit_again([], [], None, file=file)
    assert taken(file).made() == own.made() > kept.made()
