"""Carbon in austenite: its activity, how much graphite and cementite allow, and what alloying does to it.

The pure-iron side is one assessment (Gustafson 1985), the same that lies behind the diffusivity.
Temperatures may run from 250 to 1700 K so that a whole history can be passed; the numbers mean something
where austenite is stable, above about 1000 K. Below that they only continue smoothly, and the pack feeds
nothing (`model.pack.feeding_share`).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import GAS_CONSTANT, MOLAR_MASS_CARBON, MOLAR_MASS_IRON, site_fraction
from model.ranges import ACTIVITY, MODEL_TEMPERATURE_K, check
from model.steels import Composition

Array = NDArray[np.float64]

# Gustafson 1985: RT ln a = RT ln[y/(1-y)] + SOLUTION - SOLUTION_SLOPE T + INTERACTION (1 - 2y)
SOLUTION_J_PER_MOL = 77207.0
SOLUTION_SLOPE_J_PER_MOL_K = 15.877
INTERACTION_J_PER_MOL = -34671.0

# Newton steps until carbon_at_activity gives its activity back to 1e-12, all over its range (a test does).
NEWTON_STEPS = 4
# Spacing of the kept cementite line; read between its points it is within 1e-5 wt% (a test holds it).
CEMENTITE_STEP_K = 2.0


def _check_all(path: str, temperature_K: Array) -> None:
    kelvin = np.asarray(temperature_K)
    low, high = float(kelvin.min()), float(kelvin.max())
    check(path, low, MODEL_TEMPERATURE_K)
    if high != low:
        check(path, high, MODEL_TEMPERATURE_K)


def carbon_of_sites(sites: Array) -> Array:
    """Return the carbon [wt%] of a site fraction, the inverse of `site_fraction`; any shape."""
    ratio = sites * (MOLAR_MASS_CARBON / MOLAR_MASS_IRON)
    return 100.0 * ratio / (1.0 + ratio)


def carbon_activity_gustafson_1985(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the activity of carbon in austenite of pure iron, graphite = 1.

    Parameters: carbon_wt, temperature_K : broadcastable [wt%] above 0 to 2.1; [K] 1000 to 1430.
    Returns: activity [-].
    Raises: OutOfRange for a temperature outside 250 to 1700 K.
    Source: Gustafson, Scand. J. Metall. 14 (1985) 259 (constants from memory).
    """
    _check_all("temperature_K", temperature_K)
    y = site_fraction(carbon_wt)
    solution = SOLUTION_J_PER_MOL - SOLUTION_SLOPE_J_PER_MOL_K * temperature_K
    energy = solution + INTERACTION_J_PER_MOL * (1.0 - 2.0 * y)
    return np.asarray(y / (1.0 - y) * np.exp(energy / (GAS_CONSTANT * temperature_K)))


