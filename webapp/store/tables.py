"""The logbook's tables: what is kept of a shop, its parts, its fires and their results.

Rows carry no behaviour. Numbers are SI (metres, kelvin, seconds); beside each number that a user
typed stands the text as typed, in `typed` (field name -> text). A record is never removed:
`deleted_at` hides it and can be undone. `version` grows with each change and guards against two
tablets overwriting each other.

fire (one lit forge) -> batch (one box in it) -> item (parts or coupons) -> step and reading
"""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from sqlalchemy import JSON, Column, Index, MetaData
from sqlmodel import Field, SQLModel

from webapp.store.checks import add_checks

metadata: MetaData = SQLModel.metadata
metadata.naming_convention = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


def json_field(factory: type[dict[str, Any]] | type[list[Any]] = dict) -> Any:
    """Return a not-null JSON column with an empty default."""
    return Field(default_factory=factory, sa_column=Column(JSON, nullable=False))


class Record(SQLModel):
    """What every kept record has."""

    # rows are written as they are: what would check them need not be built
    model_config = {"defer_build": True}

    id: int | None = Field(default=None, primary_key=True)
    version: int = 1
    # the unit of work fills these two, so that no caller has to
    created_at: datetime = Field(default=None, nullable=False)
    updated_at: datetime = Field(default=None, nullable=False)
    deleted_at: datetime | None = None
    note: str = ""


class Shop(Record, table=True):
    """The one shop of this logbook and its habits; its row has id 1.

    `opens_at`, `leaves_at` and `starts_at` are read on the shop's own clock: when work may begin, when one
    goes home, and when a fire is usually lit; empty while nobody said. `address` is what the shop's other
    devices call this computer. `mark_habit` is the one kind of mark it cuts into its pieces, empty: by size;
    `label_sheet` the sizes of the labels it prints its tags on, in millimetres.
    """

    name: str
    zone: str = "UTC"
    temperature_unit: str = "C"
    length_unit: str = "mm"
    is_demo: bool = False
    opens_at: time | None = None
    leaves_at: time | None = None
    starts_at: time | None = None
    address: str = ""
    mark_habit: str = ""
    label_sheet: dict[str, Any] = json_field()


class Forge(Record, table=True):
    """A gas forge: its fuel, inside size, hot end, and the hole in its burner's jet."""

    name: str
    fuel: str
    inside_length_m: float
    inside_width_m: float
    inside_height_m: float
    hot_end: str = "even"
    jet_m: float | None = None
    typed: dict[str, Any] = json_field()


class Instrument(Record, table=True):
    """Anything that tells heat or hardness, or holds a temper: a thermocouple, an eye, a file, an oven.

    `role` is heat, hardness or oven; `method` says which kind (colour, pyrometer, thermocouple, cone,
    crayon, magnet; rockwell, vickers, lab, file_set, one_file; oven). `spread` is one standard
    deviation, in kelvin for heat and ovens and in HRC for hardness. `settings` holds what only one
    kind has, such as the hardness of each file.
    """

    name: str
    role: str = Field(index=True)
    method: str
    spread: float
    settings: dict[str, Any] = json_field()
    typed: dict[str, Any] = json_field()


class InstrumentCheck(Record, table=True):
    """One dated check of an instrument against something known: both values in K or HRC."""

    instrument_id: int = Field(foreign_key="instrument.id", index=True)
    checked_on: date
    against: str
    known: float
    reading: float
    typed: dict[str, Any] = json_field()


class Box(Record, table=True):
    """A carburizing box: inner size, wall, how it is closed and filled."""

    name: str
    shape: str = "rectangular"
    inner_length_m: float
    inner_width_m: float
    inner_height_m: float
    wall_m: float
    seal: str
    fill: str = "filled"
    typed: dict[str, Any] = json_field()


class Mix(Record, table=True):
    """A pack mix: charcoal, what livens it, how much of it is fresh, its weight a litre, its water."""

    name: str
    charcoal: str
    grain_m: float
    substance: str
    substance_percent: float
    fresh_share: float = 1.0
    litre_kg: float | None = None
    water_percent: float | None = None
    typed: dict[str, Any] = json_field()


class Bath(Record, table=True):
    """A quench bath."""

    name: str
    medium: str
    volume_m3: float | None = None
    salt_percent: float | None = None
    temperature_K: float = 293.15
    agitation: str = "moderate"
    typed: dict[str, Any] = json_field()


