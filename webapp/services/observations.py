"""From the logbook's readings to what the fit learns from, and why a reading cannot be told to it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select

from model.depth_readings import DEPTH_SD_M
from model.evidence import Check, InstrumentCheck
from model.priors import prior_for
from model.process import Process, Section
from model.readings import (
    BendReading,
    DepthReading,
    FilesReading,
    HardnessReading,
    NoHardSkin,
    Observation,
    SparkReading,
    TraverseReading,
)
from webapp.services.argument_sides import sides_of_readings, sides_together
from webapp.services.batch_rows import BatchRows, aware, kept, row_id
from webapp.services.dated_changes import before_reading, changes_in_force, of_thing
from webapp.services.lives import ToldStory, story_of_item
from webapp.services.processes import NotYet, heat_key, section_of_piece
from webapp.services.readings import machine_of
from webapp.services.shop_jobs import shop_jobs
from webapp.services.shop_view import view_shop
from webapp.services.timed_warm_ups import warm_up_check
from webapp.services.whole_book import load_book, of_shop
from webapp.store.tables import Bar, Batch, Bath, Instrument, Item, Reading, ShopChange
from webapp.store.tables import InstrumentCheck as CheckRow
from webapp.zone import day_of

AnyReading = (
    HardnessReading | FilesReading | DepthReading | NoHardSkin | TraverseReading | SparkReading | BendReading
)


@dataclass(frozen=True)
class Things:
    """What the readings of any batch point to, and the zone of the clock that they were noted by."""

    bars: dict[int, Bar]
    baths: dict[int, Bath]
    instruments: dict[int, Instrument]
    zone: str


# What one file of hardness f tells of the skin, in HRC from f; common practice, no source.
ONE_FILE_HRC: dict[str, tuple[float | None, float | None]] = {
    "skates": (-5.0, None),
    "marks": (-10.0, -3.0),
    "cuts": (None, -7.0),
}
USUAL_FILE_HRC = 65.0
TESTER_KINDS = {"file_set": "files", "one_file": "files", "vickers": "vickers", "lab": "vickers"}
AFTER = {"slow_cool": "slow_cool", "quench": "quench", "temper_1": "temper", "temper_2": "temper"}
LEAST_SEEN_DEPTH_M = 0.02e-3
A_LOT = 100
MOST_TOLD = 1000  # batches; what older ones still could teach is little, and a forge changes
# Doubt of one check of an oven [K, 1 sd]: a cheap thermometer, and the swing between two looks, 5 K each;
# common practice, no source.
OVEN_CHECK_SD_K = 7.0
IN_TWO_FIRES = "it went into the box twice, and two fires' luck cannot be told apart on one piece"
TEMPER_NOT_NOTED = "it was read after a temper that has not been noted"


@dataclass(frozen=True)
class Told:
    """What the logbook tells the fit: observations, checks, and the readings it must keep to itself.

    `jobs` are standard jobs on what the shop has: the fit learns nothing from them, its readouts do.
    `sides` is where each reading stands in each argument, which is asked of the fit afterwards.
    `fires` are those of which anything was read, whether it can be told or not.
    """

    observations: tuple[Observation, ...]
    checks: tuple[Check, ...]
    untold: dict[str, str]
    jobs: tuple[Process, ...] = ()
    sides: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    fires: frozenset[int] = frozenset()


@dataclass(frozen=True)
class _OfBatch:
    """What one batch tells, by its readings, and what else is to be known of it; nothing of its rows."""

    day: date
    batch_id: int
    fire: int | None
    told: dict[int, Observation | str]
    sides: dict[str, dict[str, int]]
    check: Check | None

    @property
    def observations(self) -> Iterator[Observation]:
        return (one for one in self.told.values() if isinstance(one, Observation))


def tell(session: Session, now: datetime) -> Told:
    """Return everything of the logbook that a fit may learn from."""
    things = _things(session)
    found = [_of_batch(rows, things, now) for rows in load_newest(session, A_LOT)]
    # the watch for drift goes by the fires' days, which need not be the order they were written up in
    found.sort(key=lambda one: (one.day, one.batch_id))
    checks = _checks(session, things.instruments, changes_in_force(session))
    return Told(
        tuple(one for batch in found for one in batch.observations),
        (*checks, *(batch.check for batch in found if batch.check is not None)),
        {str(key): why for batch in found for key, why in batch.told.items() if isinstance(why, str)},
        shop_jobs(session),
        sides_together(batch.sides for batch in found),
        frozenset(batch.fire for batch in found if batch.fire is not None),
    )


def _of_batch(rows: BatchRows, things: Things, now: datetime) -> _OfBatch:
    told = _for_the_fit(rows, _tell_batch(rows, things, now))
    sides = sides_of_readings(rows, told, things.baths)
    fire = rows.batch.fire_id if rows.readings else None
    return _OfBatch(rows.batch.day, row_id(rows.batch), fire, told, sides, warm_up_check(rows))


def _things(session: Session) -> Things:
    zone = view_shop(session).zone
    return Things(of_shop(session, Bar), of_shop(session, Bath), of_shop(session, Instrument), zone)


def load_newest(session: Session, at_once: int = MOST_TOLD) -> Iterator[BatchRows]:
    """Yield the batches that a fit learns from, oldest first: the newest, as its memory and patience are.

    at_once : batches to a lot: few, and rows let go of make room for the next; many, and few queries do
    """
    query = select(Batch.id).where(col(Batch.deleted_at).is_(None))
    newest = query.order_by(col(Batch.day).desc(), col(Batch.id).desc()).limit(MOST_TOLD)
    ids = sorted(key for key in session.exec(newest) if key is not None)
    for begin in range(0, len(ids), at_once):
        yield from load_book(session, ids[begin : begin + at_once])


def told_of_readings(session: Session, reading_ids: Collection[int], now: datetime) -> list[Observation]:
    """Return what some readings tell, by the order of their batches; those that tell nothing left out."""
    in_batches = select(Item.batch_id).join(Reading, col(Reading.item_id) == Item.id)
    ids = set(session.exec(in_batches.where(col(Reading.id).in_(reading_ids))))
    things = _things(session)
    told = (_tell_batch(rows, things, now) for rows in load_book(session, ids))
    found = (one for batch in told for key, one in batch.items() if key in reading_ids)
    return [one for one in found if isinstance(one, Observation)]


def told_of_batch(session: Session, rows: BatchRows, now: datetime) -> dict[int, Observation | str]:
    """Return what each reading of one batch tells, or why it tells nothing, by the reading's id."""
    return _tell_batch(rows, _things(session), now)