def carbon_activity_ellis_1963(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the activity of carbon in austenite of pure iron, graphite = 1: a second, older line.

    Parameters: carbon_wt, temperature_K : broadcastable [wt%] above 0 to 1.5; [K] 1050 to 1430.
    Returns: activity [-].
    Raises: OutOfRange for a temperature outside 250 to 1700 K.
    Source: Ellis, Davidson and Bodsworth, JISI 201 (1963) 582 (constants from memory).
    """
    _check_all("temperature_K", temperature_K)
    return np.asarray(carbon_wt * np.power(10.0, 2300.0 / temperature_K - 2.21 + 0.15 * carbon_wt))


def carbon_at_activity(activity: Array, temperature_K: Array) -> Array:
    """Return the carbon of pure-iron austenite at a carbon activity, the inverse of Gustafson's line.

    Parameters: activity, temperature_K : broadcastable [-] 1e-6 to 2, graphite = 1; [K] 250 to 1700.
    Returns: carbon [wt%], good to 1e-12 of itself.
    Raises: OutOfRange for either.
    Source: `carbon_activity_gustafson_1985` by Newton steps on u = ln[(1-y)/y], in which it is convex.
    """
    _check_all("temperature_K", temperature_K)
    for extreme in (np.min(activity), np.max(activity)):
        check("activity", float(extreme), ACTIVITY)
    return carbon_at_ln_activity(np.log(activity), temperature_K)


def carbon_at_ln_activity(ln_activity: Array, temperature_K: Array) -> Array:
    """Return the same of an activity's logarithm, its ranges not looked at: for a solver that has done so."""
    inverse = (1.0 / GAS_CONSTANT) / temperature_K
    slope = (-2.0 * INTERACTION_J_PER_MOL) * inverse
    start = (SOLUTION_J_PER_MOL + INTERACTION_J_PER_MOL) * inverse - ln_activity
    start -= SOLUTION_SLOPE_J_PER_MOL_K / GAS_CONSTANT
    u = start  # ln[(1-y)/y]
    for _ in range(NEWTON_STEPS):
        one_over_y = np.exp(u)
        one_over_y += 1.0
        pull = slope / one_over_y
        off = pull + start
        off -= u
        steep = pull / one_over_y
        steep -= pull
        steep -= 1.0
        off /= steep
        u = u - off
    return carbon_of_sites(1.0 / (1.0 + np.exp(u)))


def graphite_saturation_wt(temperature_K: Array) -> Array:
    """Return the carbon of pure-iron austenite in balance with graphite.

    Parameters: temperature_K : any shape [K] 250 to 1700, meant for 1011 to 1426.
    Returns: carbon [wt%].
    Raises: OutOfRange for a temperature outside 250 to 1700 K.
    Source: Gustafson 1985 at activity 1 (constants from memory).
    """
    return carbon_at_activity(np.ones_like(temperature_K), temperature_K)


def iron_energy_sgte_1991(temperature_K: Array) -> Array:
    """Return the Gibbs energy of fcc iron against the elements at 298 K.

    Parameters: temperature_K : any shape [K] 298 to 1811.
    Returns: energy [J/mol].
    Source: SGTE data for pure elements, Dinsdale, Calphad 15 (1991) 317 (constants from memory).
    """
    T, log_T = temperature_K, np.log(temperature_K)
    bcc = 1225.7 + 124.134 * T - 23.5143 * T * log_T - 4.39752e-3 * T**2 - 5.8927e-8 * T**3 + 77359.0 / T
    return np.asarray(bcc - 1462.4 + 8.282 * T - 1.15 * T * log_T + 6.4e-4 * T**2)


def graphite_energy_sgte_1991(temperature_K: Array) -> Array:
    """Return the Gibbs energy of graphite against the elements at 298 K.

    Parameters: temperature_K : any shape [K] 298 to 6000.
    Returns: energy [J/mol].
    Source: SGTE data for pure elements, Dinsdale, Calphad 15 (1991) 317 (constants from memory).
    """
    T = temperature_K
    warm = -17368.441 + 170.73 * T - 24.3 * T * np.log(T) - 4.723e-4 * T**2
    return np.asarray(warm + 2562600.0 / T - 2.643e8 / T**2 + 1.2e10 / T**3)


def cementite_energy_gustafson_1985(temperature_K: Array) -> Array:
    """Return the Gibbs energy of cementite, for one Fe3C.

    Parameters: temperature_K : any shape [K] 298 to 1800.
    Returns: energy against the elements at 298 K [J/mol].
    Source: Gustafson 1985 (constants from memory).
    """
    T = temperature_K
    return np.asarray(-10745.0 + 706.04 * T - 120.6 * T * np.log(T))


def cementite_line_gustafson_1985(temperature_K: Array) -> Array:
    """Return the carbon of pure-iron austenite in balance with cementite, by solving 3 Fe + C = Fe3C.

    Parameters: temperature_K : any shape [K] 250 to 1700, meant for 1000 to 1420.
    Returns: carbon [wt%].
    Source: equality of chemical potentials, Gustafson 1985 with SGTE elements; solved on u = ln[y/(1-y)].
    """
    thermal = GAS_CONSTANT * temperature_K
    fixed = 3.0 * iron_energy_sgte_1991(temperature_K) + graphite_energy_sgte_1991(temperature_K)
    fixed += SOLUTION_J_PER_MOL - SOLUTION_SLOPE_J_PER_MOL_K * temperature_K
    fixed -= cementite_energy_gustafson_1985(temperature_K)
    u = np.full_like(temperature_K, -3.0)
    for _ in range(20):  # once, for the kept line; far more than it takes
        y = 1.0 / (1.0 + np.exp(-u))
        interaction = INTERACTION_J_PER_MOL * (3.0 * y**2 + 1.0 - 2.0 * y)
        excess = fixed + interaction + thermal * (u + 3.0 * np.log1p(-y))
        change = INTERACTION_J_PER_MOL * (6.0 * y - 2.0) * y * (1.0 - y) + thermal * (1.0 - 3.0 * y)
        u = u - excess / change
    return carbon_of_sites(1.0 / (1.0 + np.exp(-u)))


@cache
def _cementite_line() -> tuple[Array, Array]:
    """Return the kept cementite line: temperatures [K] and carbon [wt%]."""
    temperature_K = np.arange(MODEL_TEMPERATURE_K.low, MODEL_TEMPERATURE_K.high + 1.0, CEMENTITE_STEP_K)
    return temperature_K, cementite_line_gustafson_1985(temperature_K)


def cementite_saturation_wt(temperature_K: Array) -> Array:
    """Return the carbon of pure-iron austenite in balance with cementite (the Acm line), cheaply.

    Parameters: temperature_K : any shape [K] 250 to 1700, meant for 1000 to 1420.
    Returns: carbon [wt%], within 1e-5 of `cementite_line_gustafson_1985`.
    Raises: OutOfRange for a temperature outside 250 to 1700 K.
    """
    _check_all("temperature_K", temperature_K)
    return cementite_read_wt(temperature_K)


def cementite_read_wt(temperature_K: Array) -> Array:
    """Return the same, its range not looked at: for a solver that has done so."""
    return np.asarray(np.interp(temperature_K, *_cementite_line()))


def alloy_factor_gunn_1967(composition: Composition) -> float:
    """Return the carbon level of pure iron over that of the steel at the same activity, Cp/C.

    Parameters: composition : case-hardening steel [wt%]; Si, Mn, Cr, Ni and Mo count.
    Returns: the factor [-]; below 1 the steel takes more carbon than pure iron.
    Source: Gunn (1967) (constants from memory).
    """
    c = composition
    return float(10.0 ** (0.055 * c.Si - 0.013 * c.Mn - 0.040 * c.Cr + 0.014 * c.Ni - 0.013 * c.Mo))
