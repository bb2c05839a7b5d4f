"""What the form of a step offers: the plan's numbers, else what was read or done last."""

from __future__ import annotations

from typing import Any

from sqlmodel import Session, col, select

from webapp.forms.ask import Doubtful
from webapp.services.batch_rows import BatchRows, get_row, kept, kinds_in_life, load_batch
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
LAST_SETTINGS = ("wrapping", "flame")
OFFERED = {
    "at_heat": ("temperature_K",),
    "reheat": ("temperature_K", "seconds", "instrument_id", *LAST_SETTINGS),
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
    values = _defaults(session, load_batch(session, item.batch_id), action)
    reheated = "reheat" in kinds_in_life(session, item, item.life)
    return values | _set_out(item.remedy if item.life > 1 else {}, action, reheated)


def _defaults(session: Session, rows: BatchRows, action: str) -> dict[str, Any]:
    offered = OFFERED.get(action, ())
    values = {
        **_last(session, action),
        **_read_now(rows, action),
        **_planned(rows, action),
        **_as_before(rows, action),
    }
    if "bath_id" in offered and "bath_id" not in values:
        baths = kept(session, Bath)
        values["bath_id"] = baths[0].id if baths else None
    values = _as_offered(values)
    return {name: value for name, value in values.items() if name in offered and value is not None}


def _set_out(remedy: dict[str, Any], action: str, reheated: bool) -> dict[str, Any]:
    """Return what was set out to do to put a piece right; the first heat may be to even its carbon out."""
    if action == "reheat" and remedy.get("way") == "even_out" and not reheated:
        return _as_offered({"temperature_K": remedy.get("temperature_K"), "seconds": remedy.get("soak_s")})
    return _as_offered(_numbers(remedy, action))


def _numbers(remedy: dict[str, Any], action: str) -> dict[str, Any]:
    found = {name: remedy.get(own) for name, own in PLAN_FIELDS.get(action, ())}
    return {name: value for name, value in found.items() if value is not None}


def _as_offered(values: dict[str, Any]) -> dict[str, Any]:
    """Return numbers as the form of a step takes them."""
    if values.get("temperature_K") is not None:
        values["temperature_K"] = Doubtful(values["temperature_K"], "sure")
    return values


def _last(session: Session, action: str) -> dict[str, Any]:
    """Return how the shop did this step the last time."""
    kind = KIND_OF_ACTION.get(action, action)
    query = select(Step).where(Step.kind == kind, col(Step.deleted_at).is_(None))
    last = session.exec(query.order_by(col(Step.id).desc()).limit(1)).first()
    if last is None:
        return {}
    noted = {name: last.settings[name] for name in LAST_SETTINGS if name in last.settings}
    return {name: getattr(last, name) for name in LAST_FIELDS} | noted


def _read_now(rows: BatchRows, action: str) -> dict[str, Any]:
    """Return the temperature that was noted last, for the start of a soak."""
    if action != "at_heat" or not rows.heat_notes:
        return {}
    return {"temperature_K": max(rows.heat_notes, key=lambda note: note.noted_at).temperature_K}


def _as_before(rows: BatchRows, action: str) -> dict[str, Any]:
    """Return how this step was done in the batch that this one repeats; a heat just read goes before."""
    kind = KIND_OF_ACTION.get(action, action)
    step = next((one for one in rows.as_steps if one.kind == kind), None)
    if step is None or (action == "at_heat" and rows.heat_notes):
        return {}
    noted = {name: step.settings[name] for name in LAST_SETTINGS if name in step.settings}
    done = {name: getattr(step, name) for name in LAST_FIELDS} | noted
    return {name: value for name, value in done.items() if value is not None}


def _planned(rows: BatchRows, action: str) -> dict[str, Any]:
    """Return what the batch's plan says about this step; a heat read off the fire goes before it.

    A batch that is only there to put a piece right has no plan, but what was then set out to do.
    """
    if action == "at_heat" and rows.heat_notes:
        return {}
    if rows.plan is None:
        remedies = [item.remedy for item in rows.items if item.from_item_id is not None]
        return _numbers(remedies[0], action) if remedies else {}
    fields = {name: getattr(rows.plan, own) for name, own in PLAN_FIELDS.get(action, ())}
    return {name: value for name, value in fields.items() if value is not None}