def _for_the_fit(rows: BatchRows, told: dict[int, Observation | str]) -> dict[int, Observation | str]:
    """Return what readings tell a fit, which keeps the luck of one fire a piece apart and no more."""
    twice = [row_id(item) for item in rows.items if item.from_item_id is not None]
    in_two = {
        row_id(reading): IN_TWO_FIRES for item_id in twice for reading in rows.readings.get(item_id, [])
    }
    return {key: in_two.get(key, one) if isinstance(one, Observation) else one for key, one in told.items()}


def _tell_batch(rows: BatchRows, things: Things, now: datetime) -> dict[int, Observation | str]:
    told: dict[int, Observation | str] = {}
    for item in rows.items:
        story = story_of_item(rows, item, things.bars[item.bar_id], things.baths, now)
        known = story if isinstance(story, NotYet) else ToldStory(story)
        for reading in rows.readings.get(row_id(item), []):
            told[row_id(reading)] = _observation(rows, item, reading, known, things)
    return told


def _observation(
    rows: BatchRows,
    item: Item,
    reading: Reading,
    story: ToldStory | NotYet,
    things: Things,
) -> Observation | str:
    left_out = reading.left_out_why or item.left_out_why or rows.batch.left_out_why
    if left_out:
        return left_out
    if isinstance(story, NotYet):
        return story.why
    seen = _reading(reading, things.instruments.get(reading.instrument_id or 0), section_of_piece(item))
    if seen is None:
        return "this kind of reading is kept for you to read; nothing is learnt from it yet"
    if reading.place in ("edge", "bore") and not isinstance(seen, SparkReading):
        return "it was read at an edge or in a bore, where the case differs from the face"
    goes_by_hardness = isinstance(seen, HardnessReading | FilesReading | TraverseReading | BendReading)
    if goes_by_hardness and not story.was_tempered_so(reading.after, reading.life):
        return TEMPER_NOT_NOTED
    loosened = before_reading(rows.changes, day_of(aware(reading.measured_at), things.zone))
    at_reading = story.at_reading(reading.after, reading.life, loosened)
    return Observation(str(reading.id), at_reading, seen, coupon=str(item.id))


def _tester_key(reading: Reading, instrument: Instrument) -> str:
    """Return the bias that a reading shares with others of its tester: a lab has one of each kind."""
    if reading.kind == "hardness":
        kind = machine_of(reading.unit)
    else:
        kind = TESTER_KINDS.get(instrument.method, "rockwell")
    return f"{kind}:{instrument.id}"


