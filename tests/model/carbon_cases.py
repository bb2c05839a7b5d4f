"""Sections, supplies and histories that the tests of the carbon solver share."""

from __future__ import annotations

import numpy as np

from model.carbon import CarbonProfile, Segment, reach_carbon, sealed
from model.process import Section, Shape

HOUR_s = 3600.0
PLATE = Section(Shape.PLATE, 10e-3)
ROD = Section(Shape.ROD, 8e-3)
TUBE = Section(Shape.TUBE, 20e-3, bore_m=14e-3)
PACKED_TUBE = Section(Shape.TUBE, 20e-3, bore_m=14e-3, bore_packed=True)
SECTIONS = [PLATE, ROD, TUBE, PACKED_TUBE]


def one(value: float) -> np.ndarray:
    return np.array([float(value)])


def hold(kelvin: float, seconds, outer, inner=None, record=()) -> Segment:
    return Segment(
        np.atleast_1d(np.asarray(seconds, dtype=float)), one(kelvin), one(kelvin), outer, inner, record
    )


def cementite_line(temperature_K: np.ndarray) -> np.ndarray:
    """Straight line through the Acm values of Gustafson 1985 at 800 to 950 C [wt%]."""
    return 0.949 + 0.00286 * (temperature_K - 1073.15)


def pack(temperature_K: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A pack on the graphite line of Gustafson 1985, its transfer rising with heat."""
    transfer = 1e-7 * np.exp(-18000.0 * (1.0 / temperature_K - 1.0 / 1198.15))
    return transfer, 0.859 + 0.00317 * (temperature_K - 1073.15)


def full_history() -> list[Segment]:
    """Warm up, soak, slow cool and a sealed reheat below the saturation of the skin."""
    return [
        Segment(one(HOUR_s), one(1050.0), one(1198.0), pack, pack),
        Segment(one(3 * HOUR_s), one(1198.0), one(1190.0), pack, pack),
        Segment(one(HOUR_s / 2), one(1190.0), one(1020.0), pack, pack),
        Segment(one(1200.0), one(1043.0), one(1043.0), sealed),
    ]


def solve_carbon_states(*asked, **options) -> list[tuple[CarbonProfile, ...]]:
    """Return the profiles of every segment, all that `reach_carbon` came to."""
    return [tuple(state.profile for state in states) for states in reach_carbon(*asked, **options)]
