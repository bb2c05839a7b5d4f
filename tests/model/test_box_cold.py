"""When a box is cold to the hand: by hand's sum, in order, and where nothing of it is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.box_cold import COLD_TO_HAND_K, STILL_AIR, cold_after
from model.box_course import COLD_K, box_cooling, warm_up
from model.box_fill import Bed
from model.boxheat import box_heat
from model.packed_box import PackedBox
from model.priors import prior_table
from model.process import History
from model.units import HOUR_s

SOAK_K = 1198.15
BOX = PackedBox("square", 37e-3, part_m=6e-3)


@pytest.mark.property
def test_a_box_is_cold_sooner_in_the_air_than_in_its_forge_and_a_larger_one_later() -> None:
    found, larger = cold_after(BOX, SOAK_K), cold_after(replace(BOX, half_m=60e-3), SOAK_K)
    assert found.low_s < found.in_air_s < found.seconds < found.high_s
    assert found.in_air_s < larger.in_air_s
    assert found.seconds < larger.seconds


def test_the_shut_forge_is_that_of_the_carbons_slow_cool_while_that_lasts() -> None:
    # the cool that the forecast counts ends at 500 C; cold to the hand comes hours later, never before it
    assert cold_after(BOX, SOAK_K).seconds > box_cooling(BOX, SOAK_K).duration_s + HOUR_s


def test_the_last_of_a_cool_in_air_falls_as_one_body_does() -> None:
    # a bed that conducts well leaves one even body, and Newton's law gives its fall by hand: exp(-t h A / C)
    dry = replace(BOX, bed=Bed(water=0.0, conducts=50.0))
    found = box_heat(dry, History.hold(COLD_K, 6 * HOUR_s), start_K=340.0, convection=STILL_AIR)
    wall, inside = BOX.wall_m, BOX.radius_m
    outer = (inside + wall) / inside
    steel = 7850.0 * 475.0 * (((inside + wall) ** 2 - inside**2) + BOX.core_m**2) / (2.0 * inside)
    bed = 300.0 * 1000.0 * (inside**2 - BOX.core_m**2) / (2.0 * inside)
    radiation = 4.0 * 0.85 * 5.67e-8 * 310.0**3
    fall_s = (steel + bed) / ((STILL_AIR + radiation) * outer)
    cold_at_s = found.seconds[int(np.argmax(found.part_K < COLD_K + 0.3 * (340.0 - COLD_K)))]
    assert cold_at_s == pytest.approx(fall_s * np.log(1.0 / 0.3), rel=0.1)


def test_water_that_left_on_the_way_up_does_not_come_back_on_the_way_down() -> None:
    assert cold_after(replace(BOX, bed=Bed(water=0.3)), SOAK_K) == cold_after(BOX, SOAK_K)
    assert pytest.approx(323.15) == COLD_TO_HAND_K


def test_the_doubt_of_a_pack_that_nobody_weighed_lies_well_inside_the_doubt_of_the_warm_up() -> None:
    # bulk a fifth off either way; the water is a percent or two of the time
    usual = warm_up(replace(BOX, bed=Bed()), SOAK_K).at_heat_s
    off = [
        abs(np.log(warm_up(replace(BOX, bed=bed), SOAK_K).at_heat_s / usual))
        for bed in (
            Bed(bulk_kg_per_m3=240.0),
            Bed(bulk_kg_per_m3=360.0),
            Bed(290.0, water=0.03),
            Bed(310.0, water=0.08),
        )
    ]
    assert 0.01 < max(off) < 0.2 * prior_table()["lag/shop"].sd