def _reading(reading: Reading, instrument: Instrument | None, section: Section) -> AnyReading | None:
    """Return a reading as the model knows it, None for kinds that are only kept."""
    after = AFTER[reading.after]
    tester = _tester_key(reading, instrument) if instrument else ""
    common: dict[str, Any] = {"tester_key": tester, "after": after}
    if reading.kind == "hardness" and reading.value is not None:
        return HardnessReading(
            scale=reading.unit,  # type: ignore[arg-type]  # the form allows the model's scales only
            value=reading.value,
            sd=instrument.spread if instrument and reading.unit == "HRC" else None,
            surface_removed_m=reading.removed_m,
            **common,
        )
    if reading.kind in ("files", "one_file"):
        low, high = _file_limits(reading, instrument)
        return FilesReading(low, high, surface_removed_m=reading.removed_m, **common)
    if reading.kind == "traverse":
        depths, hardness = zip(*reading.details["points"], strict=True)
        return TraverseReading(tuple(depths), tuple(hardness), **common)
    return _seen(reading, section, after)


def _seen(reading: Reading, section: Section, after: str) -> AnyReading | None:
    """Return what an eye saw of a piece."""
    if reading.kind == "depth" and reading.value is not None:
        if reading.value < LEAST_SEEN_DEPTH_M:
            return NoHardSkin(after=after)  # type: ignore[arg-type]  # one of AFTER's values
        how = reading.details.get("how", "break")
        return DepthReading(how, reading.value, _doubt_on_photo(reading), after=after)  # type: ignore[arg-type]  # likewise
    if reading.kind == "spark":
        return SparkReading(bool(reading.details["high_carbon"]), of_bare_bar=False)
    if reading.kind == "bend":
        angle_deg = float(reading.details.get("angle_deg") or 0.0)
        return BendReading(reading.details["result"], angle_deg, section, after=after)  # type: ignore[arg-type]  # likewise
    return None


def _doubt_on_photo(reading: Reading) -> float | None:
    """Return the doubt of a depth measured on a photo, where it is more than the eye's own."""
    doubt_m: float | None = reading.details.get("sd_m")
    usual_m = DEPTH_SD_M[reading.details.get("how", "break")]
    return doubt_m if doubt_m is not None and doubt_m > usual_m else None


def _file_limits(reading: Reading, instrument: Instrument | None) -> tuple[float | None, float | None]:
    if reading.kind == "files":
        return reading.low, reading.high
    files = (instrument.settings.get("files_HRC") if instrument else None) or [USUAL_FILE_HRC]
    low, high = ONE_FILE_HRC[reading.details["result"]]
    return (None if low is None else files[0] + low), (None if high is None else files[0] + high)


def _checks(
    session: Session, instruments: dict[int, Instrument], changes: tuple[ShopChange, ...]
) -> Iterator[InstrumentCheck]:
    """Return the dated checks of heat methods, ovens and testers, and what is stated of an oven."""
    for instrument in instruments.values():
        if instrument.role == "oven" and instrument.deleted_at is None:
            yield from _stated_of_oven(instrument)
    for row in kept(session, CheckRow):
        instrument = instruments[row.instrument_id]
        if instrument.deleted_at is not None:
            continue
        loosened = of_thing(changes, row.instrument_id, row.checked_on)
        if instrument.role == "oven":
            key = oven_check_key(instrument)
            yield InstrumentCheck(key, row.known, row.reading, OVEN_CHECK_SD_K, loosened)
            continue
        is_heat = instrument.role == "heat"
        key = (
            heat_key(instrument)
            if is_heat
            else f"{TESTER_KINDS.get(instrument.method, 'rockwell')}:{row.instrument_id}"
        )
        yield InstrumentCheck(key, row.known, row.reading, instrument.spread, loosened)


def oven_check_key(oven: Instrument) -> str:
    """Return the key by which the fit knows the checks of an oven."""
    return f"oven:{oven.id}"


def _stated_of_oven(oven: Instrument) -> Iterator[InstrumentCheck]:
    """Return an owner's word that an oven is truer than most, as a check that found it true."""
    usual_K = prior_for(f"oven/{oven.id}").sd
    if 0.0 < oven.spread < usual_K:
        yield InstrumentCheck(oven_check_key(oven), 0.0, 0.0, (oven.spread**-2 - usual_K**-2) ** -0.5)
