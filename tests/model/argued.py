"""Logbooks of invented shops in which one way of doing things truly makes a difference, and others do not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from model.argument_columns import Sides
from model.arguments import Effect, argue
from model.calibration import fit
from model.process import Process
from model.readings import DepthReading, HardnessReading, Observation
from model.sight import Seen
from tests.model.invented import InventedShop
from tests.model.logbooks import job
from tests.model.test_calibration_referee import quick_look

NAMES = ("gap", "mortar", "reused")


class QuickShop(InventedShop):
    """An invented shop whose coupons are seen by the quick exact solution."""

    def seen(self, process: Process) -> Seen:
        """Return what a coupon of the process truly looks like, as one member."""
        return quick_look([process], self.inputs(process)[None, None])[0]


@dataclass(frozen=True)
class Book:
    """A logbook, and on which side of each argument its readings are."""

    observations: list[Observation]
    sides: Sides

    def effects(self) -> dict[tuple[str, str], Effect]:
        """Fit the logbook and return what it says, by argument and outcome."""
        found = fit(self.observations, [], look=quick_look)
        said = argue(found.evidence, found.fitted, self.sides).effects
        return {(one.argument, one.outcome): one for one in said}


def book_of(
    seed: int,
    fires: int,
    true_mm: Mapping[str, float] | None = None,
    box_of_gap: Mapping[int, str] | None = None,
) -> Book:
    """Return the logbook of a shop that changed three things from fire to fire as it pleased.

    true_mm : what the second side of each truly adds to a case; box_of_gap : the box that each side of the
    gap always went with, none for any box
    """
    shop, rng = QuickShop(seed), np.random.default_rng([seed, 77])
    observations: list[Observation] = []
    sides: dict[str, dict[str, int]] = {name: {} for name in NAMES}
    for fire in range(fires):
        on = {name: int(rng.integers(0, 2)) if fire > 1 else fire for name in NAMES}
        box = box_of_gap[on["gap"]] if box_of_gap else str(rng.integers(1, 3))
        mix, hours = str(rng.integers(1, 3)), float(rng.choice([3.0, 4.0, 6.0]))
        process = job(f"f{fire}", hours, float(rng.choice([900.0, 925.0])), box=box, mix=mix)
        add_mm = sum((true_mm or {}).get(name, 0.0) * side for name, side in on.items())
        for coupon in ("a", "b"):
            for asked in (DepthReading("break", 5e-4), HardnessReading("HRC", 60.0, "rockwell:1")):
                key = f"{fire}{coupon} {type(asked).__name__}"
                noted = shop.note(Observation(key, process, asked, coupon=f"{fire}{coupon}"))
                observations.append(deepened(noted, add_mm))
                for name, side in on.items():
                    sides[name][key] = side
    return Book(observations, sides)


def deepened(noted: Observation, add_mm: float) -> Observation:
    """Return a reading as it would have been on a case deeper by so much."""
    if not isinstance(noted.reading, DepthReading):
        return noted
    value_m = max(0.0, noted.reading.value_m + 1e-3 * add_mm)
    return replace(noted, reading=replace(noted.reading, value_m=value_m))