class Bar(Record, table=True):
    """A bar in the rack: a standard grade, or a mystery with what a screening told."""

    name: str
    grade: str | None = None
    carbon_low_wt: float
    carbon_high_wt: float
    screening: dict[str, Any] = json_field()
    typed: dict[str, Any] = json_field()
    own_lines: dict[str, Any] = json_field()


class Part(Record, table=True):
    """A part the shop makes and what it must do.

    `soft_area` is what of it must stay soft (thread, hole, end; empty: nothing), `soft_kept` how (clay,
    plating, machined) and `soft_stock_m` what is left on a face of it to be machined off.
    """

    name: str
    bar_id: int = Field(foreign_key="bar.id", index=True)
    shape: str
    size_m: float
    bore_m: float | None = None
    length_m: float | None = None
    bore_packed: bool = False
    duties: list[Any] = json_field(list)
    wanted_hardness_HRC: float | None = None
    depth_definition: str = "rim"
    wanted_depth_low_m: float
    wanted_depth_high_m: float
    grind_m: float = 0.0
    soft_area: str = ""
    soft_kept: str = ""
    soft_stock_m: float | None = None
    typed: dict[str, Any] = json_field()
    own_lines: dict[str, Any] = json_field()


class Prices(Record, table=True):
    """What the shop pays, in its own money; its row has id 1. A price that is not known is empty."""

    money: str = ""
    gas_per_kg: float | None = None
    charcoal_per_kg: float | None = None
    carbonate_per_kg: float | None = None
    luting: float | None = None
    hour: float | None = None
    typed: dict[str, Any] = json_field()


class PartPrice(Record, table=True):
    """What one part costs each way: its bar, a bar that hardens by itself, sending it out to be hardened."""

    part_id: int = Field(foreign_key="part.id", index=True)
    plain_bar: float | None = None
    hardenable_bar: float | None = None
    hardening: float | None = None
    sent_out: float | None = None
    sent_out_s: float | None = None
    parts: int = 1
    typed: dict[str, Any] = json_field()


class Fit(SQLModel, table=True):
    """One fit of the shop's constants: what it read and what it found. A cache that can be rebuilt."""

    id: int | None = Field(default=None, primary_key=True)
    created_at: datetime
    model_version: str
    reading_ids: list[Any] = json_field(list)
    fingerprint: str = Field(index=True)
    belief: dict[str, Any] = json_field()
    summary: dict[str, Any] = json_field()


class Plan(Record, table=True):
    """A plan for a part: what was chosen, what was forecast, and by which fit (none: the books)."""

    part_id: int = Field(foreign_key="part.id", index=True)
    fit_id: int | None = Field(default=None, foreign_key="fit.id")
    box_id: int = Field(foreign_key="box.id")
    mix_id: int = Field(foreign_key="mix.id")
    bath_id: int | None = Field(default=None, foreign_key="bath.id")
    heat_instrument_id: int = Field(foreign_key="instrument.id")
    temperature_K: float
    soak_s: float
    reheat_K: float | None = None
    reheat_s: float | None = None
    temper_K: float | None = None
    temper_s: float | None = None
    result: dict[str, Any] = json_field()
    typed: dict[str, Any] = json_field()


class Fire(Record, table=True):
    """One lit forge; up to a few boxes share it. `heat_instrument_id` is how its heat was known."""

    forge_id: int = Field(foreign_key="forge.id", index=True)
    heat_instrument_id: int = Field(foreign_key="instrument.id")


class PlanSupplies(Record, table=True):
    """What was told about the supplies of a plan: what lies in the box, old pack, bottle, burner.

    `full_kg` is the gas that a full bottle holds and `left_kg` what is in it now; `fire_s` is how long the
    burner is lit and `work_s` how long somebody works; `part_width_m` and `part_length_m` are those of one
    part where the part itself does not say; `valve` is the mark that the burner's valve stands at.
    """

    plan_id: int = Field(foreign_key="plan.id", index=True)
    parts: int = 1
    part_width_m: float | None = None
    part_length_m: float | None = None
    old_kg: float | None = None
    old_percent: float | None = None
    full_kg: float | None = None
    left_kg: float | None = None
    jet_m: float | None = None
    gauge_Pa: float | None = None
    valve: str = ""
    day_K: float | None = None
    fire_s: float | None = None
    work_s: float | None = None
    typed: dict[str, Any] = json_field()


