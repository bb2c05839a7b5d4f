"""From the logbook's rows to the model's values: what was done to an item, as a process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import takewhile

from model.box_course import box_cooling
from model.cause_changes import bare_in_lean_fire
from model.dated_changes import Loosened
from model.inputs import record_doubt_K, temper_doubt_K
from model.pack import carbonate_percent_of
from model.packed_box import PackedBox
from model.process import (
    Carburize,
    Cold,
    EvenOut,
    History,
    Keys,
    PackSupply,
    Process,
    Quench,
    Reheat,
    Section,
    Shape,
    SlowCool,
    Temper,
)
from model.process import Step as ProcessStep
from model.steels import Steel, mystery_steel, steel_of_grade
from webapp.services.batch_rows import BatchRows, aware, own_steps
from webapp.services.box_rows import fill_of, load_of, packed
from webapp.services.dated_changes import before_fire
from webapp.services.forges import LITRE_m3
from webapp.services.soak_pauses import Pause, pauses_of, spans_of, with_pauses
from webapp.store.tables import Bar, Bath, Box, HeatNote, Instrument, Item, Mix, Part, Step

# Share of the box's warm-up that a soak clock still holds; common practice, no source.
LAG_SHARES = {"box_in": 1.0, "evenly_red": 0.5, "at_heat": 0.0}
USUAL_REHEAT_S = 900.0
USUAL_TEMPER_S = 3600.0
AIR_COOL_S = 1200.0  # a small part out of the box in still air; common practice, no source
COLD_K = 293.15
USUAL_SECONDS_TO_BATH = 2.0
# Steps of a process that a reading came after.
COUNT_AFTER = {"quench": (Quench, 1), "temper_1": (Temper, 1), "temper_2": (Temper, 2)}


@dataclass(frozen=True)
class NotYet:
    """Why an item's story is not complete enough to compute, in plain words."""

    why: str


def steel_of_bar(bar: Bar) -> Steel:
    """Return what is known of a bar, with the carbon range that its screening or its grade left."""
    if bar.grade is None:
        return mystery_steel(bar.carbon_low_wt, bar.carbon_high_wt)
    steel = steel_of_grade(bar.grade)
    return replace(steel, carbon_low_wt=bar.carbon_low_wt, carbon_high_wt=bar.carbon_high_wt)


def supply_of_mix(mix: Mix) -> PackSupply:
    """Return a mix as the model knows it, its substance counted as carbonate."""
    percent = carbonate_percent_of(mix.substance, mix.substance_percent)
    return PackSupply(mix.charcoal, percent, mix.fresh_share)


def smallest_inner_m(box: Box) -> float:
    """Return the smallest inner size of a box: what its warm-up hangs on."""
    return min(box.inner_length_m, box.inner_width_m, box.inner_height_m)


def heat_key(instrument: Instrument) -> str:
    """Return the key by which the fit knows a way of telling heat."""
    return f"{instrument.method}:{instrument.id}"


def keys_of(
    bar: Bar,
    box: Box,
    mix: Mix,
    heat: Instrument,
    fire_id: int | str,
    bath_id: int | None = None,
    oven_id: int | None = None,
    loosened: tuple[Loosened, ...] = (),
) -> Keys:
    """Return the keys by which the fit knows what a process ran on, with the dated changes before it."""
    return Keys(
        bar=str(bar.id),
        box=str(box.id),
        mix=str(mix.id),
        bath=str(bath_id or ""),
        oven=str(oven_id or ""),
        heat_method=heat_key(heat),
        fire=str(fire_id),
        loosened=loosened,
    )


def section_of(shape: str, size_m: float, bore_m: float | None, bore_packed: bool) -> Section:
    """Return a shape as the model knows it."""
    return Section(Shape(shape), size_m, bore_m or 0.0, bore_packed)


def section_of_piece(piece: Item | Part) -> Section:
    """Return the section of a part, or of a piece in a batch."""
    return section_of(piece.shape, piece.size_m, piece.bore_m, piece.bore_packed)


