"""Quenches that the tests share: constant properties for exact answers, and the probe of the standards."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from model.baths import BathKind, Baths
from model.cooling import Cooling
from model.process import Section, Shape
from model.quench import Metals, quench
from model.steel_heat import ALLOY_600, Metal

Array = NDArray[np.float64]

CONSTANT = Metal(25.0, 0.0, 600.0, 0.0, 7800.0)
STILL_METAL = Metals(CONSTANT, CONSTANT)
PROBE = Section(Shape.ROD, 12.5e-3)
PROBE_METAL = Metals(ALLOY_600, ALLOY_600)


def steady_bath(transfer_W_per_m2K: float, bath_K: float = 293.15) -> Baths:
    """Return a bath with one transfer coefficient at every surface temperature."""
    baths = Baths.of([BathKind("water", bath_K, "still")], np.ones(1))
    never = {"boil_end_C": np.array([5000.0]), "convection": np.array([transfer_W_per_m2K])}
    return replace(baths, numbers={**baths.numbers, **never})


def heat_content(metal: Metal, temperature_C: Array) -> Array:
    """Return the heat content of a metal above 0 C, any shape [J/m3]."""
    warmed = metal.specific_heat + 0.5 * metal.specific_heat_slope * temperature_C
    return metal.density * warmed * temperature_C


def slab_series(biot: float, fourier: Array, place: float) -> Array:
    """Return the exact excess over the bath of a slab; place is 0 in the middle, 1 at the face."""
    roots = np.array(
        [
            brentq(lambda z: z * np.sin(z) - biot * np.cos(z), n * np.pi, n * np.pi + 0.5 * np.pi)
            for n in range(30)
        ]
    )
    weight = 4.0 * np.sin(roots) / (2.0 * roots + np.sin(2.0 * roots)) * np.cos(roots * place)
    return np.asarray(np.exp(-np.outer(fourier, roots**2)) @ weight)


def cylinder_series(biot: float, fourier: Array, place: float) -> Array:
    """Return the exact excess over the bath of a long cylinder; place is 0 in the middle, 1 at the face."""
    low, high = np.concatenate([[0.0], jn_zeros(1, 29)]), jn_zeros(0, 30)
    roots = np.array(
        [brentq(lambda z: z * j1(z) - biot * j0(z), a + 1e-12, b) for a, b in zip(low, high, strict=True)]
    )
    weight = 2.0 * j1(roots) / (roots * (j0(roots) ** 2 + j1(roots) ** 2)) * j0(roots * place)
    return np.asarray(np.exp(-np.outer(fourier, roots**2)) @ weight)


def probe_in(*kinds: BathKind, tolerance_K: float = 1.5) -> Cooling:
    """Return the alloy 600 probe of ISO 9950, which has no scale, cooling from 850 C in each bath."""
    count = len(kinds)
    kinds = tuple(replace(kind, scaled=False) for kind in kinds)
    return quench(
        [PROBE],
        np.full(count, 1123.15),
        Baths.of(kinds, np.ones(count)),
        np.zeros(count),
        metals=PROBE_METAL,
        tolerance_K=tolerance_K,
    )


def centre_rates(cooling: Cooling, member: int) -> tuple[Array, Array]:
    """Return temperatures [C] every 5 K and the cooling rates over 50 K about them [K/s], at the middle."""
    kelvin, seconds = cooling.temperature_K[member, :, -1], cooling.seconds[member]
    celsius = np.arange(820.0, 150.0, -5.0)
    at = np.interp(-(celsius[:, None] + np.array([25.0, -25.0])), -(kelvin - 273.15), seconds)
    return celsius, 50.0 / (at[:, 1] - at[:, 0])
