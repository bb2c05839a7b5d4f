import numpy as np
import pytest
from scipy.special import ndtri

from model.inputs import CARRIED, SHARED, links, record_doubt_K
from model.priors import heat_kind, mix_deviation_prior, nominal_lag_s, prior_for, prior_table
from tests.model.logbooks import job


def band(name: str) -> np.ndarray:
    return prior_table()[name].value(ndtri(np.array([0.05, 0.5, 0.95])))


@pytest.mark.property
def test_every_prior_has_a_source_a_reason_and_a_positive_width() -> None:
    for prior in prior_table().values():
        assert prior.source, prior.name
        assert prior.reason, prior.name
        assert prior.sd > 0.0, prior.name


@pytest.mark.regression
@pytest.mark.parametrize(
    ("name", "low", "middle", "high"),
    [
        ("activity/shop", 0.69, 0.88, 0.98),
        ("temperature_bias/colour", -35.4, 0.0, 35.4),
        ("temperature_bias/thermocouple", -17.4, 0.0, 17.4),
        ("rim_carbon/shop", 0.32, 0.40, 0.48),
        ("retained_austenite_factor/shop", 0.45, 0.80, 1.42),
        ("bath/oil", 0.61, 1.00, 1.63),
        ("bath/water", 0.55, 1.00, 1.81),
        ("bath/air", 0.83, 1.10, 1.455),
        ("grain_number/shop", 6.5, 7.75, 9.0),
        ("pearlite_time/shop", 0.40, 1.00, 2.50),
        ("bainite_time/shop", 0.465, 1.20, 3.10),
        ("film_breakdown/shop", -148.0, 0.0, 148.0),
    ],
)
def test_the_table_holds_the_bands_of_the_recommended_set(
    name: str, low: float, middle: float, high: float
) -> None:
    assert band(name) == pytest.approx([low, middle, high], rel=0.02, abs=0.01)


@pytest.mark.property
def test_every_coordinate_a_process_speaks_of_has_a_prior() -> None:
    for name in links(job()).names():
        if not name.startswith(("fire/", "load/")):
            assert prior_for(name).sd > 0.0
    assert all(name in prior_table() for name in (SHARED | CARRIED).values())


@pytest.mark.property
def test_every_heat_method_has_its_own_spread_and_an_unknown_one_counts_as_colour() -> None:
    for kind in ("colour", "pyrometer", "thermocouple", "cone", "crayon", "magnet"):
        assert heat_kind(f"{kind}:3") == kind
        assert prior_for(f"temperature_bias/{kind}:3").name == f"temperature_bias/{kind}"
    assert heat_kind("") == "colour"
    assert heat_kind("guess") == "colour"


@pytest.mark.property
def test_plain_charcoal_is_less_certain_than_an_energized_mix() -> None:
    assert mix_deviation_prior(0.0).sd > mix_deviation_prior(10.0).sd


@pytest.mark.regression
def test_the_nominal_lag_grows_with_the_box_and_an_unknown_box_is_a_usual_one() -> None:
    hours = [nominal_lag_s(size_m) / 3600.0 for size_m in (0.06, 0.10, 0.15)]
    assert hours == pytest.approx([0.48, 0.88, 1.67], abs=0.01)
    assert nominal_lag_s(0.0) == nominal_lag_s(0.10)


@pytest.mark.published
def test_ten_percent_of_the_time_shifts_the_depth_as_eight_kelvin_do() -> None:
    # Harris 1943 (from memory): depth = 802.6 exp(-8571/T) sqrt(t); exact but for curvature, hence 0.5 %
    kelvin, doubt = 1198.15, record_doubt_K(1198.15, 4 * 3600.0, soak_sd_s=0.4 * 3600.0)
    hotter = np.exp(-8571.0 / (kelvin + doubt) + 8571.0 / kelvin)
    assert hotter == pytest.approx(1.1**0.5, rel=0.005)
    assert record_doubt_K(kelvin, 3600.0, temperature_sd_K=20.0) == pytest.approx(20.0)