def process_of_item(
    rows: BatchRows, item: Item, bar: Bar, baths: dict[int, Bath], now: datetime
) -> Process | NotYet:
    """Return what was done to an item in and after its batch; `baths` holds the shop's baths.

    What it went through in an earlier batch, and what put it right since, is told by `lives`.
    """
    soak = next((step for step in rows.steps if step.kind == "soak"), None)
    if soak is None:
        return NotYet("the soak has not been noted yet")
    own = own_steps(rows, item)
    seconds = _soak_seconds(soak, own, now)
    if seconds is None or seconds < 1.0:
        return NotYet("how long it soaked has not been noted yet")
    temperature_K = soak.temperature_K
    if temperature_K is None:
        return NotYet("the heat of the soak has not been noted yet")
    supply = supply_of_mix(rows.mix)
    history = soak_history(soak, temperature_K, seconds, rows.heat_notes, pauses_of(rows.fire_events))
    lag_share = LAG_SHARES[soak.settings.get("clock_from", "at_heat")]
    box = packed(rows.box, rows.mix, load_of(rows.items, rows.parts), fill_of(rows.box, rows.steps))
    later = _later_steps(rows, own, slow_cool(history.temperature_K[-1], supply, box), baths)
    bath_id = next((step.bath_id for step in (own or rows.steps) if step.kind == "quench"), None)
    tempers = [step for step in (own or rows.steps) if step.kind == "temper"]
    doubt_K = record_doubt_K(temperature_K, seconds, soak.temperature_spread_K, soak.seconds_spread)
    loosened = before_fire(rows.changes, rows.batch.day, rows.fire.forge_id)
    fire_id, oven_id = rows.fire.id or 0, _oven_id(tempers)
    return Process(
        steel=steel_of_bar(bar),
        section=section_of_piece(item),
        steps=(Carburize(history, supply, lag_share), *later),
        keys=keys_of(bar, rows.box, rows.mix, rows.heat, fire_id, bath_id, oven_id, loosened),
        box_inner_m=smallest_inner_m(rows.box),
        record_doubt_K=doubt_K,
        temper_doubt_K=max((_temper_doubt_K(step) for step in tempers), default=0.0),
        box=box,
    )


def _oven_id(tempers: Sequence[Step]) -> int | None:
    """Return the oven of the tempers; None where it is not said, or not one and the same."""
    ovens = {step.instrument_id for step in tempers}
    return ovens.pop() if len(ovens) == 1 else None


def _temper_doubt_K(step: Step) -> float:
    if step.temperature_K is None:
        return 0.0
    seconds = step.seconds or USUAL_TEMPER_S
    return temper_doubt_K(step.temperature_K, seconds, step.temperature_spread_K, step.seconds_spread)


def process_at_reading(process: Process, after: str) -> Process:
    """Return a process cut off where a reading was taken."""
    if after == "slow_cool":
        hot = tuple(takewhile(lambda step: not isinstance(step, Quench | Reheat), process.steps))
        return replace(process, steps=hot)
    kind, count = COUNT_AFTER[after]
    places = [index for index, step in enumerate(process.steps) if isinstance(step, kind)]
    if len(places) < count:
        return process
    end = places[count - 1] + 1
    cold = process.steps[end : end + 1] if after == "quench" else ()
    return replace(process, steps=(*process.steps[:end], *(step for step in cold if isinstance(step, Cold))))


def was_tempered_so(process: Process, after: str) -> bool:
    """Return whether the tempers that a reading came after are all noted; True for one before any."""
    kind, count = COUNT_AFTER.get(after, (Temper, 0))
    return kind is not Temper or sum(isinstance(step, Temper) for step in process.steps) >= count


def soak_history(
    soak: Step, temperature_K: float, seconds: float, notes: Sequence[HeatNote], pauses: Sequence[Pause] = ()
) -> History:
    """Return the heat of a soak: as noted while it burned, else held at the heat it was started with."""
    points = {0.0: temperature_K}
    if soak.started_at is not None:
        began = aware(soak.started_at)
        for note in notes:
            at = (aware(note.noted_at) - began).total_seconds()
            if 0.0 <= at <= seconds:
                points[at] = note.temperature_K
        points = with_pauses(points, spans_of(pauses, began, seconds), seconds)
    points.setdefault(seconds, points[max(points)])
    times = sorted(points)
    return History(tuple(times), tuple(points[at] for at in times))


