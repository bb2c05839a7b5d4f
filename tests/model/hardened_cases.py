"""Whole forecasts at the middle of what the books say, for tests of what a quench leaves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.belief import handbook_belief
from model.conversion import rockwell_c_continued
from model.forecast import Forecast, forecast
from model.hardening import Hardened
from model.process import (
    Carburize,
    HeldSurface,
    History,
    Process,
    Quench,
    Reheat,
    Section,
    Shape,
    SlowCool,
    Step,
    Supply,
)
from model.steels import Steel, steel_of_grade
from model.units import HOUR_s, celsius_to_kelvin

Array = NDArray[np.float64]
SHARES = ("martensite", "retained_austenite", "ferrite", "pearlite", "bainite", "carbide")


def heat(celsius: float, minutes: float = 20.0) -> Reheat:
    """Return a heat for the quench."""
    return Reheat(History.hold(celsius_to_kelvin(celsius), 60.0 * minutes))


def feed(celsius: float = 925.0, hours: float = 4.0, supply: Supply | None = None) -> Carburize:
    """Return a soak with the skin held at 0.85 %C, or on another supply."""
    return Carburize(History.hold(celsius_to_kelvin(celsius), hours * HOUR_s), supply or HeldSurface(0.85))


def slow_cool(celsius: float = 925.0) -> SlowCool:
    """Return the cool in the box."""
    return SlowCool(History((0.0, 2.0 * HOUR_s), (celsius_to_kelvin(celsius), 900.0)))


def made(steel: Steel | str, section: Section, *steps: Step, draws: int = 0) -> Forecast:
    """Forecast a piece at the middle of the books, or over some draws."""
    known = steel_of_grade(steel) if isinstance(steel, str) else steel
    process, belief = Process(known, section, steps), handbook_belief()
    return forecast(process, belief.constants(process, draws, seed=5) if draws else belief.point(process))


def rod(size_mm: float) -> Section:
    """Return a rod of a diameter."""
    return Section(Shape.ROD, size_mm * 1e-3)


def hardened_of(piece: Forecast) -> Hardened:
    """Return what the quench left, which there must be."""
    assert piece.hardened is not None
    return piece.hardened


def rockwell(piece: Forecast, *depths_mm: float) -> list[float]:
    """Return Rockwell C at depths of the first draw, carried on beyond the table."""
    assert piece.hardness_HV is not None
    scale = rockwell_c_continued(piece.hardness_HV[0])
    return [float(value) for value in np.interp(np.array(depths_mm) * 1e-3, piece.depth_m, scale)]


def total_of_shares(work: Hardened) -> Array:
    """Return the sum of the constituents at every depth."""
    return np.asarray(np.sum([getattr(work, name) for name in SHARES], axis=0))


def codes(piece: Forecast) -> set[str]:
    """Return the keys of what the forecast warns of."""
    return {warned.code for warned in piece.warnings}


OIL, WATER, BRINE = Quench("oil", celsius_to_kelvin(50.0)), Quench("water"), Quench("brine")
