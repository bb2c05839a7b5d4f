"""The fields of a record as its form calls them, and their values in the shop's units and zone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import Date, DateTime
from sqlmodel import Session

from webapp.forms.ask import Ask
from webapp.forms.bars import BarForm
from webapp.forms.batches import BatchForm, WriteUpForm
from webapp.forms.changes import ThingChangeForm
from webapp.forms.events import EventForm, HeatNoteForm
from webapp.forms.instruments import HardnessCheckForm, HeatCheckForm, HeatForm, OvenForm, TesterForm
from webapp.forms.items import CouponForm, PartItemForm
from webapp.forms.kit import Form
from webapp.forms.numbers import amount
from webapp.forms.own_lines import OwnLineChangeForm, OwnLineForm
from webapp.forms.parts import PartForm
from webapp.forms.photos import CaptionForm
from webapp.forms.plans import PlanForm
from webapp.forms.readings import BendForm, DepthForm, HardnessForm, OneFileForm, SizeForm
from webapp.forms.reminders import ReminderForm
from webapp.forms.shop import BathForm, BoxForm, ForgeForm, MixForm
from webapp.forms.steps import (
    AtHeatForm,
    BoxInForm,
    BoxOutForm,
    DrawnForm,
    QuenchForm,
    ReheatForm,
    TemperForm,
)
from webapp.forms.supplies import GasForm, PartPriceForm, PricesForm, SuppliesForm
from webapp.forms.welcome import ShopSettingsForm
from webapp.services.record_names import KINDS, name_of
from webapp.services.showing import Showing, say_duration
from webapp.services.step_rules import STATE_WORDS
from webapp.services.words import give_or_take, heavy
from webapp.store.tables import Instrument, OwnLine, Reading, Record

FORMS: Mapping[str, tuple[type[Form], ...]] = {
    "shop": (ShopSettingsForm,),
    "forge": (ForgeForm,),
    "box": (BoxForm,),
    "mix": (MixForm,),
    "bath": (BathForm,),
    "bar": (BarForm,),
    "part": (PartForm,),
    "prices": (PricesForm,),
    "partprice": (PartPriceForm,),
    "plan": (PlanForm,),
    "plansupplies": (SuppliesForm,),
    "gasweighing": (GasForm,),
    "instrument": (HeatForm, TesterForm, OvenForm),
    "instrumentcheck": (HeatCheckForm, HardnessCheckForm),
    "batch": (BatchForm, WriteUpForm),
    "item": (CouponForm, PartItemForm),
    "step": (BoxInForm, AtHeatForm, BoxOutForm, ReheatForm, QuenchForm, TemperForm, DrawnForm),
    "heatnote": (HeatNoteForm,),
    "event": (EventForm,),
    "reading": (HardnessForm, DepthForm, OneFileForm, BendForm, SizeForm),
    "photo": (CaptionForm,),
    "shopchange": (ThingChangeForm,),
    "reminder": (ReminderForm,),
    "ownline": (OwnLineForm, OwnLineChangeForm),
}
OWN_LABELS = {
    "left_out_why": "Set aside because",
    "given_up_why": "Given up because",
    "scrapped_why": "Thrown away because",
    "state": "Stands as",
    "started_at": "Began",
    "seconds": "Lasted",
    "seconds_spread": "Lasted, give or take",
    "temperature_K": "Heat",
    "temperature_spread_K": "Heat, give or take",
    "spread": "Give or take",
    "own_path": "Goes its own way",
    "from_item_id": "Same piece as",
    "as_batch_id": "Made as",
    "is_demo": "Invented demo",
    "heat_instrument_id": "Heat known by",
    "fire_id": "Fire",
    "plan_id": "Plan",
    "day": "Day",
    "measured_at": "Measured",
    "happened_at": "Happened",
    "noted_at": "Noted",
    "happened_on": "Day",
}
UNSHOWN = ("typed", "deleted_at", "order", "remedy", "life", "measured", "reading_id", "result", "version")
NOTHING = "nothing"


@dataclass(frozen=True)
class Teller:
    """Says the fields of one record; `row` is it as it stands now, None if it is gone for good."""

    session: Session
    table: str
    row: Record | None
    showing: Showing

    def lines(self, before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[str, ...]:
        """Return each field that changed with its old and its new value."""
        return tuple(
            f"{label}: {old} → {new}"
            for name in before
            if name not in UNSHOWN
            for label, old, new in self._pairs(name, before[name], after.get(name))
            if old != new
        )

    def _pairs(self, name: str, old: Any, new: Any) -> Iterator[tuple[str, str, str]]:
        """Give label, old and new value; what is kept together is told one by one."""
        if not (isinstance(old, dict) or isinstance(new, dict)):
            yield self.label(name), self.say(name, old), self.say(name, new)
            return
        old, new = (value if isinstance(value, dict) else {} for value in (old, new))
        for key in dict.fromkeys([*old, *new]):
            label = self._own_line(key) if name == "own_lines" else self.label(key)
            yield label, self.say(key, old.get(key)), self.say(key, new.get(key))

    def _own_line(self, key: str) -> str:
        line = self.session.get(OwnLine, int(key))
        return line.label if line is not None else f"Line {key}"

    def label(self, name: str) -> str:
        """Return a field as its form calls it."""
        asked = _asked(self.table).get(name)
        if name in OWN_LABELS:
            return OWN_LABELS[name]
        return asked.label.rstrip("?") if asked is not None else _words(name)

    def say(self, name: str, value: Any) -> str:
        """Return a kept value in words."""
        if value is None or value in ("", [], {}):
            return NOTHING
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, list):
            return _short(", ".join(self.say(name, each) for each in value))
        asked = _asked(self.table).get(name)
        offered = {choice.value: choice.label for choice in asked.choices} if asked is not None else {}
        if str(value) in offered:
            return offered[str(value)].lower()
        if isinstance(value, str):
            return self._text(name, value)
        if isinstance(value, int | float):
            return self._number(name, value)
        return _short(
            "; ".join(f"{_words(key).lower()} {self.say(key, each)}" for key, each in value.items())
        )

    def _text(self, name: str, value: str) -> str:
        column = getattr(KINDS[self.table], "__table__").columns.get(name)  # noqa: B009
        kind = getattr(column.type, "impl_instance", column.type) if column is not None else None
        if isinstance(kind, DateTime):
            return self.showing.moment(datetime.fromisoformat(value))
        if isinstance(kind, Date):
            return self.showing.day(date.fromisoformat(value))
        if name == "state":
            return STATE_WORDS.get(value, value)
        return _short(value.replace("_", " "))

    def _number(self, name: str, value: float) -> str:
        if name.endswith("_id"):
            return self._named(name, int(value))
        if self.table == "reading" and name in ("value", "low", "high") and isinstance(self.row, Reading):
            unit = self.row.unit or "HRC"
            return self.showing.length(value) if unit == "m" else f"{value:g} {unit}"
        if name in ("spread", "known", "reading"):
            return self._on_instrument(name, value)
        say = next((say for ending, say in _BY_ENDING.items() if name.endswith(ending)), None)
        return say(self.showing, value) if say is not None else f"{value:g}"

    def _named(self, name: str, record_id: int) -> str:
        key = name.removesuffix("_id").removeprefix("heat_").removeprefix("from_").removeprefix("as_")
        row = self.session.get(KINDS[key], record_id) if key in KINDS else None
        if row is None:
            return f"number {record_id}"
        named = name_of(self.session, row, self.showing)
        return named.name or named.on or named.kind

    def _on_instrument(self, name: str, value: float) -> str:
        owner = self.row
        if self.table == "instrumentcheck":
            owner = self.session.get(Instrument, getattr(self.row, "instrument_id", 0))
        is_hardness = isinstance(owner, Instrument) and owner.role == "hardness"
        if name == "spread":
            return give_or_take(self.showing, value, is_hardness)
        return f"{value:g} HRC" if is_hardness else self.showing.temperature(value)


def _litres(_showing: Showing, value: float) -> str:
    return f"{value * 1000:g} litres"


def _pressure(showing: Showing, value: float) -> str:
    unit = "psi" if showing.length_unit == "in" else "bar"
    return f"{amount(value, unit, 'pressure')} {unit}"


# the first ending that fits counts
_BY_ENDING: Mapping[str, Callable[[Showing, float], str]] = {
    "_spread_K": lambda showing, value: give_or_take(showing, value, is_hardness=False),
    "_K": lambda showing, value: showing.temperature(value),
    "_m3": _litres,
    "_m": lambda showing, value: showing.size(value),
    "_per_kg": lambda _showing, value: f"{value:g} a kilogram",
    "_kg": lambda showing, value: heavy(value, showing),
    "_Pa": _pressure,
    "_percent": lambda _showing, value: f"{value:g} %",
    "_share": lambda _showing, value: f"{100 * value:g} %",
    "_wt": lambda _showing, value: f"{value:g} % carbon",
    "_HRC": lambda _showing, value: f"{value:g} HRC",
    "_deg": lambda _showing, value: f"{value:g}°",
    "seconds_spread": lambda _showing, value: say_duration(value),
    "seconds": lambda _showing, value: say_duration(value),
    "_s": lambda _showing, value: say_duration(value),
}
_ENDINGS = (
    "spread_K", "K", "m3", "m", "kg", "Pa", "percent", "share", "wt", "HRC", "s", "id", "at", "px", "deg",
)  # fmt: skip
LONGEST_VALUE = 200


@cache
def _asked(table: str) -> Mapping[str, Ask]:
    """Return what the forms of a table ask, by field; the first form that asks a field names it."""
    found: dict[str, Ask] = {}
    for form in FORMS.get(table, ()):
        for name, info in form.model_fields.items():
            ask = next((each for each in info.metadata if isinstance(each, Ask)), None)
            if ask is not None:
                found.setdefault(name, ask)
    return found


def _words(name: str) -> str:
    """Return a field's name as words, without its unit."""
    ending = next((e for e in _ENDINGS if name.endswith(f"_{e}")), None)
    bare = name.removesuffix(f"_{ending}") if ending else name
    return bare.replace("_", " ").capitalize()


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_VALUE else f"{text[:LONGEST_VALUE]} ..."
