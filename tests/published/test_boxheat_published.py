"""The warming box against series solutions, handbook values and the trade's rule of thumb."""

from __future__ import annotations

import ht
import numpy as np
import pytest

from model import boxheat
from model.box_fill import (
    COLD_CONDUCTIVITY,
    Bed,
    HeatTable,
    bed_conductivity,
    char_specific_heat_larfeldt_2000,
)
from model.boxheat import EMISSIVITY, box_heat, fire_history
from model.packed_box import SQUARE_AS_CYLINDER, PackedBox
from model.process import History
from model.units import STEFAN_BOLTZMANN

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("form", "share"),
    # time to close 98 % of the gap, over size squared by diffusivity: Carslaw & Jaeger's series
    [("slab", 1.683), ("cylinder", 0.758)],
)
def test_time_to_98_percent_at_the_middle_is_that_of_the_series(
    monkeypatch: pytest.MonkeyPatch, form: str, share: float
) -> None:
    conductivity, capacity, half_m = 0.6, 300.0 * 1600.0, 50e-3
    kelvin = np.linspace(250.0, 1600.0, 10)
    even = HeatTable(kelvin, capacity * (kelvin - 273.15))
    monkeypatch.setattr(boxheat, "bed_heat", lambda _: even)
    monkeypatch.setattr(boxheat, "steel_heat", lambda: even)
    monkeypatch.setattr(boxheat, "bed_conductivity", lambda at, _: np.full(at.shape, conductivity))
    monkeypatch.setattr(boxheat, "steel_conductivity", lambda at: np.full(at.shape, conductivity))
    monkeypatch.setattr(boxheat, "CONVECTION", 1e5)
    box = PackedBox(form, half_m, wall_m=0.5e-3, part_m=2e-3)  # type: ignore[arg-type]  # two forms
    expected_s = share * half_m**2 * capacity / conductivity
    box_heat.cache_clear()
    found = box_heat(box, History.hold(1200.0, 1.5 * expected_s), start_K=300.0, points=600, cells=40)
    box_heat.cache_clear()
    # the wall of 0.5 mm stands for 1 % of the half size, twice that in time
    assert found.time_to(300.0 + 0.98 * 900.0) == pytest.approx(expected_s, rel=0.03)


def test_a_square_bar_warms_as_its_cylinder_by_the_first_roots() -> None:
    # first roots: slab pi/2 each way, cylinder 2.4048
    assert pytest.approx(2.4048 / np.sqrt(2.0) / (np.pi / 2.0), rel=1e-3) == SQUARE_AS_CYLINDER


@pytest.mark.parametrize(
    ("celsius", "joules"), [(20.0, 974.0), (300.0, 1393.0), (600.0, 1723.0), (900.0, 1929.0)]
)
def test_specific_heat_of_char_is_as_tabled(celsius: float, joules: float) -> None:
    # Larfeldt, Leckner & Melaaen 2000, recomputed in the design notes
    found = char_specific_heat_larfeldt_2000(np.array([celsius + 273.15]))[0]
    assert found == pytest.approx(joules, abs=1.5)


@pytest.mark.parametrize(
    ("grain_mm", "kelvin", "expected"), [(1, 873, 0.136), (1, 1173, 0.329), (5, 873, 0.68), (5, 1173, 1.65)]
)
def test_radiation_between_grains_is_damkoehlers(grain_mm: float, kelvin: float, expected: float) -> None:
    found = float(bed_conductivity(np.array([float(kelvin)]), Bed(grain_m=grain_mm * 1e-3))[0])
    assert found - COLD_CONDUCTIVITY == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("celsius", "h"), [(25.0, 122.0), (500.0, 206.0), (900.0, 333.0)])
def test_radiation_to_the_box_agrees_with_a_reference_library(celsius: float, h: float) -> None:
    # design notes: emissivity 0.8, surroundings of 1000 C; ht as referee for the flux
    kelvin, around = celsius + 273.15, 1273.15
    flux = ht.q_rad(0.8, around, kelvin)
    assert flux / (around - kelvin) == pytest.approx(h, abs=1.0)
    assert STEFAN_BOLTZMANN * 0.8 * (around**4 - kelvin**4) == pytest.approx(flux, rel=2e-6)
    assert 0.8 <= EMISSIVITY <= 0.9


@pytest.mark.parametrize("half_mm", [30.0, 40.0])
@pytest.mark.parametrize("grain_mm", [3.0, 6.0])
def test_small_boxes_warm_up_in_the_time_the_trade_allows(half_mm: float, grain_mm: float) -> None:
    # common practice, no source: 30 to 60 minutes for small boxes; the middle must lie between 20 and 90
    box = PackedBox("square", half_mm * 1e-3, bed=Bed(grain_m=grain_mm * 1e-3))
    seconds = box_heat(box, fire_history(1198.15, 1200.0, 4 * 3600.0)).time_to(1188.15)
    assert seconds is not None
    assert 20.0 <= seconds / 60.0 <= 90.0
