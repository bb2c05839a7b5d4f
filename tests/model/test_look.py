"""A look's own steps, cells and depths, against fine ones."""

from __future__ import annotations

import numpy as np
import pytest

from model import look as looks
from model.belief import handbook_belief
from model.process import Process
from model.readings import DepthReading
from model.sight import Seen
from model.thinned import filled_in, thinned
from model.traverse import interpolate_rows
from tests.model.test_emulated import over_the_range

DRAWS = 12
PLACES_m = np.array((0.05e-3, 0.1e-3, 0.25e-3, 0.4e-3, 0.6e-3, 0.9e-3))
BREAK = DepthReading("break", 5e-4)
HARDENED = [one for one in over_the_range(14) if one.steel.name.startswith("10")]


def seen_of(processes: list[Process]) -> list[Seen]:
    belief = handbook_belief()
    return looks.look(processes, np.array([belief.inputs(one, DRAWS, seed=3) for one in processes]))


def test_what_is_kept_of_a_profile_comes_back_and_what_lies_between_is_near() -> None:
    count = np.clip(np.arange(42) - 0.5, 0.0, 40.0)
    profile = 200.0 + 600.0 / (1.0 + np.exp((count - [[8.0], [14.0]]) / 3.0))
    back = filled_in(thinned(profile), 42)
    assert thinned(back) == pytest.approx(thinned(profile), rel=1e-12)
    assert np.abs(back - profile).max() < 2.0
    assert np.abs(np.diff(np.sign(np.diff(back, axis=1)), axis=1)).max() == 0.0


def test_what_is_not_known_of_a_member_stays_unknown_of_it_alone() -> None:
    profile = np.linspace(800.0, 200.0, 42) * np.array([[1.0], [np.nan]])
    back = filled_in(thinned(profile), 42)
    assert np.isfinite(back[0]).all()
    assert np.isnan(back[1]).all()


@pytest.mark.convergence
def test_depths_and_hardness_are_off_by_far_less_than_any_reading_of_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    quick = seen_of(HARDENED)
    monkeypatch.setattr(looks, "CELLS", 200)
    monkeypatch.setattr(looks, "TOLERANCE_wt", 1e-4)
    monkeypatch.setattr(looks, "thinned", lambda at_nodes: at_nodes)
    monkeypatch.setattr(looks, "filled_in", lambda values, _nodes: values)
    fine = seen_of(HARDENED)
    depths = [np.concatenate([BREAK.predicted(one).value[:, 0] for one in seen]) for seen in (quick, fine)]
    # nine of ten: a skin that hardly holds the carbon at which an eye sees a case has no sharp depth
    assert np.quantile(np.abs(np.subtract(*depths)), 0.9) < 0.0025e-3
    hard = [
        np.concatenate([interpolate_rows(PLACES_m, one.depth_m, one.hardness_HV) for one in seen])
        for seen in (quick, fine)
    ]
    assert np.sqrt(np.mean(np.subtract(*hard) ** 2)) < 2.5
