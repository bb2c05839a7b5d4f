"""What was done to a batch: noting a step, correcting it, taking back a wrong one."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import col, select

from webapp.services.batch_rows import aware, begun, row_id, steps_of
from webapp.services.step_rules import (
    GIVEN_UP,
    IN_THE_FIRE,
    MEASURED,
    STATE_WORDS,
    StepRefused,
    check_moment,
    next_actions,
    state_of,
)
from webapp.store.errors import NotFound
from webapp.store.tables import Batch, Fire, Item, Plan, Shop, Step
from webapp.store.unit_of_work import UnitOfWork

STRAIGHT_TO_BATH = "straight_to_bath"
HOT_TO_BATH = (STRAIGHT_TO_BATH, "quench")
ASKED_WITH = {"temperature_spread_K": "temperature_K", "seconds_spread": "seconds"}


@dataclass(frozen=True)
class StepEntry:
    """One step as its form tells it, in SI; `at` None means now."""

    at: datetime | None = None
    insisted: bool = False
    temperature_K: float | None = None
    temperature_spread_K: float = 0.0
    seconds: float | None = None
    seconds_spread: float = 0.0
    bath_id: int | None = None
    instrument_id: int | None = None
    settings: dict[str, Any] = field(default_factory=dict)
    typed: dict[str, Any] = field(default_factory=dict)
    note: str = ""

    def fields(self) -> dict[str, Any]:
        """Return what goes into a step's row, but for its time and kind."""
        left_out = ("at", "insisted")
        return {name: value for name, value in vars(self).items() if name not in left_out}


@dataclass(frozen=True)
class _Noting:
    """One step on its way into the logbook."""

    work: UnitOfWork
    batch: Batch
    steps: list[Step]
    action: str
    at: datetime
    entry: StepEntry

    def add(self, kind: str, at: datetime, entry: StepEntry, after: int = 0) -> Step:
        """Save one row of the time line, so many places after the last one."""
        order = len(self.steps) + after
        row = Step(batch_id=row_id(self.batch), kind=kind, order=order, started_at=at, **entry.fields())
        return self.work.add(row)


def record_step(
    work: UnitOfWork, batch_id: int, action: str, entry: StepEntry, version: int | None = None
) -> Batch:
    """Note the next thing done to a batch and move its state on."""
    batch = work.get(Batch, batch_id)
    steps = steps_of(work.session, batch_id=batch_id)
    kinds = [step.kind for step in steps]
    if action not in next_actions(batch.state, kinds):
        state = STATE_WORDS[batch.state]
        raise StepRefused(
            "", f"The batch is {state} by now, so this cannot be noted. Look at its page again."
        )
    at = entry.at or noted_moment(work, steps, entry)
    check_moment(at, work.now, begun(steps), insisted=entry.insisted)
    work.change(batch, version)
    _RECORDERS.get(action, _note_plain)(_Noting(work, batch, steps, action, at, entry))
    if batch.state != MEASURED:
        kinds = [step.kind for step in steps_of(work.session, batch_id=batch_id)]
        work.change(batch, state=state_of(kinds))
    return batch


def noted_moment(work: UnitOfWork, earlier: Sequence[Step], entry: StepEntry) -> datetime:
    """Return when a step began that is noted now, at its end; never before the step ahead of it."""
    began = work.now - timedelta(seconds=entry.seconds or 0.0)
    known = [aware(step.started_at) for step in earlier if step.started_at is not None]
    return max([began, *known]) if entry.seconds else work.now


def _note_plain(noting: _Noting) -> None:
    noting.add(noting.action, noting.at, noting.entry)


def _note_box_in(noting: _Noting) -> None:
    _note_plain(noting)
    noting.work.change(noting.batch, day=noting.at.astimezone(shop_zone(noting.work)).date())


