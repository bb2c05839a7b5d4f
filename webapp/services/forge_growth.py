"""Two charts of This forge that need sums of their own: case depth over the hours, and hardness by bath."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median
from typing import Any, Final

from sqlmodel import Session, col, select

from model.conversion import continued
from model.errors import ModelError
from model.learnt import STANDARD_HEAT_K
from model.process import Process
from model.readings import DepthReading, HardnessReading, NoHardSkin, Observation
from model.rule_fits import told_soak
from model.units import HOUR_s, celsius_to_kelvin, kelvin_to_celsius
from webapp.charts import Chart
from webapp.services.batch_rows import kept, row_id
from webapp.services.bath_chart import ReadHardness, bath_chart
from webapp.services.fitting import current_belief
from webapp.services.forge_charts import newest_told
from webapp.services.forge_rows import names_of
from webapp.services.growth_chart import ReadDepth, growth_chart
from webapp.services.growth_sums import MOST_BATHS, Hardness, growth_lines, hardness_in, job_at
from webapp.services.observations import told_of_readings
from webapp.services.odd_fires import odd_fires
from webapp.services.plan_sums import Believed
from webapp.services.processes import quench_in
from webapp.services.reading_words import say_reading
from webapp.services.rule_readouts import BY_EYE
from webapp.services.shop_jobs import shop_jobs
from webapp.services.showing import Showing
from webapp.services.whole_book import by_id
from webapp.store.tables import Batch, Bath, Item, Part, Reading

HEAT_STEP_K: Final = 5.0
LEAST_HOURS: Final = 4.0
LEAST_TURNED_HRC, MOST_TURNED_HRC = 20.0, 68.0  # where E140 turns one scale into another
NOTHING_YET = "No depth by eye and no hardness has taught this forge anything yet."
NO_JOB = "The charts need a mix, a box and a way of telling heat: write them down on the Shop page."
ROD = "a rod of 1018, 12 mm (0.47 in) thick"


@dataclass(frozen=True)
class GrowthView:
    """The charts, or why there are none."""

    charts: tuple[Chart, ...]
    problem: str = ""


@dataclass(frozen=True)
class _Book:
    """What the charts say of a reading: its row, its piece, its batch; which fires are odd."""

    readings: Mapping[int, Reading]
    items: Mapping[int, Item]
    batches: Mapping[int, Batch]
    odd: Mapping[int, str]

    def words(self, key: str) -> tuple[str, str]:
        """Return words and page of the piece that a reading is of."""
        item = self.items[self.readings[int(key)].item_id]
        number = self.batches[item.batch_id].number
        return f"{number} {item.mark} {item.name}".replace("  ", " "), f"/items/{item.id}"

    def is_odd(self, key: str) -> bool:
        """Tell whether a reading is of an odd fire."""
        item = self.items[self.readings[int(key)].item_id]
        return self.batches[item.batch_id].fire_id in self.odd


def view_growth(session: Session, now: datetime, showing: Showing) -> GrowthView:
    """Return both charts, of the readings that the newest fit learnt from."""
    known = current_belief(session)
    jobs = shop_jobs(session)
    if not jobs:
        return GrowthView((), NO_JOB)
    learnt = {int(key) for key in known.summary.get("used", ())} & newest_told(known.summary)
    used = told_of_readings(session, learnt, now) if learnt else []
    book = _book_of(session, learnt, odd_fires(known.summary))
    depths, hardness = _depths(used, book), _hardness(used, book, session, showing)
    job = _usual_job(jobs, known.summary)
    heat_K = _usual_heat_K(depths)
    at_heat, believed = job_at(job, heat_K), Believed.of(known.belief)
    names = names_of(session)
    mix, box = (names[kind].get(int(key), "") for kind, key in (("mix", job.keys.mix), ("box", job.keys.box)))
    words = f"{ROD}, mix {mix}, box {box},"
    try:
        charts = (
            _grown(depths, at_heat, believed, heat_K, words, showing),
            bath_chart(
                hardness,
                _foretold(session, at_heat, believed) if hardness else {},
                [part.wanted_hardness_HRC for part in kept(session, Part) if part.wanted_hardness_HRC],
                f"{ROD} after four hours (mix {mix})",
            ),
        )
    except ModelError as refused:
        return GrowthView((), str(refused))
    found = tuple(chart for chart in charts if chart is not None)
    return GrowthView(found, "" if found else NOTHING_YET)


def _book_of(session: Session, reading_ids: set[int], odd: Mapping[int, str]) -> _Book:
    readings = {row_id(row): row for row in kept(session, Reading, col(Reading.id).in_(reading_ids))}
    held = {row.item_id for row in readings.values()}
    items = {row_id(row): row for row in session.exec(select(Item).where(col(Item.id).in_(held)))}
    lay_in = {row.batch_id for row in items.values()}
    batches = {row_id(row): row for row in session.exec(select(Batch).where(col(Batch.id).in_(lay_in)))}
    return _Book(readings, items, batches, odd)


def _usual_job(jobs: Sequence[Process], summary: Mapping[str, Any]) -> Process:
    """Return the standard job of the mix that most coupons came from."""
    standard = summary.get("standard", ())
    usual = standard[0]["mix"] if standard else ""
    return next((job for job in jobs if job.keys.mix == usual), jobs[0])


def _usual_heat_K(depths: Sequence[ReadDepth]) -> float:
    """Return the heat that half the soaks were hotter than, in round degrees."""
    if not depths:
        return STANDARD_HEAT_K
    middle_C = kelvin_to_celsius(median(one.heat_K for one in depths))
    return celsius_to_kelvin(HEAT_STEP_K * round(middle_C / HEAT_STEP_K))


def _depths(used: Sequence[Observation], book: _Book) -> list[ReadDepth]:
    found = []
    for one in used:
        depth_m, soak = _by_eye_m(one), told_soak(one.process)
        if depth_m is None or soak is None:
            continue
        hours = soak.at_heat_s / HOUR_s
        words = book.words(one.key)
        found.append(ReadDepth(*words, depth_m, soak.temperature_K, hours, book.is_odd(one.key)))
    return found


def _by_eye_m(one: Observation) -> float | None:
    if isinstance(one.reading, NoHardSkin):
        return 0.0
    if isinstance(one.reading, DepthReading) and one.reading.how in BY_EYE:
        return one.reading.value_m
    return None


def _grown(
    depths: Sequence[ReadDepth], job: Process, believed: Believed, heat_K: float, words: str, showing: Showing
) -> Chart | None:
    if not depths:
        return None
    most_hours = float(round(max(LEAST_HOURS, *(1.05 * one.hours for one in depths)) + 0.49))
    return growth_chart(depths, growth_lines(believed, job, most_hours), heat_K, words, showing)


def _hardness(
    used: Sequence[Observation], book: _Book, session: Session, showing: Showing
) -> list[ReadHardness]:
    baths = {key: bath.name for key, bath in by_id(session, Bath).items()}
    found = []
    for one in used:
        if isinstance(one.reading, HardnessReading):
            key = one.process.keys.bath
            found.append(
                ReadHardness(
                    *book.words(one.key),
                    bath=baths.get(int(key), "") if key.isdecimal() else "bath not noted",
                    read=say_reading(book.readings[int(one.key)], showing),
                    value_HRC=in_HRC(one.reading),
                    is_tempered=one.reading.after == "temper",
                    is_turned=one.reading.scale != "HRC",
                )
            )
    return found


def in_HRC(reading: HardnessReading) -> float | None:
    """Return a hardness in HRC, None where it lies beyond the table that turns it."""
    if reading.scale == "HRC":
        return reading.value
    value = float(continued(reading.value, reading.scale, "HRC"))
    return value if LEAST_TURNED_HRC <= value <= MOST_TURNED_HRC else None


def _foretold(session: Session, job: Process, believed: Believed) -> dict[str, Hardness]:
    """Return what each bath of the shop would make of a job, by the bath's name."""
    baths = kept(session, Bath)[:MOST_BATHS]
    quenches = tuple((str(row_id(bath)), quench_in(bath)) for bath in baths)
    found = hardness_in(believed, job, quenches)
    return {bath.name: one for bath, one in zip(baths, found, strict=True)}
