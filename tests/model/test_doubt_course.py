"""How the doubt narrowed: the first fires alone, from the sums of the whole fit."""

from __future__ import annotations

import numpy as np
import pytest

from model.belief import ShopBelief
from model.calibration import FitResult, fit
from model.doubt_course import standard_job_course
from model.learnt import parameter_rows, standard_job, standard_job_ratio
from tests.model.invented import InventedShop
from tests.model.logbooks import job, logbook

FIRES = 9


@pytest.fixture(scope="module")
def fitted() -> FitResult:
    return fit(logbook(InventedShop(11), FIRES), [])


@pytest.mark.property
def test_the_last_moment_is_the_fit_itself(fitted: FitResult) -> None:
    last = fitted.course[-1]
    assert (last.fires, last.coupons) == (FIRES, FIRES)
    place = [fitted.belief.names.index(name) for name in last.belief.names]
    sd = np.sqrt(fitted.belief.covariance.diagonal)[place]
    assert np.sqrt(last.belief.covariance.diagonal) == pytest.approx(sd, rel=1e-6)
    # the mean differs by what was left to do when the fit came to rest
    assert np.abs(last.belief.mean - fitted.belief.mean[place]).max() < 0.1
    assert not any(name.startswith(("fire/", "load/")) for name in last.belief.names)


@pytest.mark.property
def test_the_doubt_of_what_lasts_never_grows_as_fires_come_in(fitted: FitResult) -> None:
    sds = np.array([np.sqrt(moment.belief.covariance.diagonal) for moment in fitted.course])
    assert np.all(np.diff(sds, axis=0) <= 1e-9)
    counts = [moment.fires for moment in fitted.course]
    assert counts == sorted(set(counts))
    assert counts[0] == 1


@pytest.mark.property
def test_the_first_fire_alone_is_close_to_a_fit_of_the_first_fire(fitted: FitResult) -> None:
    first = fit(logbook(InventedShop(11), 1), []).belief
    lasting = fitted.course[0].belief.names
    names = [name for name in first.names if name in lasting]
    ours, own = _sds(fitted.course[0].belief, names), _sds(first, names)
    # linear about what all fires together say, so near and not equal
    assert np.abs(ours - own).max() < 0.25


def _sds(belief: ShopBelief, names: list[str]) -> np.ndarray:
    at = [belief.names.index(name) for name in names]
    return np.sqrt(belief.covariance.diagonal[at])


@pytest.mark.property
def test_the_standard_job_narrows_from_the_books_to_the_fit(fitted: FitResult) -> None:
    process = standard_job(job().keys)
    bands = standard_job_course(fitted.course, process)
    assert len(bands) == len(fitted.course) + 1
    widths = [band.high - band.low for band in bands]
    assert widths[-1] < 0.7 * widths[0]
    assert bands[0].median == pytest.approx(1.0)
    whole = standard_job_ratio(fitted.belief, process)
    assert bands[-1].median == pytest.approx(whole.median, abs=0.05)
    assert widths[-1] == pytest.approx(whole.high - whole.low, rel=0.25)


@pytest.mark.property
def test_an_empty_logbook_has_no_course_and_rows_name_the_coupons_that_taught_them(fitted: FitResult) -> None:
    assert fit([], []).course == ()
    rows = parameter_rows(logbook(InventedShop(11), FIRES), fitted.belief)
    assert all(len(row.by) == row.coupons for row in rows)
    assert {key for row in rows for key in row.by} == {str(fire) for fire in range(FIRES)}
