"""A sketch bends as a forecast does: near enough for a surface to learn the rest of few forecasts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from model.belief import ShopBelief, constants_of
from model.conversion import rockwell_c_continued
from model.cooling_sketch import PLACES_M
from model.hardening import harden_quickly
from model.inputs import LOCAL_INPUTS
from model.look import look
from model.members import Members
from model.process import Process
from model.readings import DepthReading
from model.sketch import Sketches
from tests.model.logbooks import job

Array = NDArray[np.float64]

DRAWS = 64
CARBON_WT = np.array([0.85, 0.75, 0.55, 0.35])
PIECES = [
    pytest.param(job(medium=medium, size_m=size_m, reheated=reheated), id=f"{medium}, {1e3 * size_m:g} mm")
    for medium, size_m, reheated in (
        ("oil", 0.010, False),
        ("oil", 0.016, True),
        ("water", 0.012, False),
        ("brine", 0.016, True),
    )
]


def at(inputs: Array) -> dict[str, Array]:
    return dict(zip(LOCAL_INPUTS, inputs.T[:, None], strict=True))


@pytest.mark.parametrize("piece", PIECES)
def test_hardness_is_sketched_much_as_a_forecast_has_it_of_the_same_carbon(piece: Process) -> None:
    inputs = ShopBelief().inputs(piece, DRAWS)
    carbon_wt = np.tile(CARBON_WT, (DRAWS, 1))
    members = Members.of([piece], [constants_of(piece, inputs)])
    true_HRC = rockwell_c_continued(harden_quickly(members, PLACES_M[None], carbon_wt).as_quenched_HV)
    rows = np.zeros(1, dtype=np.intp)
    sketched_HRC = Sketches([piece]).hardness.of(rows, at(inputs), carbon_wt.T[None])[0].T
    off_HRC = sketched_HRC - true_HRC
    assert np.abs(off_HRC.mean(axis=0)).max() < 1.5
    assert (off_HRC.std(axis=0) < 0.5 * true_HRC.std(axis=0)).all()


@pytest.mark.parametrize("piece", PIECES)
def test_the_depth_is_sketched_in_step_with_what_a_forecast_sees(piece: Process) -> None:
    inputs = ShopBelief().inputs(piece, DRAWS)
    (seen,) = look([piece], inputs[None])
    true_m = DepthReading("break", 5e-4).predicted(seen).value[:, 0]
    sketched_m = Sketches([piece]).of(np.zeros(1, dtype=np.intp), inputs[None])[0, :, 0]
    assert np.ptp(true_m) > 0.3e-3
    assert np.corrcoef(sketched_m, true_m)[0, 1] > 0.95


def test_the_sketched_depth_is_where_the_sketched_carbon_is_the_limit() -> None:
    piece = job()
    inputs = np.repeat(ShopBelief().inputs(piece, 1), 5, axis=0)
    sketches, rows = Sketches([piece]), np.zeros(1, dtype=np.intp)
    fed = sketches.fed(rows, at(inputs))
    wanted_m = np.array([0.05e-3, 0.2e-3, 0.5e-3, 0.8e-3, 1.2e-3])
    carbon_wt = fed.base_wt + fed.rise_wt * fed.share(wanted_m[:, None])[0].diagonal()
    assert fed.depth_m(carbon_wt)[0] == pytest.approx(wanted_m, abs=0.01e-3)
    # carbon that the skin never has lies outside it, the further the more of it
    outside_m = fed.depth_m(fed.base_wt + fed.rise_wt * np.array([0.96, 1.0, 1.1, 1.3, 2.0]))[0]
    assert outside_m[0] < 0.0
    assert (np.diff(outside_m) < 0.0).all()


def test_a_piece_that_was_not_quenched_has_a_sketch_of_its_depth_alone() -> None:
    piece = job()
    bare = replace(piece, steps=piece.steps[:1])
    inputs = ShopBelief().inputs(piece, 3)
    sketch = Sketches([bare, piece]).of(np.arange(2), np.stack([inputs, inputs]))
    assert (sketch[0, :, 1:] == 0.0).all()
    assert (sketch[1, :, 1:] != 0.0).all()
    assert np.array_equal(sketch[0, :, 0], sketch[1, :, 0])
    assert np.isfinite(sketch).all()
