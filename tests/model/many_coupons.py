"""A logbook of any number of batches of an invented shop, as varied as a busy shop's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from model.inputs import LOCAL_INPUTS
from model.look import look
from model.packed_box import packed_box
from model.priors import prior_for
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
    Step,
    Temper,
    slow_cool_history,
)
from model.readings import DepthReading, FilesReading, HardnessReading, Observation, TraverseReading
from model.steels import steel_of_grade
from model.units import HOUR_s, celsius_to_kelvin
from tests.model.invented import InventedShop

SECTIONS = (
    Section(Shape.ROD, 0.010),
    Section(Shape.ROD, 0.016),
    Section(Shape.PLATE, 0.006),
    Section(Shape.TUBE, 0.022, 0.014),
)
BOX = packed_box((0.20, 0.10, 0.10), False, 0.004, 0.008)
PLACES_M = (0.1e-3, 0.25e-3, 0.4e-3, 0.6e-3, 0.9e-3)
HARD = HardnessReading("HRC", 60.0, "rockwell:1")


def many_coupons(batches: int, coupons: int, seed: int = 7, oil_share: float = 1 / 3) -> list[Observation]:
    """Return what a shop noted of so many coupons, spread evenly over so many batches."""
    rng = np.random.default_rng(seed)
    shop = InventedShop(seed)
    counts = np.diff(np.linspace(0, coupons, batches + 1).round().astype(int))
    asked = [one for batch, count in enumerate(counts) for one in _batch(batch, int(count), oil_share, rng)]
    return _noted(shop, asked)


def _batch(batch: int, count: int, oil_share: float, rng: np.random.Generator) -> Iterator[Observation]:
    """Ask for the readings of one batch: coupons alike but for the last, and one in five tempered."""
    kelvin = celsius_to_kelvin(float(rng.choice(np.arange(880.0, 941.0, 5.0))))
    hours, mix, box = float(rng.choice(np.arange(1.5, 8.1, 0.5))), int(rng.integers(3)), int(rng.integers(3))
    supply = PackSupply("lump", (0.0, 10.0, 25.0)[mix])
    soak = Carburize(History.hold(kelvin, hours * HOUR_s), supply, float(rng.choice([0.0, 0.5, 1.0])))
    steps: tuple[Step, ...] = (soak,)
    if rng.random() < 0.5:
        heat = Reheat(History.hold(celsius_to_kelvin(float(rng.choice([790.0, 805.0, 820.0]))), 900.0))
        steps = (soak, SlowCool(slow_cool_history(kelvin), supply), heat)
    medium = "oil" if rng.random() < oil_share else str(rng.choice(["water", "brine"]))
    method = f"{rng.choice(['thermocouple', 'colour'])}:1"
    first, other = rng.integers(len(SECTIONS), size=2)
    for coupon in range(count):
        key = f"{batch}.{coupon}"
        section = SECTIONS[other if coupon == count - 1 else first]
        keys = Keys(str(1 + batch % 3), str(box), str(mix), f"{medium}1", "oven1", method, f"f{batch}")
        hardened = (*steps, Quench(medium, celsius_to_kelvin(50.0) if medium == "oil" else 293.15))
        process = Process(steel_of_grade("1018"), section, hardened, keys, box_inner_m=0.1, box=BOX)
        yield Observation(f"{key} depth", process, DepthReading("break", 5e-4), key)
        if coupon % 4 == 1 and section.shape is not Shape.TUBE:
            yield Observation(f"{key} files", process, FilesReading(60.0, None, "files:1"), key)
        elif rng.random() < 0.1:
            row = TraverseReading(PLACES_M, (600.0,) * len(PLACES_M), "vickers:1")
            yield Observation(f"{key} traverse", process, row, key)
        else:
            yield Observation(f"{key} hardness", process, HARD, key)
        if rng.random() < 0.2:
            temper = Temper(celsius_to_kelvin(float(rng.choice([160.0, 180.0, 200.0]))), HOUR_s)
            tempered = Process(process.steel, section, (*hardened, temper), keys, box_inner_m=0.1, box=BOX)
            after = HardnessReading("HRC", 58.0, "rockwell:1", after="temper")
            yield Observation(f"{key} tempered", tempered, after, key)


def _noted(shop: InventedShop, asked: Sequence[Observation]) -> list[Observation]:
    """Return the readings as the shop would note them, all processes looked at in one call."""
    processes = list(dict.fromkeys(one.process for one in asked))
    truth = np.array([shop.inputs(process) for process in processes]).reshape(-1, 1, len(LOCAL_INPUTS))
    seen = dict(zip(processes, look(processes, truth), strict=True))
    noted = []
    for place, one in enumerate(asked):
        name = f"tester/{one.reading.tester[0]}"  # type: ignore[union-attr]  # no bend is asked for
        bias = shop.coordinate(name) * prior_for(name).sd if name != "tester/" else 0.0
        rng = np.random.default_rng([shop.seed, place])
        reading = one.reading.simulated(seen[one.process], bias, rng)  # type: ignore[union-attr]
        noted.append(Observation(one.key, one.process, reading, one.coupon))
    return noted
