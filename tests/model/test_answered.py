"""What a kind of reading is said not to hang on, it does not."""

from __future__ import annotations

import numpy as np
import pytest

from model.answered import answered_by
from model.depth_readings import NoHardSkin
from model.inputs import FITTED_INPUTS, LOCAL_INPUTS, links
from model.look import look
from model.readings import DepthReading
from tests.model.test_emulated import AFTER_TEMPER, READINGS, over_the_range

MOVED = np.array([8.0, 0.3, 0.3, 0.2, 0.5, 0.03, 0.3, 8.0, 0.3, 0.3, 20.0, 0.8, 0.4, 0.4, 2e4, 40.0])


@pytest.mark.property
@pytest.mark.parametrize(
    "reading", [*READINGS, AFTER_TEMPER, DepthReading("etch", 5e-4), NoHardSkin()], ids=repr
)
def test_a_reading_answers_only_what_it_is_said_to(reading: object) -> None:
    process = next(one for one in over_the_range(6) if len(one.steps) > 3)
    inputs = np.repeat(links(process).offset[None, None], 1 + FITTED_INPUTS, axis=1)
    inputs[0, 1:, :FITTED_INPUTS] += np.diag(MOVED)
    (seen,) = look([process], inputs)
    value = reading.predicted(seen).value  # type: ignore[attr-defined]  # any kind of reading
    answers = np.abs(value[1:] - value[:1]).max(axis=1) > 1e-9 * np.abs(value).max()
    silent = ~answered_by(reading)  # type: ignore[arg-type]
    assert silent.any()
    assert not (answers & silent).any(), np.array(LOCAL_INPUTS[:FITTED_INPUTS])[answers & silent]
