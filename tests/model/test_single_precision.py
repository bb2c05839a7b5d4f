"""What is worked in single precision against the same in double."""

from __future__ import annotations

import numpy as np
import pytest

from model import look as looks
from model.belief import handbook_belief
from model.progress_integral import brake_place, share_after, share_and_braked, share_gone_on
from model.sight import signed_depth
from model.steels import steel_of_grade
from model.transformation import Products, transform
from tests.model.test_emulated import over_the_range

WORKS = list(over_the_range(8))


@pytest.mark.convergence
@pytest.mark.parametrize("draws", [5, 40])  # one after the other in a row, and side by side
def test_carbon_in_single_precision_lies_within_nanometres(
    monkeypatch: pytest.MonkeyPatch, draws: int
) -> None:
    belief = handbook_belief()
    inputs = np.array([belief.inputs(one, draws, seed=3) for one in WORKS])
    single = looks.look(WORKS, inputs)
    monkeypatch.setattr(looks, "PRECISION", np.dtype(np.float64))
    double = looks.look(WORKS, inputs)
    for one, other in zip(single, double, strict=True):
        assert one.carbon_wt.dtype == one.hardness_HV.dtype == np.float64
        assert one.carbon_wt == pytest.approx(other.carbon_wt, abs=3e-5)
        assert one.hardness_HV == pytest.approx(other.hardness_HV, abs=0.1)
        depths_m = [signed_depth(seen.depth_m, seen.carbon_wt, 0.35) for seen in (one, other)]
        assert depths_m[0] == pytest.approx(depths_m[1], abs=0.1e-6)


def formed(precision: type[np.floating]) -> Products:
    """Return what forms of cases and cores that cool at many paces."""
    steel = steel_of_grade("8620").composition
    carbon_wt = np.linspace(0.2, 1.1, 12) * np.ones((60, 1))
    seconds = np.geomspace(1.0, 3000.0, 60)[:, None] * np.linspace(0.0, 1.0, 64)
    kelvin = np.linspace(1150.0, 350.0, 64)[None, :, None] * np.ones((60, 1, 12))
    return transform(carbon_wt, steel, 8.0, seconds, kelvin.astype(precision))


@pytest.mark.property
def test_shares_and_their_warmth_in_single_precision_are_those_in_double() -> None:
    single, double = (formed(precision) for precision in (np.float32, np.float64))
    for name in ("ferrite", "pearlite", "bainite", "left", "carbon_left_wt"):
        assert getattr(single, name) == pytest.approx(getattr(double, name), abs=1e-5), name
    for name in ("ferrite", "pearlite", "bainite"):
        there = getattr(double, name) > 1e-4
        single_K, double_K = (getattr(each, f"{name}_K")[there] for each in (single, double))
        assert np.isfinite(single_K).all()
        assert single_K == pytest.approx(double_K, abs=0.05), name
    assert double.pearlite.max() > 0.5
    assert double.bainite.max() > 0.2


@pytest.mark.property
@pytest.mark.parametrize("strength", [0.0, 3.0, 8.0])
@pytest.mark.parametrize("precision", [np.float32, np.float64])
def test_bainite_goes_on_from_where_pearlite_ended(precision: type[np.floating], strength: float) -> None:
    brake = brake_place(np.full(40, strength))
    plain = np.repeat(np.linspace(0.0, 1.4, 20), 2)[None].astype(precision)
    more = np.tile([0.0, 0.3], 20)[None].astype(precision)
    both, before = share_gone_on(plain, more, plain[0], brake)
    (ended,), braked = share_and_braked(plain, brake)
    assert both.dtype == before.dtype == precision
    assert before[0] == pytest.approx(ended, abs=1e-6)
    assert both[0, 0::2] == pytest.approx(ended[0::2], abs=1e-6)
    assert both[0, 1::2] == pytest.approx(share_after(braked + 0.3, brake)[1::2], abs=1e-3)
    assert (both[0, 1::2] >= ended[1::2]).all()
