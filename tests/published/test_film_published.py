"""Vapour film and boiling of water against published physics; each source stands beside its check."""

from __future__ import annotations

import numpy as np
import pytest

from model.baths import BathKind, Baths
from model.tables import read_table

WATER_C = 273.15


@pytest.mark.published
def test_boiling_at_its_fullest_is_zuber_s() -> None:
    # Zuber 1958 with his constant pi/24 = 0.131, water at 1 atm (steam tables); `ht` as referee
    ht = pytest.importorskip("ht")
    water = next(row for row in read_table("quench_media.csv") if row["medium"] == "water")
    limit = ht.Zuber(sigma=0.0589, Hvap=2.257e6, rhol=958.0, rhog=0.598, K=0.131)
    assert float(water["peak_MW"]) * 1e6 == pytest.approx(limit, rel=0.03)
    # Ivey & Morris 1962, from memory: 0.1 (rho_l / rho_g)^0.75 c / h_fg more per K of subcooling
    assert float(water["peak_per_K"]) == pytest.approx(
        0.1 * (958.0 / 0.598) ** 0.75 * 4217.0 / 2.257e6, rel=0.01
    )


@pytest.mark.published
@pytest.mark.parametrize(
    ("bath_C", "breakdown_C"), [(20.0, 841.0), (40.0, 681.0), (60.0, 521.0), (95.0, 241.0)]
)
def test_the_film_breaks_down_as_dhir_and_purohit_found(bath_C: float, breakdown_C: float) -> None:
    # Dhir & Purohit 1978, from memory: 201 + 8 (boiling point - bath) [C]; recomputed, so it tests the code
    baths = Baths.of([BathKind("water", WATER_C + bath_C, "still", scaled=False)], np.ones(1))
    assert baths.collapse_K(baths.bath_K) - 273.15 == pytest.approx([breakdown_C], abs=0.5)


# Steam at the film's own temperature, 1 atm, by powers of temperature on handbook tables; value from memory.
STEAM_REFERENCE_K = 373.15
WATER_KG_PER_M3, LATENT_J_PER_KG, TENSION_N_PER_M = 958.0, 2.257e6, 0.0589


def film_breen_westwater_1962(size_m: float, surface_C: float) -> float:
    """Return the film of steam on a lying rod in water at its boiling point, radiation included [W/m2K]."""
    mean, excess_K = 0.5 * (surface_C + 100.0) + WATER_C, surface_C - 100.0
    conductivity = 0.0246 * (mean / STEAM_REFERENCE_K) ** 1.15
    viscosity = 1.23e-5 * (mean / STEAM_REFERENCE_K) ** 1.05
    density = 0.598 * STEAM_REFERENCE_K / mean
    latent = LATENT_J_PER_KG + 0.4 * 2000.0 * excess_K
    wave_m = 2.0 * np.pi * np.sqrt(TENSION_N_PER_M / (9.81 * WATER_KG_PER_M3))
    group = conductivity**3 * density * WATER_KG_PER_M3 * 9.81 * latent / (viscosity * excess_K)
    radiated = 0.8 * 5.67e-8 * ((surface_C + WATER_C) ** 4 - STEAM_REFERENCE_K**4) / excess_K
    through = (0.59 + 0.069 * wave_m / size_m) * (group / wave_m) ** 0.25
    return float(through + 0.75 * radiated)


@pytest.mark.published
@pytest.mark.parametrize("size_mm", [4.0, 6.0, 12.5, 25.0, 100.0])
def test_the_film_is_that_of_breen_and_westwater_on_rods_of_any_size(size_mm: float) -> None:
    # from memory; the table's one number stands for 500 to 800 C, and radiation does not grow on thin rods
    baths = Baths.of([BathKind("water", WATER_C + 100.0, "still")], np.ones(1))
    ours = baths.film(baths.bath_K, size_mm * 1e-3)
    published = [film_breen_westwater_1962(size_mm * 1e-3, surface_C) for surface_C in (500.0, 650.0, 800.0)]
    assert 0.9 * min(published) < ours < 1.1 * max(published)


@pytest.mark.published
def test_what_a_cold_bath_takes_through_the_film_lies_between_a_face_that_stands_and_one_that_moves() -> None:
    # per K of subcooling, on a 12.5 mm rod at 650 C: water's free convection at a face that stands
    # (Churchill & Chu 1975), and at one that moves with the steam at 0.2 m/s (potential flow,
    # 2 sqrt(Pe / pi)); water at 60 C, steam tables, memory. Both less what the film's 220 W/m2K loses, as it
    # acts above 100 C only.
    viscosity, diffusivity, conductivity, expansion = 4.75e-7, 1.58e-7, 0.654, 5.23e-4
    rayleigh = 9.81 * expansion * 80.0 * 0.0125**3 / (viscosity * diffusivity)
    prandtl = (1.0 + (0.559 * diffusivity / viscosity) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    stands = (0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / prandtl) ** 2 * conductivity / 0.0125
    moves = 2.0 * np.sqrt(0.2 * 0.0125 / diffusivity / np.pi) * conductivity / 0.0125
    least, most = ((transfer - 220.0) / (650.0 - 20.0) for transfer in (stands, moves))
    water = next(row for row in read_table("quench_media.csv") if row["medium"] == "water")
    assert least < float(water["film_per_K"]) < most


@pytest.mark.published
def test_moved_water_takes_more_through_the_film_as_past_a_rod() -> None:
    # Churchill & Bernstein 1977, `ht` as referee, at the speeds that the table states; 60 C, as above
    ht = pytest.importorskip("ht")
    still = 4.0 * (650.0 - 20.0)
    for word, speed_m_per_s in (("mild", 0.2), ("moderate", 0.4), ("strong", 0.8)):
        reynolds = speed_m_per_s * 0.0125 / 4.75e-7
        nusselt = ht.conv_external.Nu_cylinder_Churchill_Bernstein(Re=reynolds, Pr=3.0)
        both = np.cbrt(still**3 + (nusselt * 0.654 / 0.0125) ** 3)
        row = next(
            row
            for row in read_table("quench_agitation.csv")
            if (row["medium"], row["agitation"]) == ("water", word)
        )
        assert float(row["cold_film"]) == pytest.approx(both / still, rel=0.06)


@pytest.mark.published
def test_scale_raises_the_breakdown_by_no_more_than_henry_s_thick_scale() -> None:
    # Henry, AIChE Symp. Ser. 138 (1974) 81, from memory: (T - Ti)/(Ti - Tl) is
    # 0.42 ((e_l/e_s) h_fg/(c dTi))^0.6, Ti Berenson's 206 C; effusivity of water 1630, alloy 600 10900, thick
    # dense wustite 3600 J/m2Ks0.5. The table's number is judged from these: this holds its size, no more.
    def breakdown_C(effusivity: float, heat_J_per_kgK: float, bath_C: float) -> float:
        group = 1630.0 / effusivity * LATENT_J_PER_KG / (heat_J_per_kgK * 106.0)
        return float(206.0 + 0.42 * (206.0 - bath_C) * group**0.6)

    water = next(row for row in read_table("quench_media.csv") if row["medium"] == "water")
    for bath_C in (20.0, 60.0, 100.0):
        thick_scale_K = breakdown_C(3600.0, 750.0, bath_C) - breakdown_C(10900.0, 620.0, bath_C)
        assert 0.5 * thick_scale_K < float(water["scale_K"]) < 1.2 * thick_scale_K
