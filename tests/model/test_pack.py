import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model import austenite
from model.energizers import molar_mass, substance_of
from model.errors import NotPossible, OutOfRange
from model.pack import (
    carbon_activity_gustafson_1985,
    carbon_at_activity,
    carbon_monoxide_share,
    carbonate_percent_of,
    cementite_saturation_wt,
    feeding_share,
    graphite_saturation_wt,
    pack_prior,
    safety_stop,
    substances,
)
from model.priors import prior_table
from model.process import PackSupply
from model.steels import Composition, ac1_andrews_1965


@pytest.mark.convergence
def test_four_newton_steps_give_the_activity_back_everywhere_in_range() -> None:
    temperature_K = np.linspace(250.0, 1700.0, 146)[:, None]
    activity = np.geomspace(1e-6, 2.0, 80)[None, :]
    carbon_wt = carbon_at_activity(activity, temperature_K)
    back = carbon_activity_gustafson_1985(carbon_wt, temperature_K)
    assert np.max(np.abs(back / activity - 1.0)) < 1e-12


@pytest.mark.convergence
def test_the_kept_cementite_line_is_the_solved_one_between_its_points() -> None:
    temperature_K = np.linspace(251.3, 1698.7, 1999)
    solved = austenite.cementite_line_gustafson_1985(temperature_K)
    assert np.max(np.abs(cementite_saturation_wt(temperature_K) - solved)) < 1e-5


@given(st.floats(min_value=1000.0, max_value=1430.0), st.floats(min_value=0.01, max_value=1.2))
@pytest.mark.property
def test_carbon_rises_with_activity_and_stays_in_order_with_the_lines(temperature_K, activity) -> None:
    T = np.array([temperature_K])
    here, more = carbon_at_activity(np.array([activity, activity * 1.01]), T)
    assert 0.0 < here < more
    assert graphite_saturation_wt(T)[0] < cementite_saturation_wt(T)[0]
    assert (here < graphite_saturation_wt(T)[0]) == (activity < 1.0)


@given(st.floats(min_value=700.0, max_value=1600.0), st.floats(min_value=0.05, max_value=5.0))
@pytest.mark.property
def test_the_gas_is_richer_when_hotter_and_when_thinner(temperature_K, pressure) -> None:
    T = np.array([temperature_K, temperature_K + 10.0])
    share = carbon_monoxide_share(T, pressure)
    assert 0.0 < share[0] < share[1] < 1.0
    assert carbon_monoxide_share(T, pressure * 0.5)[0] > share[0]


@pytest.mark.parametrize("temperature_K", [100.0, 1900.0, float("nan")])
def test_temperatures_without_meaning_are_refused(temperature_K: float) -> None:
    for function in (graphite_saturation_wt, cementite_saturation_wt):
        with pytest.raises(OutOfRange):
            function(np.array([1200.0, temperature_K]))


def test_an_activity_without_meaning_is_refused() -> None:
    for activity in (0.0, -1.0, 2.5, float("nan")):
        with pytest.raises(OutOfRange):
            carbon_at_activity(np.array([0.8, activity]), np.array([1200.0]))


def test_below_ac1_the_pack_gives_nothing_and_well_above_it_gives_all() -> None:
    steel = Composition(C=0.18, Mn=0.75, Si=0.2)
    ac1_K = ac1_andrews_1965(steel) + 273.15
    share = feeding_share(np.array([300.0, ac1_K - 0.1, ac1_K + 10.0, ac1_K + 20.1, 1200.0]), ac1_K)
    assert share == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])


@pytest.mark.published
@pytest.mark.parametrize(
    ("substance", "percent"),
    [
        ("none", 0.0),
        ("soda ash", 100.0),
        ("washing-soda crystals", 37.04),
        ("baking soda", 63.08),
        ("chalk", 100.0),
        ("shell", 95.0),
    ],
)
def test_a_substance_amounts_to_its_carbonate_by_molar_mass(substance: str, percent: float) -> None:
    """IUPAC atomic weights: 105.99/286.14 and 105.99/168.01; shell 95 % from memory; +-0.01."""
    assert substance_of(substance).carbonate_share * 100.0 == pytest.approx(percent, abs=0.01)
    assert carbonate_percent_of(substance.upper(), 20.0) == pytest.approx(0.2 * percent, abs=0.01)


