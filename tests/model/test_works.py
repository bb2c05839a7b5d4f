"""Which pieces are forecast together: a temper shares the forecast of what it was given after."""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
import pytest

from model.calibration import fit
from model.inputs import LOCAL_INPUTS, links
from model.kept_forecasts import KeptForecasts, done_to
from model.look import look
from model.process import Process, Temper
from model.readings import HardnessReading, Observation
from model.sight import Seen
from model.units import HOUR_s, celsius_to_kelvin
from model.works import Works
from tests.model.invented import InventedShop
from tests.model.logbooks import job
from tests.model.test_emulated import AFTER_TEMPER, Counted, assert_alike


def tempered(process: Process, celsius: float = 180.0) -> Process:
    keys = replace(process.keys, oven="1")
    return replace(process, steps=(*process.steps, Temper(celsius_to_kelvin(celsius), HOUR_s)), keys=keys)


@pytest.mark.property
def test_a_piece_is_forecast_as_it_was_tempered_later() -> None:
    quenched, other_fire = job("1"), job("2")
    works = Works.among([quenched, other_fire, tempered(quenched), tempered(quenched, 200.0)])
    assert works.of == (0, 1, 0, 2)
    assert works.as_row == (2, 1, 2, 3)
    assert works.one_of_each([0, 1, 2]) == [1, 2]
    assert Works.among([quenched, other_fire]).of == (0, 0)


@pytest.mark.property
def test_a_forecast_after_a_temper_holds_the_hardness_as_quenched() -> None:
    process = job("1", medium="oil")
    inputs = links(process).offset + np.zeros((1, 4, len(LOCAL_INPUTS)))
    inputs[:, :, LOCAL_INPUTS.index("oven_offset_K")] = [-10.0, 0.0, 5.0, 20.0]
    (before,), (after,) = look([process], inputs), look([tempered(process)], inputs)
    np.testing.assert_allclose(after.hardness_HV, before.hardness_HV, rtol=1e-12)
    np.testing.assert_allclose(after.carbon_wt, before.carbon_wt, rtol=1e-12)
    assert (after.tempered_HV[:, 0] < before.hardness_HV[:, 0]).all()


@pytest.mark.property
def test_readings_before_and_after_a_temper_cost_the_forecasts_of_one() -> None:
    shop, process = InventedShop(6), job("1")
    told = [
        shop.note(Observation("quenched", process, HardnessReading("HRC", 60.0, "rockwell:1"), "1")),
        shop.note(Observation("tempered", tempered(process), AFTER_TEMPER, "1")),
    ]
    kept = KeptForecasts()
    forecast: set[Process] = set()

    def watched(processes: Sequence[Process], inputs: np.ndarray) -> list[Seen]:
        forecast.update(processes)
        return look(processes, inputs)

    both = fit(told, [], kept=kept, look=watched)
    assert forecast == {done_to(tempered(process))}
    assert_alike(both, fit(told, [], exact=True), 0.15, 0.08)
    assert both.evidence.processes == (process, tempered(process))
    again = Counted()
    fit(told, [], previous=both.belief, kept=kept, look=again)
    assert again.members == 0


@pytest.mark.property
def test_a_process_takes_no_hash_of_this_run_along() -> None:
    process = job("1")
    assert hash(process) == hash(job("1")) != hash(job("2"))
    sent = pickle.loads(pickle.dumps(process))
    assert sent == process
    assert vars(sent).keys() == {field.name for field in fields(Process)}
