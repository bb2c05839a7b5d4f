"""Cooling tables that are made together: the same as each alone, and each made once."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TypeVar

import numpy as np
import pytest
from numpy.typing import NDArray

from model.baths import BathKind, Baths
from model.cooling_table import CoolingTable
from model.kept_coolings import KEPT_TABLES, Asked
from model.made_together import MadeTogether
from model.piecework import Piecework
from model.process import Section, Shape
from model.quench import quench_grid
from model.quenched_part import HotPart, cooled
from model.steels import steel_of_grade

T = TypeVar("T", HotPart, Baths)
Array = NDArray[np.float64]
PLAIN, ALLOY = (steel_of_grade(name).composition for name in ("1018", "8620"))
ROD, PLATE = Section(Shape.ROD, 12e-3), Section(Shape.PLATE, 5e-3)
TUBE = Section(Shape.TUBE, 22e-3, 10e-3)
ASKED = [
    Asked(PLAIN, ROD, BathKind("oil", 313.15), 1073.15, 2.0),
    Asked(ALLOY, PLATE, BathKind("vegetable oil", 330.15, "strong"), 1193.15, 0.0),
    Asked(PLAIN, ROD, BathKind("water"), 1173.15, 2.5),
    Asked(PLAIN, PLATE, BathKind("water", 303.15, "still", litres=12.0, work_kg=1.5), 1088.15, 0.0),
    Asked(ALLOY, ROD, BathKind("brine", 295.15), 990.15, 6.0),
    Asked(PLAIN, TUBE, BathKind("brine"), 1143.15, 1.0),
    Asked(PLAIN, PLATE, BathKind("air"), 1163.15, 3.0),
]


def afresh(asked: list[Asked]) -> list[CoolingTable]:
    """Return tables that are made now, together."""
    KEPT_TABLES.forget()
    made = KEPT_TABLES.of(asked)
    return [made[one] for one in asked]


def steel_in_the_fire(seconds_to_bath: Array) -> tuple[HotPart, Baths]:
    """Return members that wait on each other: some need more steps, or meet the bath later."""
    members = len(seconds_to_bath)
    depth_m = quench_grid([ROD]).centres_m
    part = HotPart(
        sections=[ROD],
        depth_m=depth_m,
        carbon_wt=np.repeat(0.18 + 0.62 * np.exp(-((depth_m / 0.6e-3) ** 2)), members, axis=0),
        temperature_K=np.linspace(1030.0, 1190.0, members),
        composition=PLAIN,
        alloy_factor=np.ones(members),
        grain_number=np.full(members, 8.0),
        retained_factor=np.ones(members),
        martensite_shift_HV=np.zeros(members),
    )
    severity = np.tile([2.4, 0.3, 1.0], members // 3)
    baths = Baths.of([BathKind("oil"), BathKind("water")], severity, np.arange(members) % 2)
    return part, baths


def only(whole: T, member: int, members: int) -> T:
    """Return a bundle of arrays of one member."""

    def one(value: object) -> object:
        if isinstance(value, dict):
            return {name: one(each) for name, each in value.items()}
        return value[[member]] if isinstance(value, np.ndarray) and len(value) == members else value

    return replace(whole, **{field.name: one(getattr(whole, field.name)) for field in fields(whole)})


@pytest.mark.property
def test_a_member_cools_the_same_to_the_last_bit_while_others_wait_and_step() -> None:
    seconds_to_bath = np.tile([0.0, 4.0, 0.5, 2.0], 6)
    members = len(seconds_to_bath)
    part, baths = steel_in_the_fire(seconds_to_bath)
    together = cooled(part, baths, seconds_to_bath, np.arange(members))
    for member in range(members):
        seconds = seconds_to_bath[[member]]
        alone = cooled(only(part, member, members), only(baths, member, members), seconds, np.zeros(1, int))
        of_all = together.of_members(slice(member, member + 1))
        for name, values in vars(alone).items():
            assert np.array_equal(values, getattr(of_all, name)), (member, name)


@pytest.mark.property
def test_a_table_is_the_same_to_the_last_bit_alone_and_in_any_company() -> None:
    # what was kept from before says which are made together, and must not say what a fit believes
    together, half = afresh(ASKED), dict(zip(ASKED[::2], afresh(ASKED[::2]), strict=True))
    for asked, table in zip(ASKED, together, strict=True):
        others = [*afresh([asked]), half.get(asked, table)]
        for name, values in vars(table).items():
            for other in others:
                assert np.array_equal(values, getattr(other, name)), (asked, name)


@pytest.mark.property
def test_what_is_missing_is_made_in_one_go_and_what_was_longest_not_asked_for_is_forgotten() -> None:
    goes: list[list[int]] = []

    def squares(missing: list[int], piecework: Piecework) -> list[tuple[int, int]]:
        goes.append(missing)
        return piecework(lambda one: (one, one * one), missing)

    kept = MadeTogether[int, int](3, squares)
    assert kept.of([3, 1, 3]) == {1: 1, 3: 9}
    assert kept.of([1, 2, 4]) == {1: 1, 2: 4, 4: 16}
    assert kept.of([4, 1, 2]) == {1: 1, 2: 4, 4: 16}
    assert goes == [[3, 1], [2, 4]]
    kept.of([3])
    kept.forget()
    kept.of([4])
    assert goes[2:] == [[3], [4]]