@pytest.mark.published
def test_molar_masses_are_the_handbooks() -> None:
    """Handbook molar masses of the pure substances (memory); +-0.02 g/mol."""
    masses = {"Na2CO3": 105.99, "NaHCO3": 84.01, "CaCO3": 100.09, "BaCO3": 197.34, "Na2CH20O13": 286.14}
    for formula, mass in masses.items():
        assert molar_mass(formula) == pytest.approx(mass, abs=0.02)


def test_laundry_powder_is_explained_and_refused() -> None:
    for name in ("laundry powder", "Washing powder", "dish detergent"):
        with pytest.raises(NotPossible, match="soap"):
            carbonate_percent_of(name, 10.0)


def test_an_unknown_substance_names_the_known_ones() -> None:
    with pytest.raises(NotPossible, match="soda ash, washing-soda crystals, baking soda, chalk, shell"):
        carbonate_percent_of("moon dust", 10.0)
    for percent in (-1.0, 95.0, float("nan")):
        with pytest.raises(OutOfRange):
            carbonate_percent_of("soda ash", percent)


@pytest.mark.parametrize(
    "name",
    [
        "barium carbonate",
        "Barium",
        "BaCO3",
        "baco\u2083",
        "Ba CO3",
        "witherite",
        "potassium cyanide",
        "NaCN",
        "KCN",
        "yellow prussiate of potash",
        "potassium ferrocyanide",
        "FERRICYANIDE",
        "K4Fe(CN)6",
        "cyaniding salt",
        "Prussian blue",
    ],
)
def test_barium_and_every_cyanide_bring_a_stop(name: str) -> None:
    reason = safety_stop(f"a bit of {name} from the shelf")
    assert reason is not None
    assert reason.startswith("Stop: ")
    with pytest.raises(NotPossible, match="Stop: "):
        carbonate_percent_of(name, 10.0)


@pytest.mark.parametrize(
    "name", [*(s.name for s in substances()), "lump oak", "thick cnc offcuts", "soda in a cyan tin", ""]
)
def test_harmless_names_bring_no_stop(name: str) -> None:
    assert safety_stop(name) is None


@given(st.floats(min_value=0.0, max_value=59.0), st.floats(min_value=0.0, max_value=1.0))
@pytest.mark.property
def test_more_carbonate_and_fresher_pack_never_slow_the_pack(carbonate: float, fresh: float) -> None:
    here = pack_prior(PackSupply("lump", carbonate, fresh))
    more = pack_prior(PackSupply("lump", carbonate + 1.0, fresh))
    new = pack_prior(PackSupply("lump", carbonate, 1.0))
    assert here.transfer_median_m_per_s <= more.transfer_median_m_per_s
    assert here.transfer_median_m_per_s <= new.transfer_median_m_per_s
    assert more.transfer_ln_sd <= here.transfer_ln_sd


def test_the_books_figures_for_a_pack_run_from_plain_to_energised_and_level_off() -> None:
    plain, usual, rich, heavy = (pack_prior(PackSupply("lump", c)) for c in (0.0, 10.0, 20.0, 40.0))
    assert plain.transfer_median_m_per_s == pytest.approx(0.5e-7)
    assert 0.9e-7 < usual.transfer_median_m_per_s < rich.transfer_median_m_per_s < 1.2e-7
    assert heavy.transfer_median_m_per_s / rich.transfer_median_m_per_s < 1.03
    assert plain.transfer_ln_sd == pytest.approx(0.8, abs=0.01)
    assert usual.transfer_ln_sd == pytest.approx(0.65, abs=0.01)
    assert plain.activity_q_mean == prior_table()["activity/shop"].mean
    assert pack_prior(PackSupply("briquettes")).transfer_median_m_per_s < plain.transfer_median_m_per_s


def test_a_pack_that_makes_no_sense_is_refused() -> None:
    with pytest.raises(OutOfRange):
        pack_prior(PackSupply("lump", 61.0))
    with pytest.raises(OutOfRange):
        pack_prior(PackSupply("lump", 5.0, 1.5))
    with pytest.raises(NotPossible, match="briquettes"):
        pack_prior(PackSupply("coal"))
