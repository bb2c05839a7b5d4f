"""What the database itself refuses: words outside a list, numbers outside what can be.

These are the outer walls behind the forms, which say kinder things first. NaN is stored by SQLite as
NULL and so falls to NOT NULL; the unit of work refuses it in columns that may be empty.
"""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Float, MetaData, Table

TEMPERATURE_UNITS = ("C", "F")
LENGTH_UNITS = ("mm", "in")
SHAPES = ("plate", "rod", "tube")
INSTRUMENT_ROLES = ("heat", "hardness", "oven")
BATCH_STATES = ("planned", "in_the_fire", "cooling", "hardened", "measured", "given_up")
ITEM_KINDS = ("part", "coupon")
STEP_KINDS = ("box_in", "soak", "box_out", "drawn", "slow_cool", "reheat", "quench", "cold", "temper")
STEEL_MARKS = ("", "notches", "dots", "stamp")
OWN_LINE_ABOUT = ("part", "piece", "batch", "bar")
OWN_LINE_KINDS = ("words", "number", "yes_no", "choice")
CHANGE_ACTIONS = ("added", "changed", "removed", "put back")
READING_KINDS = (
    "hardness",
    "files",
    "one_file",
    "depth",
    "traverse",
    "spark",
    "soft_spots",
    "chips",
    "cracks",
    "bend",
    "size",
)

ALLOWED_WORDS: dict[tuple[str, str], tuple[str, ...]] = {
    ("shop", "temperature_unit"): TEMPERATURE_UNITS,
    ("shop", "length_unit"): LENGTH_UNITS,
    ("instrument", "role"): INSTRUMENT_ROLES,
    ("part", "shape"): SHAPES,
    ("item", "shape"): SHAPES,
    ("batch", "state"): BATCH_STATES,
    ("item", "kind"): ITEM_KINDS,
    ("item", "steel_mark"): STEEL_MARKS,
    ("shop", "mark_habit"): STEEL_MARKS,
    ("step", "kind"): STEP_KINDS,
    ("reading", "kind"): READING_KINDS,
    ("ownline", "about"): OWN_LINE_ABOUT,
    ("ownline", "kind"): OWN_LINE_KINDS,
    ("change", "action"): CHANGE_ACTIONS,
}

# lowest and highest number a column may hold, by how its name ends; the longest ending wins
RANGE_BY_ENDING: dict[str, tuple[float, float]] = {
    "": (-1e9, 1e9),
    "_K": (0.0, 3000.0),
    "_m": (0.0, 100.0),
    "_m3": (0.0, 100.0),
    "_s": (0.0, 1e7),
    "seconds": (0.0, 1e7),
    "_spread": (0.0, 1e7),
    "_percent": (0.0, 100.0),
    "_share": (0.0, 1.0),
    "_wt": (0.0, 7.0),
    "_HRC": (-20.0, 100.0),
}

MUST_HOLD: dict[str, dict[str, str]] = {
    "shop": {"only_one": "id = 1", "opens_before_leaving": "opens_at < leaves_at"},
    "part": {
        "has_size": "size_m > 0",
        "depth_order": "wanted_depth_low_m <= wanted_depth_high_m",
        "bore_fits": "bore_m IS NULL OR (bore_m > 0 AND bore_m < size_m)",
        "tube_has_bore": "shape <> 'tube' OR bore_m IS NOT NULL",
    },
    "item": {
        "has_size": "size_m > 0",
        "some": "count >= 1",
        "bore_fits": "bore_m IS NULL OR (bore_m > 0 AND bore_m < size_m)",
        "tube_has_bore": "shape <> 'tube' OR bore_m IS NOT NULL",
    },
    "bar": {"carbon_order": "carbon_low_wt <= carbon_high_wt"},
    "box": {"has_size": "inner_length_m > 0 AND inner_width_m > 0 AND inner_height_m > 0"},
    "forge": {"has_size": "inside_length_m > 0 AND inside_width_m > 0 AND inside_height_m > 0"},
    "reading": {"low_high": "low IS NULL OR high IS NULL OR low <= high"},
    "shopchange": {
        "one_thing": "(forge_id IS NOT NULL) + (instrument_id IS NOT NULL) + (box_id IS NOT NULL)"
        " + (mix_id IS NOT NULL) + (bath_id IS NOT NULL) = 1"
    },
    "reminder": {
        "comes_due": "coalesce(after_uses, after_days, 0) >= 1 AND coalesce(after_days, 1) >= 1",
        "uses_of_a_thing": "(after_uses IS NULL) OR (thing_id IS NOT NULL)",
    },
    "photo": {
        "one_owner": "(batch_id IS NULL) <> (item_id IS NULL)",
        "hash_length": "length(sha256) = 64",
        "has_size": "size_bytes > 0 AND width_px > 0 AND height_px > 0",
    },
    "step": {"one_owner": "(batch_id IS NULL) <> (item_id IS NULL)"},
    "formuse": {"id_length": "length(form_id) BETWEEN 1 AND 64"},
}

LONGEST_NOTE = 100_000


def add_checks(metadata: MetaData) -> None:
    """Give every table its named CHECK constraints."""
    for table in metadata.tables.values():
        for name, condition in MUST_HOLD.get(table.name, {}).items():
            table.append_constraint(CheckConstraint(condition, name=name))
        _add_column_checks(table)


def _add_column_checks(table: Table) -> None:
    for column in table.columns:
        quoted = f'"{column.name}"'
        words = ALLOWED_WORDS.get((table.name, column.name))
        if words:
            listed = ", ".join(f"'{word}'" for word in words)
            table.append_constraint(CheckConstraint(f"{quoted} IN ({listed})", name=f"{column.name}_word"))
        elif isinstance(column.type, Float):
            low, high = number_range(column.name)
            condition = f"{quoted} BETWEEN {low:.12g} AND {high:.12g}"
            table.append_constraint(CheckConstraint(condition, name=f"{column.name}_range"))
        elif column.name == "note":
            condition = f"length(note) <= {LONGEST_NOTE}"
            table.append_constraint(CheckConstraint(condition, name="note_length"))


def number_range(column: str) -> tuple[float, float]:
    """Return the lowest and highest number a column of this name may hold."""
    ending = max((ending for ending in RANGE_BY_ENDING if column.endswith(ending)), key=len)
    return RANGE_BY_ENDING[ending]
