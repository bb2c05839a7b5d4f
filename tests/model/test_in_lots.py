"""A long logbook is worked some at a time: what passes stays small beside what comes out."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from model.evidence import LOCAL, Evidence
from model.inputs import LOCAL_INPUTS
from model.look import look
from model.reading_rows import ReadingRows
from model.readings import DepthReading
from model.sketch import SKETCHED, Sketches
from tests.model.logbooks import depth, job


def passing(work: Callable[[], object], kept_bytes: int) -> float:
    """Return the most memory that some work takes beside what it returns, over that."""
    tracemalloc.start()
    try:
        found = work()
        return tracemalloc.get_traced_memory()[1] / kept_bytes - 1.0
    finally:
        tracemalloc.stop()
        del found


def test_many_readings_are_judged_some_at_a_time() -> None:
    rows = ReadingRows([DepthReading("break", 5e-4)] * 20_000)
    value = np.full((20_000, 16), 4e-4)
    alone, judged = (
        ReadingRows(rows.readings[:1]).likelihood(value[:1], value[:1]),
        rows.likelihood(value, value),
    )
    assert np.array_equal(judged.log, np.repeat(alone.log, 20_000, axis=0))
    assert passing(lambda: rows.likelihood(value, value), 3 * value.nbytes) < 0.5


def test_many_pieces_are_sketched_some_at_a_time() -> None:
    piece = job()
    sketches = Sketches([replace(piece, steps=piece.steps[:1])] * 4800)
    inputs, rows = np.zeros((4800, 48, len(LOCAL_INPUTS))), np.arange(4800)
    inputs[:, :, LOCAL_INPUTS.index("temperature_K")] = np.linspace(-20.0, 20.0, 48)
    each = np.concatenate([sketches.of(rows[some : some + 1], inputs[:1]) for some in (0, 4799)])
    assert np.array_equal(sketches.of(rows, inputs)[[0, -1]], each)
    assert passing(lambda: sketches.of(rows, inputs), 4800 * 48 * SKETCHED * 8) < 1.0


def test_alike_readings_share_how_they_hang_on_the_coordinates() -> None:
    told = [depth(f"{fire}", job(f"f{fire}"), 0.8) for fire in range(6)]
    evidence = Evidence(told, [], look)
    assert evidence.blocks.shape[0] == 1
    coordinates = np.random.default_rng(2).standard_normal(len(evidence.names))
    local = np.array([evidence.blocks[0] @ coordinates[columns] for columns in evidence.columns])
    assert local.shape == (6, LOCAL)
    np.testing.assert_allclose(evidence.local(coordinates), local, rtol=1e-12)
