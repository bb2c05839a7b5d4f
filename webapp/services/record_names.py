"""What a record is called, what it hangs on, and where its page is: for the bin and for the history."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from webapp.services.change_words import LABELS
from webapp.services.dated_changes import LISTS_OF_ROLE
from webapp.services.events import EVENT_WORDS
from webapp.services.reading_words import KIND_WORDS, say_reading
from webapp.services.showing import Showing
from webapp.services.step_rules import STEP_WORDS
from webapp.store.tables import (
    Bar,
    Batch,
    Bath,
    Box,
    BroughtIn,
    Event,
    Fire,
    Forge,
    GasWeighing,
    HeatNote,
    Instrument,
    InstrumentCheck,
    Item,
    Mix,
    OwnLine,
    Part,
    PartPrice,
    Photo,
    Plan,
    PlanSupplies,
    Prices,
    Reading,
    Record,
    Reminder,
    Shop,
    ShopChange,
    Step,
)

ROLE_WORDS = {"heat": "way of telling heat", "hardness": "tester", "oven": "oven"}
TABLE_WORDS: Mapping[type[Record], str] = {
    Shop: "shop",
    Forge: "forge",
    Instrument: "instrument",
    InstrumentCheck: "check",
    Box: "box",
    Mix: "mix",
    Bath: "bath",
    Bar: "bar",
    Part: "part",
    Prices: "prices",
    PartPrice: "prices of a part",
    Plan: "plan",
    PlanSupplies: "supplies of a plan",
    Fire: "fire",
    GasWeighing: "weighed bottle",
    Batch: "batch",
    Item: "piece",
    Step: "step",
    HeatNote: "noted temperature",
    Event: "what happened",
    Reading: "reading",
    Photo: "photo",
    ShopChange: "dated change",
    BroughtIn: "table brought in",
    Reminder: "reminder",
    OwnLine: "line of the shop's own",
}
KINDS: Mapping[str, type[Record]] = {kind.__name__.lower(): kind for kind in Record.__subclasses__()}
NOT_THERE = "something that is not there any more"


@dataclass(frozen=True)
class Named:
    """A record in words: what kind, its own name, what it hangs on, the page of that or of itself."""

    kind: str
    name: str
    on: str = ""
    href: str = ""
    owner: Record | None = None

    @property
    def words(self) -> str:
        """Return kind and name, as in piece Standard pin A."""
        return f"{self.kind} {self.name}".strip()


def kind_words(kind: type[Record]) -> str:
    """Return what records of a table are called; a table without words of its own by its name."""
    return TABLE_WORDS.get(kind) or re.sub("(?<=[a-z])(?=[A-Z])", " ", kind.__name__).lower()


def name_of(session: Session, row: Record, showing: Showing) -> Named:
    """Return a record in words; one that is in the bin too."""
    tell = _TELL.get(type(row))
    if tell is not None:
        return tell(session, row, showing)
    name = getattr(row, "name", "") or getattr(row, "label", "")
    return Named(kind_words(type(row)), str(name), href=_PLAIN_PAGES.get(type(row), "").format(row.id))


_PLAIN_PAGES: Mapping[type[Record], str] = {
    Shop: "/shop/settings",
    Forge: "/shop/forges/{}",
    Box: "/shop/boxes/{}",
    Mix: "/shop/mixes/{}",
    Bath: "/shop/baths/{}",
    Bar: "/bars/{}",
    Part: "/parts/{}",
    Prices: "/shop/prices",
}


def _instrument(_session: Session, row: Instrument, _showing: Showing) -> Named:
    return Named(ROLE_WORDS[row.role], row.name, href=f"/shop/{LISTS_OF_ROLE[row.role]}/{row.id}")


def _check(session: Session, row: InstrumentCheck, showing: Showing) -> Named:
    owner = session.get(Instrument, row.instrument_id)
    page = f"/shop/{LISTS_OF_ROLE[owner.role]}/{owner.id}/checks" if owner else ""
    on = owner.name if owner else NOT_THERE
    return Named("check", f"of {showing.day(row.checked_on)} against {row.against}", on, page, owner)


def _part_price(session: Session, row: PartPrice, _showing: Showing) -> Named:
    owner = session.get(Part, row.part_id)
    return Named("prices of a part", "", owner.name if owner else NOT_THERE, f"/parts/{row.part_id}", owner)


def _plan(session: Session, row: Plan, showing: Showing) -> Named:
    owner = session.get(Part, row.part_id)
    name = f"{row.id} of {showing.day(row.created_at)}"
    return Named("plan", name, owner.name if owner else NOT_THERE, f"/plans/{row.id}", owner)


def _supplies(session: Session, row: PlanSupplies, _showing: Showing) -> Named:
    owner = session.get(Plan, row.plan_id)
    return Named("supplies of a plan", "", f"plan {row.plan_id}", f"/plans/{row.plan_id}/supplies", owner)


def _batches_of(session: Session, fire_id: int) -> tuple[str, str, Batch | None]:
    rows = session.exec(select(Batch).where(Batch.fire_id == fire_id).order_by(col(Batch.id))).all()
    numbers = " and ".join(str(batch.number) for batch in rows)
    return f"batch {numbers}", f"/batches/{rows[0].id}" if rows else "", rows[0] if rows else None


def _fire(session: Session, row: Fire, _showing: Showing) -> Named:
    on, page, owner = _batches_of(session, row.id or 0)
    return Named("fire", "", on, page, owner)


def _weighing(session: Session, row: GasWeighing, showing: Showing) -> Named:
    on, page, owner = _batches_of(session, row.fire_id)
    return Named("weighed bottle", f"of {showing.day(row.created_at)}", on, f"{page}/gas", owner)


def _note(session: Session, row: HeatNote, showing: Showing) -> Named:
    on, page, owner = _batches_of(session, row.fire_id)
    told = f"{showing.temperature(row.temperature_K)} at {showing.moment(row.noted_at)}"
    return Named("noted temperature", told, on, page, owner)


def _batch(_session: Session, row: Batch, showing: Showing) -> Named:
    return Named("batch", f"{row.number} of {showing.day(row.day)}", href=f"/batches/{row.id}")


def _on_batch(session: Session, batch_id: int | None) -> tuple[str, str, Batch | None]:
    owner = session.get(Batch, batch_id or 0)
    return f"batch {owner.number}" if owner else NOT_THERE, f"/batches/{batch_id}", owner


def _item(session: Session, row: Item, _showing: Showing) -> Named:
    on, _, owner = _on_batch(session, row.batch_id)
    kind = "coupon" if row.kind == "coupon" else "piece"
    return Named(kind, f"{row.name} {row.mark}".rstrip(), on, f"/items/{row.id}", owner)


def _on_piece(session: Session, item_id: int | None) -> tuple[str, str, Record | None]:
    owner = session.get(Item, item_id or 0)
    if owner is None:
        return NOT_THERE, "", None
    batch, _, _ = _on_batch(session, owner.batch_id)
    return f"{owner.name} {owner.mark}".rstrip() + f", {batch}", f"/items/{item_id}", owner


def _on_either(session: Session, item_id: int | None, batch_id: int | None) -> tuple[str, str, Record | None]:
    return _on_piece(session, item_id) if item_id is not None else _on_batch(session, batch_id)


def _step(session: Session, row: Step, showing: Showing) -> Named:
    on, page, owner = _on_either(session, row.item_id, row.batch_id)
    when = f", {showing.moment(row.started_at)}" if row.started_at else ""
    return Named("step", f"{STEP_WORDS.get(row.kind, row.kind).lower()}{when}", on, page, owner)


def _event(session: Session, row: Event, showing: Showing) -> Named:
    on, page, owner = _on_batch(session, row.batch_id)
    told = f"{EVENT_WORDS.get(row.kind, row.kind).lower()}, {showing.moment(row.happened_at)}"
    return Named("what happened:", told, on, page, owner)


def _reading(session: Session, row: Reading, showing: Showing) -> Named:
    on, page, owner = _on_piece(session, row.item_id)
    return Named("reading", f"{KIND_WORDS[row.kind].lower()} {say_reading(row, showing)}", on, page, owner)


def _photo(session: Session, row: Photo, showing: Showing) -> Named:
    on, page, owner = _on_either(session, row.item_id, row.batch_id)
    return Named("photo", row.caption or f"of {showing.day(row.created_at)}", on, page, owner)


OWNERS = ("forge", "instrument", "box", "mix", "bath")


def _change(session: Session, row: ShopChange, showing: Showing) -> Named:
    named = ((name, getattr(row, f"{name}_id")) for name in OWNERS)
    key, owner_id = next((name, found) for name, found in named if found is not None)
    owner: Any = session.get(KINDS[key], owner_id)
    told = f"{LABELS.get(row.kind, row.kind).lower()}, {showing.day(row.changed_on)}"
    return Named("dated change:", told, owner.name if owner else NOT_THERE, "/forge/changes", owner)


def _brought(_session: Session, row: BroughtIn, _showing: Showing) -> Named:
    return Named("table brought in:", row.file_name, href="/bring-in")


def _reminder(_session: Session, row: Reminder, _showing: Showing) -> Named:
    return Named("reminder:", row.what, href="/shop/reminders")


def _own_line(_session: Session, row: OwnLine, _showing: Showing) -> Named:
    return Named("line of the shop's own:", row.label, href="/shop/own-lines")


_TELL: Mapping[type[Record], Callable[[Session, Any, Showing], Named]] = {
    Instrument: _instrument,
    InstrumentCheck: _check,
    PartPrice: _part_price,
    Plan: _plan,
    PlanSupplies: _supplies,
    Fire: _fire,
    GasWeighing: _weighing,
    HeatNote: _note,
    Batch: _batch,
    Item: _item,
    Step: _step,
    Event: _event,
    Reading: _reading,
    Photo: _photo,
    ShopChange: _change,
    BroughtIn: _brought,
    Reminder: _reminder,
    OwnLine: _own_line,
}
