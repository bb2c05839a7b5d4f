"""Small logbooks of invented shops, shared by the tests of belief, readings, calibration and planner."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model.arrow import Covariance, Layout
from model.belief import ShopBelief
from model.process import (
    Carburize,
    History,
    Keys,
    PackSupply,
    Process,
    Quench,
    Reheat,
    Section,
    Shape,
    SlowCool,
)
from model.readings import DepthReading, FilesReading, HardnessReading, Observation
from model.steels import steel_of_grade
from model.widening import narrowed
from tests.model.invented import InventedShop

HOUR_S = 3600.0
STEEL = steel_of_grade("1018")


def job(
    fire: str = "1",
    hours: float = 4.0,
    temperature_C: float = 925.0,
    *,
    box: str = "1",
    mix: str = "1",
    bar: str = "1",
    heat_method: str = "thermocouple:1",
    carbonate_percent: float = 10.0,
    lag_share: float = 1.0,
    size_m: float = 0.012,
    medium: str = "water",
    reheated: bool = False,
    record_doubt_K: float = 0.0,
) -> Process:
    """Return a rod packed for some hours, clock started as the box went in, and quenched."""
    kelvin = temperature_C + 273.15
    supply = PackSupply("lump", carbonate_percent)
    steps: tuple[Carburize | SlowCool | Reheat, ...] = (
        Carburize(History.hold(kelvin, hours * HOUR_S), supply, lag_share),
    )
    if reheated:
        steps = (
            *steps,
            SlowCool(History((0.0, 7200.0), (kelvin, 900.0))),
            Reheat(History.hold(1073.15, 900.0)),
        )
    return Process(
        STEEL,
        Section(Shape.ROD, size_m),
        (*steps, Quench(medium)),
        Keys(fire=fire, box=box, mix=mix, bar=bar, heat_method=heat_method),
        box_inner_m=0.1,
        record_doubt_K=record_doubt_K,
    )


def depth(key: str, process: Process, depth_mm: float) -> Observation:
    """Return a rim depth read on a break."""
    return Observation(key, process, DepthReading("break", depth_mm / 1e3), coupon=key)


def unwidened(belief: ShopBelief) -> ShopBelief:
    """Return a belief of the quick fit as it was before surprises widened it."""
    covariance = Covariance.whole(narrowed(belief.covariance.full(), belief.books, belief.spread))
    return replace(belief, covariance=covariance, spread=1.0)


def unread(layout: Layout) -> Covariance:
    """Return the covariance of coordinates of which nothing was read."""
    fires, own = layout.own.shape
    alone = np.eye(own) * (layout.own < layout.size)[:, :, None]
    return Covariance(layout, np.eye(len(layout.shared)), np.zeros((fires, own, len(layout.shared))), alone)


def logbook(
    shop: InventedShop, fires: int, heat_method: str = "thermocouple:1", medium: str = "water"
) -> list[Observation]:
    """Return a logbook of one coupon a fire, broken and tested or filed; two boxes, two mixes."""
    rng = np.random.default_rng(shop.seed)
    observations = []
    for fire in range(fires):
        process = job(
            f"f{fire}",
            float(rng.choice([2.0, 3.0, 4.0, 6.0])),
            float(rng.choice([900.0, 925.0, 940.0])),
            box=str(rng.integers(1, 3)),
            mix=str(rng.integers(1, 3)),
            heat_method=heat_method,
            medium=medium,
        )
        hardness = (
            HardnessReading("HRC", 60.0, "rockwell:1") if fire % 2 else FilesReading(60.0, None, "files:1")
        )
        for name, reading in (("depth", DepthReading("break", 5e-4)), ("hardness", hardness)):
            asked = Observation(f"{fire} {name}", process, reading, coupon=str(fire))
            observations.append(shop.note(asked))
    return observations
