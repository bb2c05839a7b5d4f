"""The batches of an old table on their way into the logbook, held against what pages hold each of them.

A row is some twenty records, so they are checked here by the services' own rules and sent together
(`ManyRows`): by the services themselves each of them would be looked for, sent and read back alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlmodel import select

from webapp.services.batches import (
    BatchEntry,
    WriteUpEntry,
    next_number,
    refuse_day_to_come,
    refuse_tight,
)
from webapp.services.boxes import box_fits
from webapp.services.items import ItemEntry, free_letter, refuse_too_large, refuse_twin
from webapp.services.own_lines import merged
from webapp.services.readings import (
    ReadingEntry,
    check_after,
    check_depth,
    deepest_case_m,
    testers,
    usual_instrument,
)
from webapp.services.step_rules import check_moment, state_of
from webapp.services.steps import shop_zone
from webapp.store.many_rows import ManyRows
from webapp.store.tables import Bar, Batch, Box, Fire, Forge, Instrument, Item, Mix, Reading, Step
from webapp.store.unit_of_work import UnitOfWork


@dataclass
class OldBatch:
    """A batch of the table: its number in the logbook, its box, what was done, the letters in its box."""

    batch_id: int
    box: Box
    kinds: tuple[str, ...]
    letters: set[str] = field(default_factory=set)


class OldBook:
    """Takes batches, coupons and readings one by one; raises `StepRefused` as their pages would."""

    def __init__(self, work: UnitOfWork, rows: ManyRows) -> None:
        """Read once what every row is held against."""
        self._work, self._rows = work, rows
        self._number = next_number(work.session)
        self._today = work.now.astimezone(shop_zone(work)).date()
        self._testers = testers(work.session)
        # held, so that each is read once and not for every row
        self._shop = [list(work.session.exec(select(kind))) for kind in (Box, Forge, Mix, Instrument, Bar)]

    def write_up(self, entry: WriteUpEntry) -> OldBatch:
        """Take an old batch with its steps, as `batches.write_up` does."""
        batch = entry.batch
        refuse_day_to_come(batch.day, self._today)
        self._work.get(Mix, batch.mix_id)
        box, fire_id = self._light(batch)
        kinds = tuple(kind for kind, _ in entry.steps)
        batch_id = self._rows.add(
            Batch,
            number=self._number,
            state=state_of(kinds),
            fire_id=fire_id,
            box_id=batch.box_id,
            mix_id=batch.mix_id,
            day=batch.day or self._today,
            note=batch.note,
            own_lines=merged({}, batch.own_answers),
            typed=entry.typed,
        )
        self._number += 1
        for order, (kind, step) in enumerate(entry.steps):
            self._rows.add(Step, batch_id=batch_id, kind=kind, order=order, **step.fields())
        return OldBatch(batch_id, box, kinds)

    def _light(self, entry: BatchEntry) -> tuple[Box, int]:
        box = self._work.get(Box, entry.box_id)
        refuse_tight(box_fits(self._work.get(Forge, entry.forge_id), [box]))
        self._work.get(Instrument, entry.heat_instrument_id)
        heat = {"forge_id": entry.forge_id, "heat_instrument_id": entry.heat_instrument_id}
        return box, self._rows.add(Fire, **heat)

    def add_coupon(self, old: OldBatch, entry: ItemEntry, readings: Sequence[ReadingEntry]) -> None:
        """Take a coupon of a batch with what was read off it, as `add_item` and `add_readings` do."""
        refuse_too_large(old.box, entry)
        self._work.get(Bar, entry.bar_id)
        mark = entry.mark or free_letter(old.letters)
        refuse_twin(mark, old.letters)
        checked = [self._checked(old, entry, one) for one in readings]
        unmarked = {"mark": mark, "steel_mark": "", "steel_sign": ""}  # nobody cuts a mark into it any more
        item_id = self._rows.add(Item, batch_id=old.batch_id, **(vars(entry) | unmarked))
        old.letters.add(mark)
        for one in checked:
            told: dict[str, Any] = one.fields() | {"measured_at": one.at or self._work.now}
            self._rows.add(Reading, item_id=item_id, **told)

    def _checked(self, old: OldBatch, piece: ItemEntry, entry: ReadingEntry) -> ReadingEntry:
        check_after(old.kinds, entry.after)
        if entry.kind == "depth" and entry.value is not None:
            check_depth(entry.value, deepest_case_m(piece))
        if entry.at is not None:
            check_moment(entry.at, self._work.now, ())
        return replace(entry, instrument_id=usual_instrument(self._testers, entry))
