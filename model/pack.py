"""The pack: its gas, when it feeds, and what the books say of how fast.

Carbon in the steel is in `model.austenite`, what is stirred in is in `model.energizers`; both are offered
here too, so that a reader of the pack finds the whole of it in one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot

import numpy as np
from numpy.typing import NDArray

from model.austenite import (
    alloy_factor_gunn_1967,
    carbon_activity_ellis_1963,
    carbon_activity_gustafson_1985,
    carbon_at_activity,
    cementite_saturation_wt,
    graphite_saturation_wt,
)
from model.diffusivity import GAS_CONSTANT, site_fraction
from model.energizers import carbonate_percent_of, gas_litres_per_100_g, safety_stop, substances
from model.errors import NotPossible
from model.priors import mix_deviation_prior, prior_table
from model.process import PackSupply
from model.ranges import CARBONATE_PERCENT, SHARE, check

__all__ = [
    "PackPrior",
    "alloy_factor_gunn_1967",
    "boudouard_constant_gaskell",
    "boudouard_constant_three_term",
    "carbon_activity_ellis_1963",
    "carbon_activity_gustafson_1985",
    "carbon_at_activity",
    "carbon_monoxide_share",
    "carbonate_percent_of",
    "cementite_saturation_wt",
    "feeding_share",
    "gas_litres_per_100_g",
    "graphite_saturation_wt",
    "pack_prior",
    "safety_stop",
    "site_fraction",
    "substances",
]

Array = NDArray[np.float64]

# Transfer at 925 C of plain lump charcoal, and of a mix with all the carbonate that helps [m/s]. No
# trustworthy published value was found. Gas practice is 1e-7 to 3.5e-7, and CO/CO2 without hydrogen about ten
# times less (Collin, Gunnarson and Thulin, JISI 210 (1972) 785; Grabke; memory). Our notes say 0.5e-7 for
# plain and 1.0e-7 or 1.2e-7 for energised packs: the middle is taken, and the doubt covers both many times.
PLAIN_TRANSFER_M_PER_S = 0.5e-7
ENERGISED_TRANSFER_M_PER_S = 1.1e-7
# "Most of the gain by 10 to 20 % carbonate" (memory, low confidence): 86 % of it at 10, 98 % at 20.
CARBONATE_SCALE_PERCENT = 5.0
# Briquettes: a fifth of their weight is ash and binder (memory, low confidence). Common practice, no source.
CHARCOAL_FACTORS = {"lump": 1.0, "crushed lump": 1.0, "briquettes": 0.8}
# A pack used over and over works, but weakly; the size of it is a guess. Common practice, no source.
SPENT_FACTOR = 0.7
# Andrews' Ac1 is good to about this much [K] (memory, low confidence): the pack comes in over it.
FEEDING_RAMP_K = 20.0


def boudouard_constant_gaskell(temperature_K: Array) -> Array:
    """Return the equilibrium constant of C + CO2 = 2 CO, pressures in atm: the textbook's straight line.

    Kept to be checked against; at 700 to 1000 C it lies 7 to 11 % under tabled gas data, so the gas is
    worked out with `boudouard_constant_three_term`.

    Parameters: temperature_K : any shape [K], 700 to 1700.
    Returns: K [atm].
    Source: dG0 = 170700 - 174.5 T J/mol, Gaskell, Introduction to the Thermodynamics of Materials (memory).
    """
    return np.asarray(np.exp(-(170700.0 - 174.5 * temperature_K) / (GAS_CONSTANT * temperature_K)))


def boudouard_constant_three_term(temperature_K: Array) -> Array:
    """Return the equilibrium constant of C + CO2 = 2 CO, pressures in atm.

    Parameters: temperature_K : any shape [K], 500 to 2200.
    Returns: K [atm].
    Source: log10 K(2 CO = CO2 + C) = 9141/T + 0.000224 T - 9.595, an encyclopedia article (range and zero at
    975 K seen, coefficients from memory).
    """
    return np.asarray(np.power(10.0, -(9141.0 / temperature_K + 2.24e-4 * temperature_K - 9.595)))


def carbon_monoxide_share(temperature_K: Array, total_pressure_atm: float = 1.0) -> Array:
    """Return the share of carbon monoxide in CO + CO2 that stands in balance with charcoal.

    Parameters: temperature_K : any shape [K], 700 to 1700; total_pressure_atm : of CO and CO2 together [atm],
    above 0; 1 with carbonate, 0.35 with box air alone.
    Returns: share by volume [-].
    Source: `boudouard_constant_three_term`; x solves P x^2/(1 - x) = K.
    """
    constant = boudouard_constant_three_term(temperature_K)
    root = np.sqrt(constant**2 + 4.0 * constant * total_pressure_atm)
    return np.asarray(2.0 * constant / (constant + root))


def feeding_share(temperature_K: Array, ac1_K: Array | float) -> Array:
    """Return how much of the pack's transfer acts, by whether the steel is austenite.

    Parameters: temperature_K : any shape [K]; ac1_K : where the steel's austenite begins, broadcasting [K].
    Returns: 0 at and below Ac1, 1 from 20 K above it, straight between [-].
    Source: ferrite holds next to no carbon (H); the ramp is as wide as the doubt of `ac1_andrews_1965`.
    """
    return np.minimum(np.maximum((temperature_K - ac1_K) / FEEDING_RAMP_K, 0.0), 1.0)


@dataclass(frozen=True)
class PackPrior:
    """What the books say of a mix before any coupon.

    transfer_median_m_per_s : median of the transfer coefficient at 925 C [m/s]
    transfer_ln_sd : standard deviation of its logarithm for a shop and mix never seen
    activity_q_mean, activity_q_sd : of q, where the carbon activity of the gas is 1.05/(1 + exp(-q))
    """

    transfer_median_m_per_s: float
    transfer_ln_sd: float
    activity_q_mean: float
    activity_q_sd: float


def pack_prior(supply: PackSupply) -> PackPrior:
    """Return what the books say of a mix before any coupon: weak, so wide.

    The activity is the same for every mix: at full balance plain and energised charcoal both reach
    graphite, and what differs is the rate. The widths are those of `data/priors.csv`.

    Parameters: supply : charcoal (lump, crushed lump, briquettes), carbonate by weight [%] 0 to 60,
    share of fresh pack [-] 0 to 1.
    Returns: the prior; its median rises with carbonate and levels off by 20 %.
    Raises: OutOfRange for either number; NotPossible for a charcoal that is not in the list.
    Source: as stated beside the constants above (all low confidence; a shop's own coupons settle it).
    """
    carbonate = check("supply.carbonate_percent", supply.carbonate_percent, CARBONATE_PERCENT)
    fresh = check("supply.fresh_share", supply.fresh_share, SHARE)
    if supply.charcoal not in CHARCOAL_FACTORS:
        known = ", ".join(CHARCOAL_FACTORS)
        raise NotPossible("supply.charcoal", f"'{supply.charcoal[:30]}' is not known here", f"Use {known}.")
    gain = (ENERGISED_TRANSFER_M_PER_S / PLAIN_TRANSFER_M_PER_S) ** (
        1.0 - exp(-carbonate / CARBONATE_SCALE_PERCENT)
    )
    condition = CHARCOAL_FACTORS[supply.charcoal] * (SPENT_FACTOR + (1.0 - SPENT_FACTOR) * fresh)
    priors = prior_table()
    activity = priors["activity/shop"]
    spread = hypot(priors["ln_transfer/shop"].sd, mix_deviation_prior(carbonate).sd)
    return PackPrior(PLAIN_TRANSFER_M_PER_S * gain * condition, spread, activity.mean, activity.sd)
