"""A plan on the clock: what moves, what stays together, no fire after one leaves, clocks that change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.services.schedule import HELD_BACK, MOVED_ON, SHOP_OPENS, TOO_EARLY, Hours, Laid, Line, lay_out
from webapp.services.schedule_tasks import FIRE, HARDEN, DRYING_s, HOUR_s, MINUTE_s, Run, tasks_of

BERLIN = "Europe/Berlin"
HOURS = Hours(time(8), time(18), BERLIN)
RUN = Run(
    has_box=True,
    warm_up_low_s=30 * MINUTE_s,
    warm_up_s=50 * MINUTE_s,
    warm_up_high_s=80 * MINUTE_s,
    soak_s=4 * HOUR_s,
    cool_low_s=2 * HOUR_s,
    cool_s=4 * HOUR_s,
    cool_high_s=9 * HOUR_s,
    reheat_s=15 * MINUTE_s,
    temper_s=HOUR_s,
    is_ground=True,
)


def at(text: str, zone: str = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def laid(run: Run = RUN, start: str = "2026-06-10T08:00", hours: Hours = HOURS, **moved: str) -> Laid:
    by_hand = {key: at(text, hours.zone) for key, text in moved.items()}
    return lay_out(tasks_of(run), at(start, hours.zone), by_hand, hours)


def line_of(found: Laid, key: str) -> Line:
    return next(line for line in found.lines if line.task.key == key)


def wall(moment: datetime, zone: str = BERLIN) -> str:
    return moment.astimezone(ZoneInfo(zone)).strftime("%d %H:%M")


def times(found: Laid) -> dict[str, str]:
    return {line.task.key: wall(line.begins) for line in found.lines}


def test_a_run_begins_the_evening_before_and_is_shut_when_one_leaves() -> None:
    found = times(laid())
    assert list(found)[:6] == ["clean", "weigh", "pack", "lute", "dry", "check_luting"]
    assert (found["clean"], found["lute"], found["dry"]) == ("09 16:55", "09 17:50", "09 18:00")


def test_the_day_goes_from_light_up_over_the_believed_warm_up_to_the_temper() -> None:
    found = laid()
    assert times(found) == {
        "clean": "09 16:55", "weigh": "09 17:15", "pack": "09 17:30", "lute": "09 17:50", "dry": "09 18:00",
        "check_luting": "10 08:00", "light": "10 08:05", "box_in": "10 08:15", "at_heat": "10 09:05",
        "box_out": "10 13:05", "cool": "10 13:20", "open": "10 17:20",
        "oven_on": "11 08:00", "reheat": "11 08:30", "quench": "11 09:00", "temper_in": "11 09:20",
        "temper_out": "11 10:20", "grind": "11 10:25", "second_temper": "11 11:10", "second_out": "11 12:10",
    }  # fmt: skip
    heat = line_of(found, "at_heat")
    assert heat.low is not None
    assert heat.high is not None
    assert (wall(heat.low), wall(heat.high)) == ("10 08:45", "10 09:35")


def test_moving_one_line_moves_what_follows_and_nothing_before_it() -> None:
    before, after = laid(), laid(light="2026-06-10T09:00")
    shift = {key: line_of(after, key).begins - line_of(before, key).begins for key in times(before)}
    assert {shift[key] for key in ("light", "box_in", "at_heat", "box_out", "cool")} == {
        timedelta(minutes=55)
    }
    assert {shift[key] for key in ("clean", "weigh", "pack", "lute", "check_luting")} == {timedelta()}


def test_a_line_moved_before_what_it_needs_says_so_and_waits() -> None:
    found = line_of(laid(box_out="2026-06-10T10:00"), "box_out")
    assert (wall(found.begins), found.note) == ("10 13:05", TOO_EARLY)


def test_a_fire_lit_too_late_goes_to_the_next_day_whole() -> None:
    found = laid(start="2026-06-10T14:00")
    fire = [line for line in found.lines if line.task.block.startswith(FIRE)]
    assert {wall(line.begins)[:2] for line in fire} == {"11"}
    assert (fire[0].task.key, wall(fire[0].begins), fire[0].note) == ("check_luting", "11 08:00", MOVED_ON)
    assert wall(line_of(found, "clean").begins) == "10 16:55"  # the evening before goes with it


def test_the_slow_warm_up_counts_when_one_leaves() -> None:
    by_middle = replace(RUN, soak_s=8.5 * HOUR_s)  # 9 h 50 of 10 h if it warms up in 50 min, 10 h 20 in 80
    assert laid(by_middle).stop is not None
    assert laid(replace(by_middle, warm_up_high_s=RUN.warm_up_s)).stop is None


@pytest.mark.parametrize(
    ("clock_from", "out", "is_sure"),
    [("at_heat", "10 13:05", False), ("evenly_red", "10 12:40", False), ("box_in", "10 12:15", True)],
)
def test_the_soak_ends_by_the_clock_the_plan_counts_from(clock_from: str, out: str, is_sure: bool) -> None:
    line = line_of(laid(replace(RUN, clock_from=clock_from)), "box_out")
    assert wall(line.begins) == out
    assert (line.low is None) is is_sure


def test_reheat_quench_and_temper_move_to_the_next_day_as_one() -> None:
    found = laid(replace(RUN, soak_s=HOUR_s))
    block = [line for line in found.lines if line.task.block == HARDEN]
    assert wall(line_of(found, "open").begins) == "10 14:20"
    assert {wall(line.begins)[:2] for line in block} == {"10"}  # 2 h 40 fit before six
    late = laid(replace(RUN, soak_s=HOUR_s), oven_on="2026-06-10T16:00")
    moved = [line for line in late.lines if line.task.block == HARDEN]
    assert {wall(line.begins)[:2] for line in moved} == {"11"}
    assert (wall(moved[0].begins), moved[0].note) == ("11 08:00", MOVED_ON)


def test_a_line_that_would_keep_a_fire_lit_overnight_is_held_with_its_block() -> None:
    found = laid(temper_in="2026-06-15T09:00")
    assert line_of(found, "temper_in").note == HELD_BACK
    assert wall(line_of(found, "temper_in").begins) == "11 09:20"


def test_a_soak_that_no_day_holds_gets_no_times_and_says_how_long_it_is() -> None:
    found = laid(replace(RUN, soak_s=12 * HOUR_s))
    assert found.stop is not None
    assert found.stop.has_s == 10 * HOUR_s
    assert found.stop.needs_s == 5 * MINUTE_s + 10 * MINUTE_s + 80 * MINUTE_s + 12 * HOUR_s + 15 * MINUTE_s
    assert not any(line.task.is_lit for line in found.lines)


def test_a_split_soak_gives_each_fire_its_share_and_a_warm_up_of_its_own() -> None:
    found = laid(replace(RUN, soak_s=12 * HOUR_s, fires=2))
    assert found.stop is None
    for heat, out in (("at_heat", "box_out"), ("at_heat_2", "box_out_2")):
        assert line_of(found, out).begins - line_of(found, heat).begins == timedelta(hours=6)
    assert (times(found)["box_in"], times(found)["box_in_2"]) == ("10 08:15", "11 08:15")


def test_work_quenched_from_the_box_has_its_oven_hot_before_and_cools_in_no_box() -> None:
    found = times(laid(replace(RUN, reheat_s=None)))
    assert "cool" not in found
    assert "reheat" not in found
    assert (found["oven_on"], found["quench"], found["temper_in"]) == ("10 12:35", "10 13:05", "10 13:25")


def test_steel_that_needs_no_case_has_a_schedule_without_a_box() -> None:
    found = times(laid(Run(has_box=False, reheat_s=10 * MINUTE_s, temper_s=HOUR_s, is_ground=True)))
    assert list(found) == [
        "clean", "oven_on", "reheat", "quench", "temper_in", "temper_out",
        "grind", "second_temper", "second_out",
    ]  # fmt: skip
    assert found["quench"] == "10 09:15"


def test_a_box_without_luting_is_not_left_to_dry_and_soft_areas_are_machined_before_the_reheat() -> None:
    keys = list(times(laid(replace(RUN, is_luted=False, is_machined=True))))
    assert not {"lute", "dry", "check_luting"} & set(keys)
    assert keys.index("open") < keys.index("machine") < keys.index("reheat")


def test_a_start_before_the_shop_opens_waits_for_it() -> None:
    line = line_of(laid(start="2026-06-10T05:30"), "check_luting")
    assert (wall(line.begins), line.note) == ("10 08:00", SHOP_OPENS)


@pytest.mark.parametrize(
    ("start", "night_h"), [("2026-10-25T08:00", 15), ("2026-03-29T08:00", 13), ("2026-06-10T08:00", 14)]
)
def test_a_change_of_the_clocks_in_the_night_moves_no_time_on_the_wall(start: str, night_h: int) -> None:
    found = laid(start=start)
    assert wall(line_of(found, "lute").ends)[3:] == "18:00"
    assert wall(line_of(found, "check_luting").begins)[3:] == "08:00"
    assert wall(line_of(found, "at_heat").begins)[3:] == "09:05"
    assert line_of(found, "check_luting").begins - line_of(found, "dry").begins == timedelta(hours=night_h)


def test_a_soak_over_a_change_of_the_clocks_keeps_its_length_and_shows_the_wall() -> None:
    night = Hours(time(0), time(12), BERLIN)
    found = laid(start="2026-10-25T00:30", hours=night)
    heat, out = line_of(found, "at_heat"), line_of(found, "box_out")
    assert out.begins - heat.begins == timedelta(hours=4)
    assert (wall(heat.begins), wall(out.begins)) == ("25 01:35", "25 04:35")  # three hours on the wall


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    soak_min=st.integers(20, 900),
    opens_h=st.integers(0, 12),
    long_h=st.integers(1, 11),
    start_min=st.integers(0, 3 * 1440),
    moved=st.dictionaries(
        st.sampled_from([task.key for task in tasks_of(RUN)]), st.integers(-600, 6000), max_size=4
    ),
    straight=st.booleans(),
    fires=st.integers(1, 4),
)
def test_nothing_is_lit_outside_the_hours_and_nothing_begins_before_what_it_follows_is_done(
    soak_min: int,
    opens_h: int,
    long_h: int,
    start_min: int,
    moved: dict[str, int],
    straight: bool,
    fires: int,
) -> None:
    hours = Hours(time(opens_h), time(opens_h + long_h), BERLIN)
    run = replace(RUN, soak_s=soak_min * MINUTE_s, fires=fires, reheat_s=None if straight else RUN.reheat_s)
    start = at("2026-10-23T00:00") + timedelta(minutes=start_min)
    by_hand = {key: start + timedelta(minutes=minutes) for key, minutes in moved.items()}
    found = lay_out(tasks_of(run), start, by_hand, hours)
    assert [line.task for line in found.lines] == list(tasks_of(run))[: len(found.lines)]
    assert (found.stop is None) == (len(found.lines) == len(tasks_of(run)))
    for before, after in zip(found.lines, found.lines[1:], strict=False):
        assert before.begins + timedelta(seconds=before.task.seconds) <= after.begins
    for line in found.lines:
        if line.task.is_lit:
            day = hours.day(line.begins)
            assert hours.opening(day) <= line.begins
            assert max(line.ends, line.high or line.ends) <= hours.leaving(day)
    dry = next((line for line in found.lines if line.task.kind == "dry"), None)
    assert dry is None or dry.ends - dry.begins >= timedelta(seconds=DRYING_s)
