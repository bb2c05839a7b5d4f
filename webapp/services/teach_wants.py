"""What is wanted next: of the shop's standard jobs, or of a plan's part; each with its words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from sqlmodel import Session

from model.learnt import STANDARD_ROD_M, standard_job
from model.planner import Goal
from model.process import Process, Quench, Temper
from model.wanted import Want
from webapp.forms.plans import PlanForm
from webapp.services.box_rows import Work, packed
from webapp.services.coupon_asked import CouponAsked
from webapp.services.coupon_offers import MOST_OTHERS
from webapp.services.coupon_shop import ShopThings
from webapp.services.plan_rows import CARRIED_OVER, PlanRows, goal_of, process_of, rows_for
from webapp.services.processes import keys_of, quench_in, smallest_inner_m, steel_of_bar, supply_of_mix
from webapp.store.tables import Plan

ANY_RIM = Goal("rim", 1e-4, 2e-3)  # only how it is counted matters


@dataclass(frozen=True)
class Wanted:
    """A want with what it is called: `kind` says how its numbers are worded."""

    want: Want
    kind: Literal["depth", "hardness", "warm_up", "bath"]
    name: str


def forge_wants(things: ShopThings) -> tuple[Wanted, ...]:
    """Return what a shop wants of its standard job: depth by mix, hardness, each box, each bath."""
    mixes, boxes, baths = (
        list(rows)[: 1 + MOST_OTHERS] for rows in (things.mixes, things.boxes, things.baths)
    )
    usual = _job(things, mixes[0], boxes[0], baths[0])
    return (
        *(
            Wanted(
                Want(f"depth {key}", _job(things, key, boxes[0], baths[0]), "depth", ANY_RIM),
                "depth",
                f"depth with {things.mixes[key].name}" if len(mixes) > 1 else "depth",
            )
            for key in mixes
        ),
        Wanted(
            Want("hardness", usual, "hardness"), "hardness", f"hardness out of {things.baths[baths[0]].name}"
        ),
        *(
            Wanted(
                Want(f"warm-up {key}", _job(things, mixes[0], key, baths[0]), "warm_up"),
                "warm_up",
                f"warm-up of {things.boxes[key].name}",
            )
            for key in boxes
        ),
        *(
            Wanted(
                Want(f"bath {key}", _job(things, mixes[0], boxes[0], key), "bath"),
                "bath",
                f"bite of {things.baths[key].name}",
            )
            for key in baths
        ),
    )


def _job(things: ShopThings, mix_id: int, box_id: int, bath_id: int) -> Process:
    """Return the standard job on the shop's own first bar, out of one of its baths."""
    mix, box, bath = things.mixes[mix_id], things.boxes[box_id], things.baths[bath_id]
    bar, heat = next(iter(things.bars.values())), next(iter(things.heats.values()))
    keys = keys_of(bar, box, mix, heat, "", bath_id, loosened=things.loosened)
    load = (Work(0.5 * STANDARD_ROD_M),)
    job = standard_job(keys, supply_of_mix(mix), smallest_inner_m(box), packed(box, mix, load))
    steps = tuple(quench_in(bath) if isinstance(step, Quench) else step for step in job.steps)
    return replace(job, steel=steel_of_bar(bar), steps=steps, keys=keys)


@dataclass(frozen=True)
class PlanAsked:
    """A saved plan as the sums see it: its process, what is wanted of it, and a coupon of its own section."""

    process: Process
    wants: tuple[Wanted, ...]
    coupon: CouponAsked
    is_solid: bool


def plan_asked(session: Session, plan: Plan) -> PlanAsked:
    """Return what a saved plan asks; raises `NotAccepted` or `NotFound` for one that no longer holds."""
    form = PlanForm(
        part_id=plan.part_id,
        soak_s=plan.soak_s,
        clock_from=plan.result.get("clock_from", "at_heat"),
        **{name: getattr(plan, name) for name in CARRIED_OVER},
    )
    rows = rows_for(session, form)
    process, part = process_of(rows, form), rows.part
    coupon = CouponAsked(
        part.bar_id,
        part.shape,
        part.size_m,
        mix_id=form.mix_id,
        box_id=form.box_id,
        heat_id=form.heat_instrument_id,
        bath_id=form.bath_id,
        temperature_K=form.temperature_K,
        soak_s=plan.soak_s,
    )
    return PlanAsked(process, _plan_wants(rows, process), coupon, part.shape != "tube")


def _plan_wants(rows: PlanRows, process: Process) -> tuple[Wanted, ...]:
    bath = rows.bath.name
    wants = [
        Wanted(Want("depth", process, "depth", goal_of(rows.part)), "depth", "case depth"),
        Wanted(Want("hardness", process, "hardness"), "hardness", f"hardness out of {bath}"),
        Wanted(Want("warm-up", process, "warm_up"), "warm_up", f"warm-up of {rows.box.name}"),
        Wanted(Want("bath", process, "bath"), "bath", f"bite of {bath}"),
    ]
    if any(isinstance(step, Temper) for step in process.steps):
        wants.insert(
            2, Wanted(Want("tempered", process, "tempered"), "hardness", "hardness after the temper")
        )
    return tuple(wants)
