"""The standard job on what a shop has: the yardstick of "12 % slower than the books say"."""

from __future__ import annotations

from sqlmodel import Session

from model.dated_changes import Loosened
from model.learnt import STANDARD_ROD_M, standard_job
from model.process import Keys, Process
from webapp.services.batch_rows import kept, last_of, row_id
from webapp.services.box_rows import Work, packed
from webapp.services.dated_changes import changes_up_to_now
from webapp.services.processes import heat_key, smallest_inner_m, supply_of_mix
from webapp.store.tables import Batch, Box, Fire, Instrument, Mix
from webapp.store.unit_of_work import AnyRecord

STANDARD_LOAD = (Work(0.5 * STANDARD_ROD_M),)


def shop_jobs(session: Session) -> tuple[Process, ...]:
    """Return a standard job for each mix as the shop last ran it, then one for each other heat and box."""
    batch = last_of(session, Batch)
    fire = session.get(Fire, batch.fire_id) if batch else None
    mixes = _first(kept(session, Mix), batch.mix_id if batch else None)
    boxes = _first(kept(session, Box), batch.box_id if batch else None)
    heats = _first(
        kept(session, Instrument, Instrument.role == "heat"), fire.heat_instrument_id if fire else None
    )
    if not (mixes and boxes and heats):
        return ()
    now = changes_up_to_now(session)
    usual = [_job(mix, boxes[0], heats[0], now) for mix in mixes]
    other_boxes = [_job(mixes[0], box, heats[0], now) for box in boxes[1:]]
    other_heats = [_job(mixes[0], boxes[0], heat, now) for heat in heats[1:]]
    return (*usual, *other_boxes, *other_heats)


def _first(rows: list[AnyRecord], record_id: int | None) -> list[AnyRecord]:
    """Return rows with one of them moved to the front."""
    return sorted(rows, key=lambda row: row.id != record_id)


def _job(mix: Mix, box: Box, heat: Instrument, now: tuple[Loosened, ...]) -> Process:
    keys = Keys(mix=str(row_id(mix)), box=str(row_id(box)), heat_method=heat_key(heat), loosened=now)
    return standard_job(keys, supply_of_mix(mix), smallest_inner_m(box), packed(box, mix, STANDARD_LOAD))
