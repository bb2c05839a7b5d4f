"""What each column of an old table may be: the words people head it with, and the unit behind them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from webapp.forms.kit import OWN
from webapp.forms.own_lines import NUMBER, OwnQuestion

WRITE_UP = (
    "day", "box_id", "mix_id", "heat_instrument_id", "forge_id", "temperature_K", "soak_s", "clock_from",
    "then", "reheat_K", "bath_id", "temper_K", "temper_s",
)  # fmt: skip
COUPON = ("bar_id", "mark", "shape", "size_m")
READING = ("hardness", "unit", "depth_m", "after")
NOT_USED = ""
OWN_LINE = "own line: "  # before the name, as tables that are taken along head it


@dataclass(frozen=True)
class Known:
    """A column that is understood: its field, what it is called here, and what else it may be called."""

    field: str
    label: str
    also: tuple[str, ...] = ()


KNOWN = (
    Known("batch", "Batch", ("batch no", "batch number", "run", "number", "no", "nr")),
    Known("day", "Date", ("day", "datum", "when")),
    Known("box_id", "Box", ("container", "retort")),
    Known("mix_id", "Mix", ("pack", "pack mix", "charcoal")),
    Known(
        "temperature_K", "Heat", ("temperature", "temp", "soak heat", "soak temperature", "heat of the soak")
    ),
    Known("soak_s", "Hours", ("time", "soak", "soak time", "time at heat", "hours at heat", "duration")),
    Known("clock_from", "Counted from", ("counted from when", "clock from")),
    Known("then", "And then", ("then", "after the soak", "cooled")),
    Known("reheat_K", "Reheat", ("reheated to", "reheat heat")),
    Known("bath_id", "Quench", ("quenched in", "bath", "medium", "quench bath")),
    Known("temper_K", "Temper", ("tempered at", "temper heat", "temper temperature")),
    Known("temper_s", "Temper time", ("tempered for", "temper hours")),
    Known("bar_id", "Steel", ("bar", "material", "grade", "cut from")),
    Known("mark", "Mark", ("coupon", "piece", "coupon mark", "letter")),
    Known("shape", "Shape"),
    Known("size_m", "Size", ("diameter", "dia", "thickness", "coupon size")),
    Known("hardness", "Hardness", ("surface hardness",)),
    Known("unit", "Scale", ("hardness scale",)),
    Known("depth_m", "Depth", ("case", "case depth", "case seen on a break")),
    Known("after", "Measured after", ("read after",)),
    Known("heat_instrument_id", "Heat known by", ("known by", "thermometer", "heat told by")),
    Known("forge_id", "Forge", ("hearth",)),
    Known("note", "Note", ("notes", "remark", "remarks", "comment", "comments")),
)
FIELD_OF = {name.casefold(): known.field for known in KNOWN for name in (known.label, *known.also)}
SCALE_WORDS = {"hrc": "HRC", "hra": "HRA", "hr15n": "HR15N", "hv": "HV", "rc": "HRC"}
UNITS = {
    "c": "C", "f": "F", "k": "K", "celsius": "C", "fahrenheit": "F", "mm": "mm", "cm": "cm", "in": "in",
    "inch": "in", "inches": "in", '"': "in", "thou": "thou", "h": "h", "hr": "h", "hrs": "h", "hours": "h",
    "min": "min", "mins": "min", "minutes": "min", **SCALE_WORDS,
}  # fmt: skip
TAIL = re.compile(r"(.*?)[\s,:]*(?:[(\[]([^)\]]*)[)\]]|[\s,_]([^\s,_()\[\]]+))\s*")


@dataclass(frozen=True)
class Column:
    """A column of the file as it is understood: `field` is empty where it is not used."""

    place: int
    heading: str
    field: str
    unit: str = ""


@dataclass(frozen=True)
class Headings:
    """Every column that is understood: those of every shop, and the shop's own lines by their names.

    of_batch, of_piece : the lines of one's own that a batch and a coupon are asked
    """

    of_batch: tuple[OwnQuestion, ...] = ()
    of_piece: tuple[OwnQuestion, ...] = ()

    @cached_property
    def own(self) -> dict[str, OwnQuestion]:
        """Return the shop's own lines by their fields."""
        return {f"{OWN}{one.line_id}": one for one in (*self.of_batch, *self.of_piece)}

    @cached_property
    def labels(self) -> dict[str, str]:
        """Return what each field is called here."""
        named = {known.field: known.label for known in KNOWN}
        return named | {field: one.label for field, one in self.own.items()}

    @cached_property
    def words(self) -> dict[str, str]:
        """Return the field of each word that heads a column; a line of one's own never takes another's."""
        own = {one.label.casefold(): field for field, one in self.own.items()}
        return own | {f"{OWN_LINE}{word}": field for word, field in own.items()} | FIELD_OF

    def fields_of(self, questions: Sequence[OwnQuestion]) -> tuple[str, ...]:
        """Return the fields of some lines of one's own."""
        return tuple(f"{OWN}{one.line_id}" for one in questions)


def understand(
    headings: Sequence[str], chosen: Mapping[int, str], known: Headings | None = None
) -> list[Column]:
    """Return each column as it is understood; what was chosen by hand goes first, each field once."""
    taken = {field for field in chosen.values() if field}
    columns = []
    for place, heading in enumerate(headings):
        guess, unit = _guess(heading, known or Headings())
        field = chosen.get(place, NOT_USED if guess in taken else guess)
        taken.add(field)
        columns.append(Column(place, heading or f"column {place + 1}", field, unit))
    return columns


def _guess(heading: str, known: Headings) -> tuple[str, str]:
    """Return the field that a heading most likely names, and the unit written in it."""
    plain = " ".join(heading.casefold().replace("_", " ").split())
    if plain in SCALE_WORDS:
        return "hardness", SCALE_WORDS[plain]
    if plain in known.words:
        return known.words[plain], "h" if plain == "hours" else ""
    match = TAIL.fullmatch(plain)
    if match is None:
        return NOT_USED, ""
    word = (match[2] if match[2] is not None else match[3]).strip(" .°")
    field = known.words.get(match[1].strip(), NOT_USED)
    if field in known.own:
        return (field if _fits_own(known.own[field], word, match[2] is not None) else NOT_USED), ""
    # a tail that is no unit is a remark where it stands in brackets, else part of the name
    return (field, UNITS.get(word, "")) if word in UNITS or match[2] is not None else (NOT_USED, "")


def _fits_own(line: OwnQuestion, tail: str, is_remark: bool) -> bool:
    """Return whether a tail may stand behind a line's name: its unit, which nobody converts, or a remark."""
    return tail == line.unit.casefold() or (is_remark and line.kind != NUMBER)


def known_headings(known: Headings | None = None) -> frozenset[str]:
    """Return every word that heads a column that is understood."""
    return frozenset((known or Headings()).words)
