"""From the forms of steps and old batches to what the logbook keeps: doubt becomes a give or take."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from model.ranges import HOURS
from webapp.forms.ask import Doubtful
from webapp.forms.batches import BatchChangeForm, BatchForm, WriteUpForm
from webapp.forms.common import TimedForm
from webapp.forms.own_lines import but_own, is_own, own_answers
from webapp.services.batches import BatchEntry, WriteUpEntry
from webapp.services.doubt import (
    ABOUT_K,
    ABOUT_SHARE,
    USUAL_REHEAT_K,
    USUAL_REHEAT_S,
    USUAL_SOAK_K,
    USUAL_SOAK_S,
    USUAL_TEMPER_K,
    USUAL_TEMPER_S,
    Rough,
    how_sure,
    rough_seconds,
    rough_temperature,
)
from webapp.services.steps import StepEntry
from webapp.store.tables import Step

BATH_SETTINGS = ("seconds_to_bath", "agitation", "bath_before_K", "bath_after_K", "work_kg")
WAY_SETTINGS = ("way_in", "held", "motion")
PACK_SETTINGS = ("fill", "seal", "extra")
SETTINGS = ("clock_from", "then", "wrapping", "flame", *PACK_SETTINGS, *BATH_SETTINGS, *WAY_SETTINGS)
USUAL_K = {"soak": USUAL_SOAK_K, "reheat": USUAL_REHEAT_K, "temper": USUAL_TEMPER_K}
USUAL_S = {"soak": USUAL_SOAK_S, "reheat": USUAL_REHEAT_S, "temper": USUAL_TEMPER_S}
KIND_OF_ACTION = {"at_heat": "soak"}


def step_entry(action: str, form: TimedForm, typed: Mapping[str, str]) -> StepEntry:
    """Return what a step's form tells, in SI, with its doubt as a give or take."""
    values = {name: getattr(form, name) for name in type(form).model_fields}
    kind = KIND_OF_ACTION.get(action, action)
    temperature = _temperature(values.get("temperature_K"), kind)
    length = _length(values.get("seconds"), kind)
    return StepEntry(
        at=form.at,
        insisted=form.insisted,
        temperature_K=temperature.value if temperature else None,
        temperature_spread_K=temperature.spread if temperature else 0.0,
        seconds=length.value if length else None,
        seconds_spread=length.spread if length else 0.0,
        bath_id=values.get("bath_id"),
        instrument_id=values.get("instrument_id"),
        settings={name: values[name] for name in SETTINGS if values.get(name) not in (None, "")},
        typed=dict(typed),
        note=form.note,
    )


def _temperature(answer: Doubtful | None, kind: str) -> Rough | None:
    return rough_temperature(answer.value, answer.sure, USUAL_K[kind]) if answer else None


def _length(answer: Doubtful | float | None, kind: str) -> Rough | None:
    if answer is None:
        return None
    if isinstance(answer, Doubtful):
        return rough_seconds(answer.value, answer.sure, USUAL_S[kind])
    return Rough(answer, 0.0)


def step_values(step: Step, form: type[TimedForm]) -> dict[str, Any]:
    """Return a step's fields as its form takes them."""
    values: dict[str, Any] = {**step.settings, "at": step.started_at, "note": step.note}
    values |= {"bath_id": step.bath_id, "instrument_id": step.instrument_id, "seconds": step.seconds}
    if step.temperature_K is not None:
        values["temperature_K"] = _doubtful(step.temperature_K, step.temperature_spread_K, ABOUT_K)
    if step.kind == "soak" and step.seconds is not None:
        values["seconds"] = _soak_length(step.seconds, step.seconds_spread)
    return {name: value for name, value in values.items() if name in form.model_fields}


def _soak_length(seconds: float, spread: float) -> Doubtful | None:
    """Return how long a soak was; none where its times make it so short or long that no form takes it."""
    if not HOURS.low <= seconds / 3600.0 <= HOURS.high:
        return None
    return _doubtful(seconds, spread, ABOUT_SHARE * seconds)


def _doubtful(value: float, spread: float, about: float) -> Doubtful:
    sure = how_sure(spread, about)
    return Doubtful(None if sure == "unknown" else value, sure)


def batch_entry(form: BatchForm | BatchChangeForm, typed: Mapping[str, str]) -> BatchEntry:
    """Return what a batch's form tells."""
    own_typed = {name: text for name, text in typed.items() if is_own(name)}
    return BatchEntry(**but_own(form), own_answers=own_answers(form), own_typed=own_typed)


def write_up_entry(form: WriteUpForm, typed: Mapping[str, str]) -> WriteUpEntry:
    """Return an old batch as its form tells it: its steps in order, none of them with a time of day."""
    steps = [("box_in", StepEntry()), ("soak", _old_soak(form, typed)), ("box_out", _then(form.then))]
    if form.reheat_K is not None:
        steps.append(("reheat", _heat_step(form.reheat_K, None, "reheat")))
    if form.bath_id is not None:
        steps.append(("quench", StepEntry(bath_id=form.bath_id)))
    if form.temper_K is not None:
        steps.append(("temper", _heat_step(form.temper_K, form.temper_s, "temper")))
    batch = BatchEntry(
        forge_id=form.forge_id,
        heat_instrument_id=form.heat_instrument_id,
        box_id=form.box_id,
        mix_id=form.mix_id,
        day=form.day,
        with_pin=False,
        note=form.note,
        own_answers=own_answers(form),
    )
    return WriteUpEntry(batch, tuple(steps), form.part_id, form.coupon_size_m, dict(typed))


def _old_soak(form: WriteUpForm, typed: Mapping[str, str]) -> StepEntry:
    temperature = rough_temperature(form.temperature_K.value, form.temperature_K.sure, USUAL_SOAK_K)
    length = rough_seconds(form.soak_s.value, form.soak_s.sure, USUAL_SOAK_S)
    return StepEntry(
        temperature_K=temperature.value,
        temperature_spread_K=temperature.spread,
        seconds=length.value,
        seconds_spread=length.spread,
        instrument_id=form.heat_instrument_id,
        settings={"clock_from": form.clock_from},
        typed={
            kept: typed[asked]
            for kept, asked in (("temperature_K", "temperature_K"), ("seconds", "soak_s"))
            if asked in typed
        },
    )


def _then(then: str) -> StepEntry:
    return StepEntry(settings={"then": then})


def _heat_step(heat: Doubtful, time: Doubtful | None, kind: str) -> StepEntry:
    temperature = rough_temperature(heat.value, heat.sure, USUAL_K[kind])
    length = rough_seconds(time.value, time.sure, USUAL_S[kind]) if time else None
    return StepEntry(
        temperature_K=temperature.value,
        temperature_spread_K=temperature.spread,
        seconds=length.value if length else None,
        seconds_spread=length.spread if length else 0.0,
    )
