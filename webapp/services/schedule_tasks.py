"""What a plan asks of the shop, as tasks in the order they are done, each with how long it takes.

Lengths that no plan gives are common practice, no source; every line can be moved.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

MINUTE_s: Final = 60.0
HOUR_s: Final = 3600.0
DRYING_s: Final = 8 * HOUR_s
COOLING_s: Final = 7 * HOUR_s
"""For a box that is not described: what a usual one takes in its shut forge."""
OVEN_WARMS_s: Final = 30 * MINUTE_s
QUENCH_TO_TEMPER_s: Final = 20 * MINUTE_s
SECOND_TEMPER_s: Final = HOUR_s
REHEAT_WARMS_s: Final = 15 * MINUTE_s
MINUTES: Final = {
    "clean": 20, "weigh": 15, "pack": 20, "lute": 10, "check_luting": 5, "light": 10, "box_out": 15,
    "open": 20, "machine": 60, "oven_off": 5, "grind": 45,
}  # fmt: skip
EVENING: Final = "evening"
FIRE: Final = "fire"
MOST_FIRES: Final = 4
WRAP_THIN: Final = "Wrapped in foil or packed again: thin case"
HARDEN: Final = "harden"
FINISH: Final = "finish"


@dataclass(frozen=True)
class Run:
    """What a plan asks, in seconds.

    warm_up_* : from box in the fire to work at heat, as believed; soak_s : 0 where nothing is packed
    cool_* : from the end of the fire to a box that is cold to the hand, in its shut forge; soonest and latest
    clock_from : what the soak counts from; fires : over how many fires the soak is split, 1 to `MOST_FIRES`
    is_thin : a bare reheat could take the best of the case
    reheat_s : at heat outside the box, None for straight from the box; temper_s : None for no temper
    """

    has_box: bool
    is_luted: bool = True
    warm_up_low_s: float = 0.0
    warm_up_s: float = 0.0
    warm_up_high_s: float = 0.0
    soak_s: float = 0.0
    clock_from: str = "at_heat"
    fires: int = 1
    cool_low_s: float = COOLING_s
    cool_s: float = COOLING_s
    cool_high_s: float = COOLING_s
    reheat_s: float | None = None
    temper_s: float | None = None
    is_machined: bool = False
    is_ground: bool = False
    is_thin: bool = False


@dataclass(frozen=True)
class Task:
    """One line of a schedule.

    key : its name in an address; kind : what it is; block : tasks of one block stay on one day
    seconds : as expected; early_s, late_s : by how much its end may come sooner or later
    needs_hand : somebody stands by it; is_lit : something burns or is hot
    more_checks : what else to tick for this run alone
    """

    key: str
    kind: str
    seconds: float
    block: str
    early_s: float = 0.0
    late_s: float = 0.0
    needs_hand: bool = True
    is_lit: bool = False
    more_checks: tuple[str, ...] = ()


def tasks_of(run: Run) -> tuple[Task, ...]:
    """Return everything a run asks, in order, in whole minutes as a clock on the wall shows them."""
    if run.has_box:
        found = [*_evening(run), *_fires(run), *_after_the_box(run), *_finish(run)]
    else:
        found = [_task("clean", ""), *_harden(run), *_finish(run)]
    return tuple(replace(task, seconds=MINUTE_s * round(task.seconds / MINUTE_s)) for task in found)


def _task(kind: str, block: str, seconds: float | None = None, lit: bool = False) -> Task:
    taken = seconds if seconds is not None else MINUTES[kind] * MINUTE_s
    return Task(kind, kind, taken, block, is_lit=lit)


def _evening(run: Run) -> Iterator[Task]:
    for kind in ("clean", "weigh", "pack"):
        yield _task(kind, EVENING)
    if run.is_luted:
        yield _task("lute", EVENING)
        yield replace(_task("dry", "", DRYING_s), needs_hand=False)


def _fires(run: Run) -> Iterator[Task]:
    """Yield every fire of the soak; between two the box stands shut and cools."""
    for number in range(1, run.fires + 1):
        for task in _fire(run, f"{FIRE}-{number}", is_last=number == run.fires):
            yield replace(task, key=task.kind if number == 1 else f"{task.kind}_{number}")


def _fire(run: Run, block: str, is_last: bool) -> Iterator[Task]:
    straight = is_last and run.reheat_s is None
    if run.is_luted:
        yield _task("check_luting", block)
    yield _task("light", block, lit=True)
    early, late = run.warm_up_s - run.warm_up_low_s, run.warm_up_high_s - run.warm_up_s
    counted = {"at_heat": 0.0, "evenly_red": 0.5, "box_in": 1.0}[run.clock_from]
    warm_up = replace(_task("box_in", block, run.warm_up_s, lit=True), early_s=early, late_s=late)
    yield warm_up
    left_s = max(run.soak_s / run.fires - counted * run.warm_up_s, 0.0)
    oven_s = min(OVEN_WARMS_s, left_s) if straight and run.temper_s is not None else 0.0
    # the end of the soak is as unsure as what its clock starts from
    share = 1.0 - counted
    yield replace(
        _task("at_heat", block, left_s - oven_s, lit=True), early_s=early * share, late_s=late * share
    )
    if oven_s:
        yield _task("oven_on", block, oven_s, lit=True)
    if straight:
        yield from _quench(run, block)
        return
    yield _task("box_out", block, lit=True)
    yield replace(
        _task("cool", "", run.cool_s),
        early_s=run.cool_s - run.cool_low_s,
        late_s=run.cool_high_s - run.cool_s,
        needs_hand=False,
    )


def _after_the_box(run: Run) -> Iterator[Task]:
    """Yield what follows the last slow cool; nothing where the work went straight into the bath."""
    if run.reheat_s is None:
        return
    yield _task("open", "")
    if run.is_machined:
        yield _task("machine", "")
    yield from _harden(run)


def _harden(run: Run) -> Iterator[Task]:
    """Yield reheat, quench and temper, which stay together."""
    if run.temper_s is not None:
        yield _task("oven_on", HARDEN, OVEN_WARMS_s, lit=True)
    reheat = _task("reheat", HARDEN, REHEAT_WARMS_s + (run.reheat_s or 0.0), lit=True)
    yield replace(reheat, more_checks=(WRAP_THIN,)) if run.is_thin else reheat
    yield from _quench(run, HARDEN)


def _quench(run: Run, block: str) -> Iterator[Task]:
    yield _task("quench", block, QUENCH_TO_TEMPER_s, lit=True)
    if run.temper_s is not None:
        yield _task("temper_in", block, run.temper_s, lit=True)
        yield _task("temper_out", block, MINUTES["oven_off"] * MINUTE_s, lit=True)


def _finish(run: Run) -> Iterator[Task]:
    """Yield the finish grind and its short second temper."""
    if not run.is_ground:
        return
    yield _task("grind", FINISH)
    if run.temper_s is not None:
        yield _task("second_temper", FINISH, SECOND_TEMPER_s, lit=True)
        yield Task("second_out", "second_out", MINUTES["oven_off"] * MINUTE_s, FINISH, is_lit=True)