def _note_soak(noting: _Noting) -> None:
    """Start the soak clock, at the box-in where the shop counts from there."""
    at, work = noting.at, noting.work
    box_in = next((step.started_at for step in noting.steps if step.kind == "box_in"), None)
    if noting.entry.settings.get("clock_from") == "box_in" and box_in is not None:
        at = aware(box_in)
    fire = work.get(Fire, noting.batch.fire_id)
    plan = work.session.get(Plan, noting.batch.plan_id) if noting.batch.plan_id else None
    entry = replace(
        noting.entry,
        instrument_id=noting.entry.instrument_id or fire.heat_instrument_id,
        temperature_K=noting.entry.temperature_K or (plan.temperature_K if plan else None),
    )
    noting.add("soak", at, entry)


def _note_box_out(noting: _Noting) -> None:
    """Close the soak; the work that went straight from the box into the bath is quenched too."""
    close_soak(noting.work, noting.steps, noting.at)
    settings = dict(noting.entry.settings)
    then = settings.pop("then", "slow_cool")
    noting.add("box_out", noting.at, StepEntry(settings={"then": then}, note=noting.entry.note))
    if then == STRAIGHT_TO_BATH:
        quench = StepEntry(bath_id=noting.entry.bath_id, settings=settings, typed=noting.entry.typed)
        noting.add("quench", noting.at, quench, after=1)


def _note_measured(noting: _Noting) -> None:
    noting.work.change(noting.batch, state=MEASURED)


_RECORDERS = {
    "box_in": _note_box_in,
    "at_heat": _note_soak,
    "box_out": _note_box_out,
    "measured": _note_measured,
}


def close_soak(work: UnitOfWork, steps: list[Step], at: datetime) -> None:
    """Give the soak that is running its length, from its clock's start to this moment."""
    soak = next((step for step in reversed(steps) if step.kind == "soak"), None)
    if soak is not None and soak.started_at is not None:
        work.change(soak, seconds=(at - aware(soak.started_at)).total_seconds())


def shop_zone(work: UnitOfWork) -> ZoneInfo:
    """Return the zone of the shop whose logbook this is."""
    shop = work.session.get(Shop, 1)
    return ZoneInfo(shop.zone if shop else "UTC")


def correct_step(
    work: UnitOfWork, step_id: int, entry: StepEntry, asked: Collection[str], version: int | None = None
) -> Step:
    """Change what was `asked` about a step: when it was, how hot, how long, how sure the shop is of it."""
    step = work.get(Step, step_id)
    steps = steps_of(work.session, step.batch_id, step.item_id)
    _check_between(step, steps, entry, work.now)
    fields = {name: value for name, value in entry.fields().items() if ASKED_WITH.get(name, name) in asked}
    # what was asked and left empty is not known any more
    unasked = {name: value for name, value in step.settings.items() if name not in asked}
    fields["settings"] = {**unasked, **entry.settings}
    if step.kind == "soak" and entry.at is not None:
        fields |= {"seconds": None, "seconds_spread": 0.0}
    work.change(step, version, started_at=entry.at, typed=entry.typed, **fields)
    _follow_times(work, step, steps)
    return step


def _check_between(step: Step, steps: list[Step], entry: StepEntry, now: datetime) -> None:
    """Refuse a time before the step's forerunner or after its follower."""
    if entry.at is None:
        return
    place = steps.index(step)
    check_moment(entry.at, now, begun(steps[:place]), insisted=entry.insisted)
    later = [aware(s.started_at) for s in steps[place + 1 :] if s.started_at is not None]
    if later and entry.at > min(later):
        raise StepRefused("at", "That is after the next step was noted. Correct that one first.")


def _follow_times(work: UnitOfWork, step: Step, steps: list[Step]) -> None:
    """Keep the soak's start and length true after the box-in, the soak or the box-out was corrected."""
    by_kind = {each.kind: each for each in steps}
    box_in, soak, box_out = by_kind.get("box_in"), by_kind.get("soak"), by_kind.get("box_out")
    if soak is None or step not in (box_in, soak, box_out):
        return
    if soak.settings.get("clock_from") == "box_in" and box_in is not None and box_in.started_at is not None:
        work.change(soak, started_at=box_in.started_at)
    if box_out is not None and box_out.started_at is not None:
        close_soak(work, steps, aware(box_out.started_at))


