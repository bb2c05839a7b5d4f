"""Reminders tied to use: counted from the fires in the logbook and the calendar, quiet until they are due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session

from webapp.forms.ask import Choice
from webapp.forms.reminders import ReminderForm
from webapp.services.batch_rows import kept, row_id, take_back
from webapp.services.choices import named
from webapp.services.heats_seen import used_from
from webapp.services.sheets import NotAccepted
from webapp.services.showing import Showing, plural
from webapp.services.whole_book import grouped
from webapp.store.tables import Bath, Box, Forge, Instrument, Mix, Reminder
from webapp.store.unit_of_work import UnitOfWork

HREF = "/shop/reminders"
NO_THING = Choice("", "Nothing of the shop's")
LISTS = (
    ("baths", "bath", Bath, ()),
    ("boxes", "box", Box, ()),
    ("mixes", "mix", Mix, ()),
    ("heats", "heat known by", Instrument, (Instrument.role == "heat",)),
    ("testers", "tester", Instrument, (Instrument.role == "hardness",)),
    ("ovens", "oven", Instrument, (Instrument.role == "oven",)),
    ("forges", "forge", Forge, ()),
)


@dataclass(frozen=True)
class ReminderView:
    """One reminder: what, of what, how far it is, and whether it is due."""

    record_id: int
    version: int
    what: str
    thing: str
    when: str
    so_far: str
    is_due: bool
    href: str


def thing_choices(session: Session) -> list[Choice]:
    """Return what uses can be counted of, each by the name of its list and its number."""
    found = [
        Choice(f"{key}:{choice.value}", f"{words}: {choice.label}")
        for key, words, kind, conditions in LISTS
        for choice in named(session, kind, *conditions)
    ]
    return [*found, NO_THING]


def view_reminders(session: Session, today: date, showing: Showing) -> tuple[ReminderView, ...]:
    """Return every reminder, those that are due first."""
    rows = kept(session, Reminder)
    uses = _uses_since(session, rows)
    names = {choice.value: choice.label for choice in thing_choices(session)} if rows else {}
    views = [_view(row, uses[row_id(row)], names, today, showing) for row in rows]
    return tuple(sorted(views, key=lambda view: not view.is_due))


def due_now(session: Session, today: date, showing: Showing) -> tuple[ReminderView, ...]:
    """Return the reminders that are due."""
    return tuple(view for view in view_reminders(session, today, showing) if view.is_due)


def _uses_since(session: Session, rows: Sequence[Reminder]) -> dict[int, int]:
    """Return how often the thing of each reminder was used since it was done last."""
    found = dict.fromkeys((row_id(row) for row in rows), 0)
    asked = [row for row in rows if row.thing_id is not None]
    for (key, day), own in grouped(asked, lambda row: (row.list_key, row.done_on)).items():
        things = {row.thing_id: day + timedelta(days=1) for row in own if row.thing_id is not None}
        uses = used_from(session, key, things)
        found |= {row_id(row): uses.get(row.thing_id or 0, 0) for row in own}
    return found


def _view(row: Reminder, uses: int, names: dict[str, str], today: date, showing: Showing) -> ReminderView:
    passed = (today - row.done_on) / timedelta(days=1)
    limits = [plural(row.after_uses, "use")] if row.after_uses else []
    limits += [plural(row.after_days, "day")] if row.after_days else []
    counted = [plural(uses, "use")] if row.after_uses else []
    counted += [plural(max(int(passed), 0), "day")] if row.after_days else []
    is_due = bool(
        (row.after_uses and uses >= row.after_uses) or (row.after_days and passed >= row.after_days)
    )
    return ReminderView(
        row_id(row),
        row.version,
        row.what,
        names.get(f"{row.list_key}:{row.thing_id}", "taken away since") if row.list_key else "",
        "after " + " or ".join(limits),
        f"{' and '.join(counted)} since {showing.day(row.done_on)}",
        is_due,
        f"{HREF}/{row.id}",
    )


def add_reminder(work: UnitOfWork, form: ReminderForm, today: date) -> str:
    """Keep a reminder; raises `NotAccepted` beside the field."""
    key, _, thing = form.thing.partition(":")
    if form.thing not in {choice.value for choice in thing_choices(work.session)}:
        raise NotAccepted({"thing": "That is not in the list. Pick one of the choices shown."})
    if form.done_on > today:
        raise NotAccepted({"done_on": f"That day is still to come. Today is {today.isoformat()}."})
    work.add(
        Reminder(
            what=form.what,
            list_key=key,
            thing_id=int(thing) if thing else None,
            after_uses=form.after_uses,
            after_days=form.after_days,
            done_on=form.done_on,
        )
    )
    return HREF


def mark_done(work: UnitOfWork, reminder_id: int, today: date, version: int | None) -> str:
    """Begin to count anew."""
    work.change(work.get(Reminder, reminder_id), version, done_on=today)
    return HREF


def remove_reminder(work: UnitOfWork, reminder_id: int, version: int | None) -> str:
    """Put a reminder in the bin."""
    work.remove(work.get(Reminder, reminder_id), version)
    return HREF


def put_back_reminder(work: UnitOfWork, reminder_id: int) -> str:
    """Take a reminder out of the bin."""
    take_back(work, Reminder, reminder_id)
    return HREF
