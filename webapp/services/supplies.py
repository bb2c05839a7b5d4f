"""The supplies of a plan: what was told, what comes of it, and keeping it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from model.batch_cost import Used
from model.units import HOUR_s
from webapp.forms.supplies import SuppliesForm
from webapp.services.batch_rows import get_row, last_of
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_no_case import is_no_case
from webapp.services.plan_rows import USUAL_REHEAT_S
from webapp.services.schedule_tasks import REHEAT_WARMS_s
from webapp.services.sheets import NotAccepted
from webapp.services.showing import Showing
from webapp.services.supplies_cost import CostView, cost_of, part_price, prices_of, view_cost
from webapp.services.supplies_gas import Burning, GasView, burn, usual_forge, view_gas
from webapp.services.supplies_pack import Packed, PackView, pack_box, view_pack
from webapp.services.supplies_room import box_m3, check_it_goes_in, room_of
from webapp.store.errors import NotFound
from webapp.store.tables import Box, Mix, Part, Plan, PlanSupplies
from webapp.store.unit_of_work import UnitOfWork

CARRIED_OVER = ("full_kg", "left_kg", "jet_m", "gauge_Pa", "valve", "day_K", "work_s")
"""What the next plan offers again: the bottle, the burner and the day are the shop's, not the plan's."""


@dataclass(frozen=True)
class SuppliesHead:
    """What a page of supplies is about."""

    part: str
    plan_href: str
    part_href: str
    box: str
    mix: str
    is_flat: bool


@dataclass(frozen=True)
class SuppliesView:
    """What a plan takes."""

    pack: PackView
    gas: GasView
    cost: CostView | None
    again: str


@dataclass(frozen=True)
class Told:
    """What was told of a plan's supplies, or is offered: values, texts as typed, version."""

    values: Mapping[str, Any]
    typed: Mapping[str, str]
    version: int | None


@dataclass(frozen=True)
class _Plan:
    """A plan with the rows that its supplies hang on, even those that are in the bin."""

    plan: Plan
    part: Part
    box: Box
    mix: Mix
    figures: PlanFigures


def supplies_head(session: Session, plan_id: int) -> SuppliesHead:
    """Return what a page of supplies is about; a plan without a box has no such page."""
    found = _found(session, plan_id)
    return SuppliesHead(
        found.figures.names["part"],
        f"/plans/{plan_id}",
        f"/parts/{found.plan.part_id}",
        found.figures.names["box"],
        found.figures.names["mix"],
        found.part.shape == "plate",
    )


def told_of(session: Session, plan_id: int) -> Told:
    """Return what was told of a plan's supplies, or what the last plan's bottle and burner offer."""
    row = _kept_row(session, plan_id)
    if row is not None:
        values = {name: getattr(row, name) for name in SuppliesForm.model_fields}
        return Told(values, row.typed, row.version)
    found, earlier = _found(session, plan_id), last_of(session, PlanSupplies)
    price = part_price(session, found.plan.part_id)
    values = {"parts": price.parts if price else 1, "part_length_m": found.part.length_m}
    forge = usual_forge(session)
    values["jet_m"] = forge.jet_m if forge else None
    if earlier is None:
        return Told(values, {}, None)
    carried = {name: getattr(earlier, name) for name in CARRIED_OVER}
    return Told(values | carried, earlier.typed, None)


def view_supplies(session: Session, plan_id: int, form: SuppliesForm, showing: Showing) -> SuppliesView:
    """Return what a plan takes; raises `NotAccepted` beside what cannot be."""
    found = _found(session, plan_id)
    packed, burning = _packed(found, form), _burning(session, found, form)
    has_room = room_of(found.part, form) is not None
    used = _used(form, packed, burning)
    price = part_price(session, found.plan.part_id)
    return SuppliesView(
        view_pack(packed, found.mix, form, has_room, showing),
        view_gas(burning, showing),
        view_cost(used, form.parts, prices_of(session), price),
        f"/plans/new?part={found.plan.part_id}&again={plan_id}" if found.figures.more.carbon is None else "",
    )


def known_cost(session: Session, part_id: int) -> tuple[float, int] | None:
    """Return what a batch of a part costs and how many it holds, by the newest plan that told it."""
    prices, told = prices_of(session), _last_told(session, part_id)
    if prices is None or told is None:
        return None
    form = SuppliesForm.model_construct(**{name: getattr(told, name) for name in SuppliesForm.model_fields})
    try:
        found = _found(session, told.plan_id)
        used = _used(form, _packed(found, form), _burning(session, found, form))
    except (NotAccepted, NotFound):
        return None
    return cost_of(used, prices).whole, form.parts


def _last_told(session: Session, part_id: int) -> PlanSupplies | None:
    """Return what was told of the supplies of a part's newest plan that anything was told of."""
    query = (
        select(PlanSupplies)
        .join(Plan, col(Plan.id) == PlanSupplies.plan_id)
        .where(Plan.part_id == part_id, *(col(row.deleted_at).is_(None) for row in (Plan, PlanSupplies)))
        .order_by(col(Plan.id).desc(), col(PlanSupplies.id).desc())
    )
    return session.exec(query.limit(1)).first()


def keep_supplies(
    work: UnitOfWork, plan_id: int, form: SuppliesForm, typed: Mapping[str, str], version: int | None
) -> str:
    """Keep what was told of a plan's supplies, if it can be; return its page."""
    found = _found(work.session, plan_id)
    _packed(found, form)
    _burning(work.session, found, form)
    row, fields = _kept_row(work.session, plan_id), {**form.model_dump(), "typed": dict(typed)}
    if row is None:
        work.add(PlanSupplies(plan_id=plan_id, **fields))
    else:
        work.change(row, version=version, **fields)
    return f"/plans/{plan_id}/supplies"


def _used(form: SuppliesForm, packed: Packed, burning: Burning) -> Used:
    return Used(
        gas_kg=burning.gas_kg or 0.0,
        charcoal_kg=packed.fresh_charcoal_kg,
        carbonate_kg=packed.fresh_substance_kg,
        hours=(form.work_s or 0.0) / HOUR_s,
    )


def _packed(found: _Plan, form: SuppliesForm) -> Packed:
    check_it_goes_in(found.part, found.box, form)
    room = room_of(found.part, form)
    heat_K, carbon = found.figures.temperature_K, found.figures.more.carbon
    return pack_box(found.mix, box_m3(found.box), room, form, heat_K, carbon)


def _burning(session: Session, found: _Plan, form: SuppliesForm) -> Burning:
    figures = found.figures
    # a clock that is started as the box goes in holds the warm-up already
    before_s = 0.0 if figures.clock_from == "box_in" else figures.warm_up_s.middle
    # the burner is lit again for the reheat, and the cold forge with it
    again_s = 0.0 if figures.reheat_K is None else REHEAT_WARMS_s + (figures.reheat_s or USUAL_REHEAT_S)
    return burn(session, form, before_s + figures.soak_s + again_s)


def _found(session: Session, plan_id: int) -> _Plan:
    plan = get_row(session, Plan, plan_id)
    rows = (
        session.get(Part, plan.part_id), session.get(Box, plan.box_id), session.get(Mix, plan.mix_id),
    )  # fmt: skip
    part, box, mix = rows
    if is_no_case(plan.result) or part is None or box is None or mix is None:
        raise NotFound("plan", plan_id)
    return _Plan(plan, part, box, mix, PlanFigures.from_dict(plan.result))


def _kept_row(session: Session, plan_id: int) -> PlanSupplies | None:
    return last_of(session, PlanSupplies, PlanSupplies.plan_id == plan_id)