def air_cool(temperature_K: float) -> EvenOut:
    """Return the cool of a piece taken out of the pack into still air."""
    return EvenOut(History((0.0, AIR_COOL_S), (temperature_K, COLD_K)))


def slow_cool(temperature_K: float, supply: PackSupply, box: PackedBox | None) -> SlowCool:
    """Return the cool of a shut box, in which the pack goes on feeding for a while."""
    return SlowCool(box_cooling(box, temperature_K), supply)


def _soak_seconds(soak: Step, own: Sequence[Step], now: datetime) -> float | None:
    """Return how long an item soaked: until it was drawn, until the box came out, or until now."""
    drawn = next((step for step in own if step.kind == "drawn"), None)
    began = soak.started_at and aware(soak.started_at)
    if drawn is not None:
        if drawn.seconds is not None:
            return drawn.seconds
        if drawn.started_at is not None and began is not None:
            return (aware(drawn.started_at) - began).total_seconds()
    if soak.seconds is not None:
        return soak.seconds
    return (now - began).total_seconds() if began is not None else None


def _later_steps(
    rows: BatchRows,
    own: Sequence[Step],
    cool: SlowCool,
    baths: dict[int, Bath],
) -> list[ProcessStep]:
    """Return what followed the soak: the cool, then reheats, quenches and tempers in order."""
    steps = list(own or rows.steps)
    later: list[ProcessStep] = []
    then = _left_how(own) or _left_how(rows.steps)
    if then in ("air", "open_air"):
        later.append(air_cool(cool.history.temperature_K[0]))
    elif then == "slow_cool":
        later.append(cool)
    later += [made for step in steps if (made := process_step(step, baths)) is not None]
    return later


def _left_how(steps: Sequence[Step]) -> str | None:
    """Return how a piece left the fire by these steps; None if they do not say, or say: with the box."""
    out = next((step for step in steps if step.kind in ("drawn", "box_out")), None)
    then = str(out.settings.get("then", "slow_cool")) if out else None
    return None if then == "with_box" else then


def _quench(step: Step, bath: Bath | None) -> Quench:
    """Return a quench in one of the shop's baths; water where it is not said which."""
    seconds = float(step.settings.get("seconds_to_bath") or USUAL_SECONDS_TO_BATH)
    agitation = str(step.settings.get("agitation") or (bath.agitation if bath else "moderate"))
    asked = Quench("water", COLD_K) if bath is None else quench_in(bath)
    return replace(
        asked,
        agitation=agitation,
        seconds_to_bath=seconds,
        bath_K=float(step.settings.get("bath_before_K") or asked.bath_K),
        work_kg=step.settings.get("work_kg"),
    )


def quench_in(bath: Bath) -> Quench:
    """Return a quench in one of the shop's baths, moved as the shop usually does."""
    litres = None if bath.volume_m3 is None else bath.volume_m3 / LITRE_m3
    return Quench(
        bath.medium,
        bath.temperature_K,
        bath.agitation,
        salt_percent=bath.salt_percent or 0.0,
        litres=litres,
    )


def process_step(step: Step, baths: dict[int, Bath]) -> ProcessStep | None:
    """Return one row of the time line as a step of the model; None for those that are not."""
    if step.kind == "reheat" and step.temperature_K is not None:
        return _reheat(step, History.hold(step.temperature_K, step.seconds or USUAL_REHEAT_S))
    if step.kind == "quench":
        return _quench(step, baths.get(step.bath_id or 0))
    if step.kind == "cold" and step.temperature_K is not None:
        return Cold(step.temperature_K)
    if step.kind == "temper" and step.temperature_K is not None:
        return Temper(step.temperature_K, step.seconds or USUAL_TEMPER_S)
    return None


def _reheat(step: Step, history: History) -> Reheat:
    """Return a reheat; only bare work in a fire noted as lean is taken to lose carbon."""
    is_bare = step.settings.get("wrapping", "") == "bare"
    if is_bare and step.settings.get("flame") == "lean":
        return bare_in_lean_fire(history)
    return Reheat(history, bare=is_bare)
