"""Rules of the shop as plain functions: does the box fit, what case is usual, how far off is an eye."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.priors import prior_for
from tests.conftest import A_SPRING_DAY
from webapp.services.boxes import ROOM_FOR_FLAME_m, box_fits
from webapp.services.duty_advice import DUTIES, advise_case, deepest_case
from webapp.services.heat_words import HEAT_COLOURS, HEAT_METHODS
from webapp.services.mixes import carbonate_sum
from webapp.store.tables import Box, Forge

ROOM_K = 8.0
"""What the table of priors adds to every way of knowing the heat, for the doubt in diffusion."""
KEYS = [duty.key for duty in DUTIES]
sizes = st.floats(0.03, 0.5)


def a_forge(length: float, width: float, height: float) -> Forge:
    return Forge(
        name="Forge",
        fuel="propane",
        inside_length_m=length,
        inside_width_m=width,
        inside_height_m=height,
        created_at=A_SPRING_DAY,
        updated_at=A_SPRING_DAY,
    )


def a_box(length: float, width: float, height: float, name: str = "Box") -> Box:
    return Box(
        name=name,
        inner_length_m=length - 0.006,
        inner_width_m=width - 0.006,
        inner_height_m=height - 0.006,
        wall_m=0.003,
        seal="fireclay",
        created_at=A_SPRING_DAY,
        updated_at=A_SPRING_DAY,
    )


def test_a_box_with_just_the_room_for_the_flame_fits() -> None:
    assert box_fits(a_forge(0.25, 0.13, 0.13), [a_box(0.20, 0.08, 0.08)]) is None


def test_a_millimetre_more_is_refused_with_the_sizes_and_the_room() -> None:
    reason = box_fits(a_forge(0.25, 0.13, 0.13), [a_box(0.20, 0.081, 0.08)])
    assert reason is not None
    assert "200 × 81 × 80 mm" in reason
    assert "25 mm all round" in reason


def test_a_box_may_be_laid_on_its_side() -> None:
    assert box_fits(a_forge(0.25, 0.13, 0.25), [a_box(0.08, 0.20, 0.20)]) is None


def test_two_boxes_share_a_fire_only_side_by_side() -> None:
    pair = [a_box(0.20, 0.08, 0.08, "One"), a_box(0.20, 0.08, 0.08, "Two")]
    assert box_fits(a_forge(0.25, 0.235, 0.13), pair) is None
    reason = box_fits(a_forge(0.25, 0.23, 0.13), pair)
    assert reason is not None
    assert "not side by side" in reason


@given(sizes, sizes, sizes, sizes, sizes, sizes)
def test_a_larger_forge_never_stops_a_box_from_fitting(
    length: float, width: float, height: float, a: float, b: float, c: float
) -> None:
    box = [a_box(a, b, c)]
    if box_fits(a_forge(length, width, height), box) is None:
        assert box_fits(a_forge(length + 0.01, width + 0.02, height + 0.03), box) is None
        smallest_room = max(length, width, height) - max(a, b, c)
        assert smallest_room >= 2 * ROOM_FOR_FLAME_m - 1e-6


@given(st.floats(0.5e-3, 0.3), st.lists(st.sampled_from(KEYS), min_size=1, unique=True))
def test_the_usual_case_leaves_the_section_its_core(thickness_m: float, duties: list[str]) -> None:
    advice = advise_case(thickness_m, duties)
    assert 0 < advice.depth_low_m <= advice.depth_high_m
    assert advice.depth_high_m <= max(deepest_case(thickness_m, duties) * 1.1 + 5e-6, 0.05e-3)


def test_the_most_delicate_duty_sets_the_case() -> None:
    both = advise_case(0.02, ["bearing", "impact"])
    assert both.depth_high_m == advise_case(0.02, ["impact"]).depth_high_m
    assert both.hardness_HRC == 56.0
    assert len(both.reasons) == 2


@pytest.mark.parametrize("method", HEAT_METHODS, ids=lambda method: method.key)
def test_the_usual_give_or_take_is_that_of_the_fits_priors(method: object) -> None:
    prior = prior_for(f"temperature_bias/{method.key}")
    assert (method.spread**2 + ROOM_K**2) ** 0.5 == pytest.approx(prior.sd, abs=0.6)


def test_the_old_lists_of_colours_rise_and_disagree() -> None:
    earlier = [colour.earlier_list_C for colour in HEAT_COLOURS]
    both = [colour for colour in HEAT_COLOURS if colour.later_list_C is not None]
    assert earlier == sorted(earlier)
    assert max(abs(colour.later_list_C - colour.earlier_list_C) for colour in both) > 100


def test_the_sum_of_a_mix_is_shown_when_the_substance_is_not_all_carbonate() -> None:
    # 10 % x 105.99/286.14 = 3.70 % (molar masses, exact)
    assert carbonate_sum("washing-soda crystals", 10.0) == (
        "3.7 % carbonate by weight: 10 % washing-soda crystals, of which 37 % is carbonate"
    )
    assert carbonate_sum("soda ash", 5.0) == "5 % carbonate by weight"