def undo_step(work: UnitOfWork, step_id: int, version: int | None = None) -> Step:
    """Take back the last step that was noted, with what came of the same tap."""
    step = work.get(Step, step_id)
    steps = steps_of(work.session, step.batch_id, step.item_id)
    if steps[-1] is not step:
        raise StepRefused("step", "Only the last step can be taken back. Take back the later ones first.")
    work.remove(step, version)
    before = steps[-2] if len(steps) > 1 else None
    if step.kind == "quench" and before is not None and before.settings.get("then") in HOT_TO_BATH:
        work.remove(before)
    _stand_as_before(work, step)
    return step


def put_back_step(work: UnitOfWork, step_id: int) -> Step:
    """Take a step out of the bin again, with what went in by the same tap, unless others came since."""
    step = work.session.get(Step, step_id)
    if step is None:
        raise NotFound("step", step_id)
    if step.deleted_at is None:
        return step
    gone_at = step.deleted_at
    same = (col(Step.batch_id) == step.batch_id, col(Step.item_id) == step.item_id)
    together = [
        each
        for each in work.session.exec(select(Step).where(*same, col(Step.deleted_at) == gone_at))
        if each.life == step.life
    ]
    left = steps_of(work.session, step.batch_id, step.item_id)
    first = min(each.order for each in together)
    if any(each.order >= first for each in left):
        raise StepRefused("step", "Another step was noted in its place since. Take that one back first.")
    for each in together:
        work.put_back(each)
    _stand_as_noted(work, step)
    return step


def _stand_as_noted(work: UnitOfWork, step: Step) -> None:
    """Let the batch or piece stand where its steps say, and the soak end when the box came out."""
    steps = steps_of(work.session, step.batch_id, step.item_id)
    if step.item_id is not None:
        own_path = any(each.life == 1 for each in steps)
        work.change(work.get(Item, step.item_id), own_path=own_path)
        return
    out = next((each for each in steps if each.kind == "box_out"), None)
    if out is not None and out.started_at is not None:
        close_soak(work, steps, aware(out.started_at))
    batch = work.get(Batch, step.batch_id or 0)
    if batch.state not in (MEASURED, GIVEN_UP):
        work.change(batch, state=state_of([each.kind for each in steps]))


def _stand_as_before(work: UnitOfWork, step: Step) -> None:
    """Let the batch or piece stand where its remaining steps say."""
    left = steps_of(work.session, step.batch_id, step.item_id)
    if step.item_id is not None:
        own_path = any(each.life == 1 for each in left)
        work.change(work.get(Item, step.item_id), own_path=own_path)
        return
    soak = next((each for each in left if each.kind == "soak"), None)
    kinds = [each.kind for each in left]
    if soak is not None and soak.started_at is not None and "box_out" not in kinds:
        work.change(soak, seconds=None)
    batch = work.get(Batch, step.batch_id or 0)
    stays_measured = batch.state == MEASURED and step.kind == "temper"
    work.change(batch, state=MEASURED if stays_measured else state_of(kinds))


def reopen_batch(work: UnitOfWork, batch_id: int, version: int | None = None) -> Batch:
    """Take back "all measured" or "given up": the batch stands where its steps say."""
    batch = work.get(Batch, batch_id)
    kinds = [step.kind for step in steps_of(work.session, batch_id=batch_id)]
    work.change(batch, version, state=state_of(kinds), given_up_why="")
    return batch


def give_up(work: UnitOfWork, batch_id: int, why: str, version: int | None = None) -> Batch:
    """End a batch early, with the reason."""
    batch = work.get(Batch, batch_id)
    steps = steps_of(work.session, batch_id=batch_id)
    if batch.state == IN_THE_FIRE and not any(step.kind == "box_out" for step in steps):
        close_soak(work, steps, work.now)
    work.change(batch, version, state=GIVEN_UP, given_up_why=why)
    return batch
