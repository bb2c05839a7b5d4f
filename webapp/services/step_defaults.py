"""What the form of a step offers: the plan's numbers, else what was read or done last."""

from __future__ import annotations

from typing import Any

from sqlmodel import Session, col, select

from webapp.forms.ask import Doubtful
from webapp.services.batch_rows import BatchRows, get_row, kept, load_batch
from webapp.store.tables import Bath, Item, Step

PLAN_FIELDS = {
    "at_heat": (("temperature_K", "temperature_K"),),
    "reheat": (("temperature_K", "reheat_K"), ("seconds", "reheat_s")),
    "quench": (("bath_id", "bath_id"),),
    "box_out": (("bath_id", "bath_id"),),
    "drawn": (("bath_id", "bath_id"),),
    "temper": (("temperature_K", "temper_K"), ("seconds", "temper_s")),
}
KIND_OF_ACTION = {"at_heat": "soak", "box_out": "quench", "drawn": "quench"}
LAST_FIELDS = ("temperature_K", "seconds", "bath_id", "instrument_id")
OFFERED = {
    "at_heat": ("temperature_K",),
    "reheat": ("temperature_K", "seconds"),
    "quench": ("bath_id",),
    "box_out": ("bath_id",),
    "drawn": ("bath_id",),
    "temper": ("temperature_K", "seconds", "instrument_id"),
}


def batch_step_defaults(session: Session, batch_id: int, action: str) -> dict[str, Any]:
    """Return what the next step of a batch is offered as."""
    return _defaults(session, load_batch(session, batch_id), action)


def item_step_defaults(session: Session, item_id: int, action: str) -> dict[str, Any]:
    """Return what the next step of one piece is offered as."""
    item = get_row(session, Item, item_id)
    return _defaults(session, load_batch(session, item.batch_id), action)


def _defaults(session: Session, rows: BatchRows, action: str) -> dict[str, Any]:
    offered = OFFERED.get(action, ())
    values = {**_last(session, action), **_read_now(rows, action), **_planned(rows, action)}
    if "bath_id" in offered and "bath_id" not in values:
        baths = kept(session, Bath)
        values["bath_id"] = baths[0].id if baths else None
    if values.get("temperature_K") is not None:
        values["temperature_K"] = Doubtful(values["temperature_K"], "sure")
    return {name: value for name, value in values.items() if name in offered and value is not None}


def _last(session: Session, action: str) -> dict[str, Any]:
    """Return how the shop did this step the last time."""
    kind = KIND_OF_ACTION.get(action, action)
    query = select(Step).where(Step.kind == kind, col(Step.deleted_at).is_(None))
    last = session.exec(query.order_by(col(Step.id).desc()).limit(1)).first()
    return {name: getattr(last, name) for name in LAST_FIELDS} if last else {}


def _read_now(rows: BatchRows, action: str) -> dict[str, Any]:
    """Return the temperature that was noted last, for the start of a soak."""
    if action != "at_heat" or not rows.heat_notes:
        return {}
    return {"temperature_K": max(rows.heat_notes, key=lambda note: note.noted_at).temperature_K}


def _planned(rows: BatchRows, action: str) -> dict[str, Any]:
    """Return what the batch's plan says about this step; a heat read off the fire goes before it."""
    if rows.plan is None or (action == "at_heat" and rows.heat_notes):
        return {}
    fields = {name: getattr(rows.plan, own) for name, own in PLAN_FIELDS.get(action, ())}
    return {name: value for name, value in fields.items() if value is not None}
