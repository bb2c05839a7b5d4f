"""Invented shops with a hidden truth: what they burn, what truly comes of it, and what they note."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from zlib import crc32

import numpy as np

from model.box_course import box_cooling
from model.inputs import ROW, links
from model.packed_box import PackedBox, packed_box
from model.priors import prior_for, scatter_factor
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
from model.readings import DepthReading, FilesReading, HardnessReading, NoHardSkin, Observation
from model.sight import Seen
from model.steels import steel_of_grade
from tests.honesty.full_sight import full_sight
from tests.honesty.worlds import FAILED_SEAL, World
from webapp.services.observations import LEAST_SEEN_DEPTH_M

HOUR_S, KELVIN = 3600.0, 273.15
STEEL = steel_of_grade("1018")
CARBONATE_PERCENT = {"plain": 0.0, "soda": 5.0, "chalk": 12.0}
BOXES = {"tube": (0.20, 0.074, 0.074), "plate": (0.26, 0.11, 0.09)}
PIN, PINS = Section(Shape.ROD, 0.010), 2  # so many pins of one bar lie in every batch
PARTS = (Section(Shape.ROD, 0.012), Section(Shape.ROD, 0.020), Section(Shape.PLATE, 0.008))
HEATS_C, HOURS = (890.0, 905.0, 920.0, 935.0), (2.0, 3.0, 4.0, 5.0, 7.0)
LAG_SHARES = (1.0, 0.5, 0.0)
OIL_SHARE = 0.25
REHEAT_C, REHEAT_S = 800.0, 900.0
NEXT, APART = 1000, 100  # numbers of the batches that are foretold, and between two of one moment


@cache
def described(box: str) -> PackedBox:
    """Return a box of these shops, packed."""
    return packed_box(BOXES[box], is_round=False, wall_m=0.003, part_m=0.005)


@dataclass(frozen=True)
class Batch:
    """What one batch is, but for the piece: a number, and the choices drawn for it."""

    number: int
    hours: float
    celsius: float
    box: str
    mix: str
    medium: str

    def process(self, section: Section, heat: str, practice: tuple[bool, float], bar: str) -> Process:
        """Return what happened to a piece of it; `practice`: reheated or not, when the clock starts."""
        reheated, lag_share = practice
        kelvin, supply = self.celsius + KELVIN, PackSupply("lump", CARBONATE_PERCENT[self.mix])
        soak = Carburize(History.hold(kelvin, self.hours * HOUR_S), supply, lag_share)
        box = described(self.box)
        between = (
            SlowCool(box_cooling(box, kelvin), supply),
            Reheat(History.hold(REHEAT_C + KELVIN, REHEAT_S)),
        )
        keys = Keys(
            fire=f"f{self.number}", box=self.box, mix=self.mix, bar=bar, bath=self.medium, heat_method=heat
        )
        steps = (soak, *(between if reheated else ()), Quench(self.medium))
        return Process(STEEL, section, steps, keys, box_inner_m=min(BOXES[self.box]), box=box)


@dataclass(frozen=True)
class HonestShop:
    """A shop of a world; every number of it hangs on its seed and the number's own name alone."""

    seed: int
    world: World
    heat: str

    def rng(self, name: str) -> np.random.Generator:
        """Return the stream of one name."""
        return np.random.default_rng([self.seed, crc32(name.encode())])

    def coordinate(self, name: str) -> float:
        """Return a true coordinate: drawn from the books, where the world does not state it."""
        return self.world.stated.get(name, float(self.rng(name).standard_normal()))

    def practice(self) -> tuple[bool, float]:
        """Return whether it reheats for the quench, and how much of the warm-up its clock holds."""
        rng = self.rng("practice")
        return bool(rng.random() < 0.5), float(rng.choice(LAG_SHARES))

    def batch(self, number: int) -> Batch:
        """Return what it does in a batch."""
        rng = self.rng(f"batch {number}")
        return Batch(
            number, float(rng.choice(HOURS)), float(rng.choice(HEATS_C)), str(rng.choice(list(BOXES))),
            str(rng.choice(self.world.mixes)), "oil" if rng.random() < OIL_SHARE else "water",
        )  # fmt: skip

    def pin(self, number: int) -> Process:
        """Return what happened to the pins of a batch."""
        return self.batch(number).process(PIN, self.heat, self.practice(), "rod")

    def next_job(self, after: int, which: int = 0) -> Process:
        """Return a job that is foretold after so many batches: a part, in a fire that has not burned."""
        number = NEXT + after + APART * which
        section = PARTS[int(self.rng(f"part {number}").integers(len(PARTS)))]
        return self.batch(number).process(section, self.heat, self.practice(), "rod")

    def inputs(self, process: Process, after: int) -> np.ndarray:
        """Return the true local inputs of a process that burns after so many batches."""
        linked = links(process)
        inputs = linked.offset.copy()
        scales = {
            latent: float(scatter_factor(scale, np.array(self.coordinate(scale)), share))
            for latent, scale, share in linked.scatter
        }
        for name, row, coefficient in linked.terms:
            inputs[row] += coefficient * scales.get(name, 1.0) * self.coordinate(name)
        if self.world.drift_K and after >= self.world.drift_from:
            inputs[ROW["temperature_K"]] += self.world.drift_K
        fire = process.keys.fire
        is_noted = int(fire[1:]) < NEXT
        if is_noted and self.rng(f"seal {fire}").random() < self.world.failed_seals:
            for name, shift in FAILED_SEAL.items():
                inputs[ROW[name]] += shift
        return inputs

    def truth(self, process: Process, after: int) -> Seen:
        """Return what truly comes of one process."""
        return full_sight([process], [self.inputs(process, after)])[0]

    def logbook(self, batches: int) -> list[list[Observation]]:
        """Return what it notes, batch by batch: of each pin a hardness, and how deep the rim goes."""
        pins = [self.pin(number) for number in range(batches)]
        seen = full_sight(pins, [self.inputs(pin, number) for number, pin in enumerate(pins)])
        return [
            [one for k in range(PINS) for one in self._noted(pin, truly, f"{number}/{k}")]
            for number, (pin, truly) in enumerate(zip(pins, seen, strict=True))
        ]

    def _noted(self, process: Process, seen: Seen, coupon: str) -> list[Observation]:
        files = self.world.files_only
        hardness = (
            FilesReading(None, None, "files:1") if files else HardnessReading("HRC", 60.0, "rockwell:1")
        )
        noted = []
        for kind, asked in (("hardness", hardness), ("depth", DepthReading("break", 0.0))):
            tester, _ = asked.tester
            bias = self.coordinate(f"tester/{tester}") * prior_for(f"tester/{tester}").sd if tester else 0.0
            reading = asked.simulated(seen, bias, self.rng(f"{coupon} {kind}"))
            if isinstance(reading, DepthReading) and reading.value_m < LEAST_SEEN_DEPTH_M:
                reading = NoHardSkin()
            if not isinstance(reading, FilesReading) or reading.low_HRC or reading.high_HRC:
                noted.append(Observation(f"{coupon} {kind}", process, reading, coupon))
        return noted


def seeds(cell: str, shops: int) -> Sequence[int]:
    """Return the seeds of a cell's shops: fixed by the cell's name before anything was looked at."""
    first = crc32(f"honesty of {cell}".encode())
    return range(first, first + shops)