class GasWeighing(Record, table=True):
    """The gas bottle's weight before and after a fire, how long the burner was lit between, how it was set.

    `lit_s`, `gauge_Pa` and `valve` are hours, pressure and valve mark of the setting that burned first; the
    `second_` ones of the other, where it was turned up or down. Empty: nobody said.
    """

    fire_id: int = Field(foreign_key="fire.id", index=True)
    before_kg: float
    after_kg: float | None = None
    lit_s: float | None = None
    gauge_Pa: float | None = None
    valve: str = ""
    second_lit_s: float | None = None
    second_gauge_Pa: float | None = None
    second_valve: str = ""
    typed: dict[str, Any] = json_field()


class Batch(Record, table=True):
    """One box in one fire, from planned to measured; `number` is what the shop calls it.

    `clock_from` says when the soak clock was started: box_in, evenly_red or at_heat. Times that were
    only roughly known carry a spread in seconds. `as_batch_id` is the batch that this one is made as: its
    steps are offered as they were done then.
    """

    number: int = Field(unique=True)
    state: str = Field(index=True)
    fire_id: int = Field(foreign_key="fire.id", index=True)
    box_id: int = Field(foreign_key="box.id", index=True)
    mix_id: int = Field(foreign_key="mix.id", index=True)
    plan_id: int | None = Field(default=None, foreign_key="plan.id")
    as_batch_id: int | None = Field(default=None, foreign_key="batch.id")
    day: date = Field(index=True)
    given_up_why: str = ""
    left_out_why: str = ""
    typed: dict[str, Any] = json_field()
    own_lines: dict[str, Any] = json_field()


class Item(Record, table=True):
    """Parts or a coupon that lay in a batch's box; `own_path` is true when its steps are not the batch's.

    `from_item_id` is the same piece in the batch it came out of, where it went back into a box. `life` is
    2 and up once it was heated afresh outside a box, and `remedy` what was then set out to do: its way
    and the numbers that the steps are offered as. `scrapped_why` says that it was thrown away, and why.
    `mark` is its letter on paper; `steel_mark` is the kind of mark cut into it (notches, dots, stamp; empty:
    none noted), `steel_sign` how many or which figure, `steel_place` where, if not where it is usual.
    """

    batch_id: int = Field(foreign_key="batch.id", index=True)
    kind: str
    name: str
    mark: str = ""
    count: int = 1
    part_id: int | None = Field(default=None, foreign_key="part.id", index=True)
    bar_id: int = Field(foreign_key="bar.id", index=True)
    shape: str
    size_m: float
    bore_m: float | None = None
    bore_packed: bool = False
    place: str = "middle"
    layer: str = ""
    is_pin: bool = False
    own_path: bool = False
    left_out_why: str = ""
    from_item_id: int | None = Field(default=None, foreign_key="item.id", index=True)
    life: int = 1
    remedy: dict[str, Any] = json_field()
    scrapped_why: str = ""
    steel_mark: str = ""
    steel_sign: str = ""
    steel_place: str = ""
    typed: dict[str, Any] = json_field()
    own_lines: dict[str, Any] = json_field()


class Step(Record, table=True):
    """One thing done to a batch, or to one item that went its own way.

    kind: box_in, soak, box_out, drawn, slow_cool, reheat, quench, cold, temper. `seconds` is how long
    it took where that is what is known instead of an end; spreads are one standard deviation. `life` is
    1 for what came of the batch and 2 and up for what was done to put the item right.
    """

    __table_args__ = (Index("ix_step_kind", "kind", "batch_id"),)

    batch_id: int | None = Field(default=None, foreign_key="batch.id", index=True)
    item_id: int | None = Field(default=None, foreign_key="item.id", index=True)
    kind: str
    order: int = 0
    started_at: datetime | None = None
    seconds: float | None = None
    seconds_spread: float = 0.0
    temperature_K: float | None = None
    temperature_spread_K: float = 0.0
    bath_id: int | None = Field(default=None, foreign_key="bath.id")
    instrument_id: int | None = Field(default=None, foreign_key="instrument.id")
    life: int = 1
    settings: dict[str, Any] = json_field()
    typed: dict[str, Any] = json_field()


class HeatNote(Record, table=True):
    """A temperature noted while the fire burned."""

    fire_id: int = Field(foreign_key="fire.id", index=True)
    instrument_id: int = Field(foreign_key="instrument.id")
    noted_at: datetime
    temperature_K: float
    typed: dict[str, Any] = json_field()


