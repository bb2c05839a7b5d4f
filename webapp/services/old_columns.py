"""What each column of an old table may be: the words people head it with, and the unit behind them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

WRITE_UP = (
    "day", "box_id", "mix_id", "heat_instrument_id", "forge_id", "temperature_K", "soak_s", "clock_from",
    "then", "reheat_K", "bath_id", "temper_K", "temper_s",
)  # fmt: skip
COUPON = ("bar_id", "mark", "shape", "size_m")
READING = ("hardness", "unit", "depth_m", "after")
NOT_USED = ""


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
LABELS = {known.field: known.label for known in KNOWN}
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


def known_headings() -> frozenset[str]:
    """Return every word that heads a column that is understood."""
    return frozenset(FIELD_OF)


def understand(headings: Sequence[str], chosen: Mapping[int, str]) -> list[Column]:
    """Return each column as it is understood; what was chosen by hand goes first, each field once."""
    taken = {field for field in chosen.values() if field}
    columns = []
    for place, heading in enumerate(headings):
        guess, unit = _guess(heading)
        field = chosen.get(place, NOT_USED if guess in taken else guess)
        taken.add(field)
        columns.append(Column(place, heading or f"column {place + 1}", field, unit))
    return columns


def _guess(heading: str) -> tuple[str, str]:
    """Return the field that a heading most likely names, and the unit written in it."""
    plain = " ".join(heading.casefold().replace("_", " ").split())
    if plain in SCALE_WORDS:
        return "hardness", SCALE_WORDS[plain]
    if plain in FIELD_OF:
        return FIELD_OF[plain], "h" if plain == "hours" else ""
    match = TAIL.fullmatch(plain)
    if match is None:
        return NOT_USED, ""
    word = (match[2] if match[2] is not None else match[3]).strip(" .°")
    name = match[1].strip()
    # a tail that is no unit is a remark where it stands in brackets, else part of the name
    if word in UNITS or match[2] is not None:
        return FIELD_OF.get(name, NOT_USED), UNITS.get(word, "")
    return NOT_USED, ""
