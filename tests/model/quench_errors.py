"""What the quench's cells and steps cost: `python -m tests.model.quench_errors` prints it, ten seconds.

53 parts and baths as they are usually quenched, against twice the cells and steps five times as fine, with
carbon at the same depths in both: run it before and after any change of the steps. `python -m
tests.model.quench_errors 126` goes through all parts. Not a test: what the tests hold is in `test_quench`.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from itertools import islice, product
from typing import Final, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import erfc

from model import quench, quenched_part
from model.baths import BathKind, Baths
from model.pack import alloy_factor_gunn_1967
from model.process import Section, Shape
from model.quenched_part import HotPart, quench_part
from model.steels import steel_of_grade
from model.traverse import ISO_18203_LIMIT_HV, depth_of_fall

FINER: Final = 5.0
SECTIONS: Final = (
    Section(Shape.PLATE, 3e-3),
    Section(Shape.ROD, 6e-3),
    Section(Shape.ROD, 12e-3),
    Section(Shape.TUBE, 25e-3, 15e-3),
    Section(Shape.PLATE, 10e-3),
    Section(Shape.ROD, 25e-3),
    Section(Shape.ROD, 50e-3),
)
BATHS: Final = (
    BathKind("oil", 313.15),
    BathKind("air"),
    BathKind("water"),
    BathKind("brine"),
    BathKind("vegetable oil", 323.15, "mild"),
    BathKind("water", 313.15, "still", litres=15.0, work_kg=1.0),
)
STEELS_AND_HEATS: Final = (("1018", 1073.15), ("8620", 1113.15), ("1018", 1163.15))
PARTS: Final = 53
DEPTHS: Final = 61


class Told(NamedTuple):
    """What a quench says: hardness of skin and core [HV], depth to 550 HV [mm], end of the film [s]."""

    skin_HV: float
    core_HV: float
    case_mm: float
    film_s: float
    steps: int


def cases() -> Iterator[tuple[Section, BathKind, tuple[str, float]]]:
    """Give the parts and baths: each section in each bath, then again of the next steel and heat."""
    kinds = len(STEELS_AND_HEATS)
    for turn, (size, section), (place, bath) in product(range(kinds), enumerate(SECTIONS), enumerate(BATHS)):
        yield section, bath, STEELS_AND_HEATS[(size + place + turn) % kinds]


def told(section: Section, bath: BathKind, steel_and_heat: tuple[str, float]) -> Told:
    """Quench a part with a usual case."""
    steel, start_K = steel_of_grade(steel_and_heat[0]).composition, steel_and_heat[1]
    whole_m = 0.5 * (section.size_m - section.bore_m)
    depth_m = whole_m * np.linspace(0.0, 1.0, DEPTHS)[None] ** 1.5
    part = HotPart(
        sections=[section],
        depth_m=depth_m,
        carbon_wt=steel.C + (0.85 - steel.C) * erfc(depth_m / 0.8e-3),
        temperature_K=np.array([start_K]),
        composition=steel,
        alloy_factor=np.array([alloy_factor_gunn_1967(steel)]),
        grain_number=np.array([8.0]),
        retained_factor=np.ones(1),
        martensite_shift_HV=np.zeros(1),
    )
    found = quench_part(part, Baths.of([bath], np.ones(1)), np.array([2.0]), np.array([bath.bath_K]))
    hardness_HV, cooling = found.structure.hardness_HV, found.cooling
    core_at = DEPTHS // 2 if section.shape is Shape.TUBE else -1
    case_m = depth_of_fall(depth_m, hardness_HV, ISO_18203_LIMIT_HV).depth_m[0]
    return Told(
        skin_HV=float(hardness_HV[0, 0]),
        core_HV=float(hardness_HV[0, core_at]),
        case_mm=1e3 * float(case_m),
        film_s=float(cooling.film_s[0]),
        steps=cooling.seconds.shape[1] - 1,
    )


@contextmanager
def finer() -> Iterator[None]:
    """Quench with twice the cells and steps five times as fine: errors of one step fall with their square."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("LARGEST_DROP_K", "LARGEST_RISE_K", "FULL_HURRY"):
            patch.setattr(quench, name, getattr(quench, name) / FINER)
        patch.setattr(quench, "FIRST_DROP_K", tuple(drop / FINER for drop in quench.FIRST_DROP_K))
        fine_K, fine_rate_K = (
            usual_K / FINER**2 for usual_K in (quench.QUENCH_TOLERANCE_K, quenched_part.RATE_TOLERANCE_K)
        )
        patch.setattr(quenched_part, "quench", partial(quench.quench, tolerance_K=fine_K))
        patch.setattr(quenched_part, "RATE_TOLERANCE_K", fine_rate_K)
        patch.setattr(quenched_part, "RATE_CELLS", 2 * quenched_part.RATE_CELLS)
        cells = 2 * quench.QUENCH_CELLS
        patch.setattr(quenched_part, "quench_grid", lambda of, count=cells: quench.quench_grid(of, count))
        yield


def main(parts: int = PARTS) -> None:
    """Print the errors of each part, then means and greatest."""
    errors: list[NDArray[np.float64]] = []
    steps: dict[str, list[int]] = {}
    for section, bath, steel in islice(cases(), parts):
        usual = told(section, bath, steel)
        with finer():
            fine = told(section, bath, steel)
        errors.append(np.subtract(usual[:-1], fine[:-1]))
        steps.setdefault(bath.medium, []).append(usual.steps)
        name = f"{section.shape.value} {1e3 * section.size_m:g} mm, {steel[0]} {steel[1] - 273.15:.0f} C"
        said = "  ".join(f"{error:8.4f}" for error in errors[-1])
        print(f"{name + ', ' + bath.medium:48s} {said} {usual.steps:4d}/{fine.steps}")  # noqa: T201
    sizes = np.abs(errors)
    for what, each in zip(("skin HV", "core HV", "case mm", "film s"), sizes.T, strict=True):
        rms = float(np.sqrt((each**2).mean()))
        print(f"{what:8s} mean {each.mean():.4f}, rms {rms:.4f}, most {each.max():.4f}")  # noqa: T201
    print("steps", {medium: round(float(np.mean(each)), 1) for medium, each in steps.items()})  # noqa: T201


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