class Event(Record, table=True):
    """Something that happened in a batch: seal cracked, gas ran out, burner out, box turned."""

    batch_id: int = Field(foreign_key="batch.id", index=True)
    kind: str
    happened_at: datetime


class Reading(Record, table=True):
    """One thing measured on an item.

    kind: hardness, files, one_file, depth, traverse, spark, soft_spots, chips, cracks, bend, size.
    `value` is SI (or HRC/HRA/HR15N/HV by `unit`); `low` and `high` hold an interval (between two files);
    `details` what only one kind has (points of a traverse, angle of a bend, sizes and bow). `life` is that
    of the item at the time: what `after` names came in that life.
    """

    item_id: int = Field(foreign_key="item.id", index=True)
    kind: str = Field(index=True)
    after: str = "quench"
    life: int = 1
    place: str = "middle"
    surface: str = "as it came"
    removed_m: float = 0.0
    instrument_id: int | None = Field(default=None, foreign_key="instrument.id")
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    details: dict[str, Any] = json_field()
    measured_at: datetime
    left_out_why: str = ""
    typed: dict[str, Any] = json_field()


class Photo(Record, table=True):
    """A photo of an item, or of a batch; the picture is a file beside the database, named by `sha256`.

    `measured` holds what was tapped on it, in pixels of the picture: the two ends of something known, its
    length, and each place as its surface and the end of its case. `reading_id` is the depth that came of it;
    `event_id` what happened in the batch that a photo of it shows.
    """

    item_id: int | None = Field(default=None, foreign_key="item.id", index=True)
    batch_id: int | None = Field(default=None, foreign_key="batch.id", index=True)
    sha256: str = Field(index=True)
    size_bytes: int
    width_px: int
    height_px: int
    caption: str = ""
    reading_id: int | None = Field(default=None, foreign_key="reading.id", index=True)
    measured: dict[str, Any] = json_field()
    event_id: int | None = Field(default=None, foreign_key="event.id", index=True)


class ShopChange(Record, table=True):
    """Something of the shop that was changed on a day: fires of that day and later ran with it.

    `kind` is one of `model/data/dated_changes.csv`; one of the ids says what was changed.
    """

    kind: str
    changed_on: date = Field(index=True)
    forge_id: int | None = Field(default=None, foreign_key="forge.id", index=True)
    instrument_id: int | None = Field(default=None, foreign_key="instrument.id", index=True)
    box_id: int | None = Field(default=None, foreign_key="box.id", index=True)
    mix_id: int | None = Field(default=None, foreign_key="mix.id", index=True)
    bath_id: int | None = Field(default=None, foreign_key="bath.id", index=True)
    typed: dict[str, Any] = json_field()


class BroughtIn(Record, table=True):
    """A spreadsheet that was brought in as one act: its name, what was in it by hash, its batches by id."""

    file_name: str
    sha256: str = Field(index=True)
    rows: int
    batch_ids: list[Any] = json_field(list)


class Reminder(Record, table=True):
    """Something to be done again after so many uses of a thing, or so many days, whichever comes first.

    `list_key` and `thing_id` name a thing of one of the shop's lists, empty where only days count; `done_on`
    is the day it was done last. Uses are those of the logbook and are counted when asked.
    """

    what: str
    list_key: str = ""
    thing_id: int | None = None
    after_uses: int | None = None
    after_days: int | None = None
    done_on: date


class OwnLine(Record, table=True):
    """A line of the shop's own: what else it notes `about` each part, piece, batch or bar, and how.

    `kind` is words, number, yes_no or choice; `unit` that of a number, `choices` what may be picked. What
    was noted stands in `own_lines` of the record, by this row's id. A retired line is asked no more, and
    what was noted stays; `is_copied` lines come along when the record is done again.
    """

    about: str
    label: str
    kind: str
    unit: str = ""
    choices: list[Any] = json_field(list)
    is_copied: bool = False
    is_retired: bool = False


class Change(SQLModel, table=True):
    """One line of the change record: who changed which record, when, from what to what."""

    __table_args__ = (Index("ix_change_record", "table_name", "record_id"),)

    id: int | None = Field(default=None, primary_key=True)
    happened_at: datetime
    device: str
    table_name: str
    record_id: int
    action: str
    before: dict[str, Any] = json_field()
    after: dict[str, Any] = json_field()


class FormUse(SQLModel, table=True):
    """A one-use form id that was answered, and where its answer led."""

    form_id: str = Field(primary_key=True)
    used_at: datetime
    location: str


add_checks(metadata)
