"""The form kit: typed text in, a checked value out, and nothing that was typed is lost.

A page uses it like this::

    class BoxForm(Form):
        name: Annotated[str, Ask("Name", help="What you call it at the bench")]
        inner_length_m: Annotated[float, Ask("Inside length", quantity="length", range=BOX_INSIDE)]
        seal: Annotated[str, Ask("Seal", choices=SEALS)]
        mix_id: Annotated[int, Ask("Mix", dynamic=True)]
        soak_s: Annotated[Doubtful, Ask("Soak", quantity="duration", kind="doubtful")]
        note: Annotated[str, Ask("Notes", kind="notes", folded=True)] = ""

    state = blank_form(BoxForm, units, defaults={"seal": "fireclay"})     # a new one
    state = form_of(BoxForm, row_values, units, typed=row.typed, version=row.version)   # one to edit
    state = read_form(BoxForm, raw_of(await request.form()), units)       # what came back
    if state.value is None:
        return the same page with `state`, status 422
    service(state.value, typed=state.typed, form_id=state.form_id, version=state.version)

A service's refusal goes beside its field with `state.with_errors({"name": "There is a box of this name."})`;
choices from the logbook come with `state.with_choices({"mix_id": [Choice("3", "plain charcoal")]})`. A field
without a default must be answered. A validator that compares fields raises `FieldProblem("bore_m", "...")`.
Numbers are SI; `typed` holds the text of each number with its unit, to be stored beside it. Templates:
`parts/_form.html`.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from functools import cached_property, lru_cache
from typing import Any, Generic, TypeVar, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic.fields import FieldInfo

from webapp.forms.answers import Answer, AnswerProblem, Blank, Raw, first, read_answer
from webapp.forms.ask import Ask, Choice, Doubtful, Units
from webapp.forms.numbers import as_typed
from webapp.forms.view import FieldView, field_view
from webapp.zone import field_text

__all__ = [
    "Ask",
    "Choice",
    "Doubtful",
    "FieldProblem",
    "FieldView",
    "Form",
    "FormState",
    "Units",
    "blank_form",
    "form_of",
    "raw_of",
    "read_form",
]


OWN = "own_"  # begins the field of a line of the shop's own (`forms.own_lines`)


class Form(BaseModel):
    """Base of every form; a field's `Ask` says how it is asked for."""

    # what checks a form is built as the form is first sent: a start would build it for a hundred
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


class FieldProblem(ValueError):
    """A validator's refusal that blames one field."""

    def __init__(self, field_name: str, message: str) -> None:
        """Keep the field's name, so that the message stands beside it."""
        self.field_name, self.message = field_name, message
        super().__init__(message)


F = TypeVar("F", bound=Form)


@dataclass(frozen=True)
class FormState(Generic[F]):
    """A form on its way: what was typed, what is wrong with it, and its value once nothing is."""

    model: type[F]
    units: Units
    raw: Raw
    form_id: str
    version: int | None = None
    value: F | None = None
    errors: Mapping[str, str] = field(default_factory=dict)
    typed: Mapping[str, str] = field(default_factory=dict)
    understood: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[Choice]] = field(default_factory=dict)

    @cached_property
    def fields(self) -> tuple[FieldView, ...]:
        """Every field as drawn, in the form's order."""
        return tuple(self._view(name, ask, info) for name, ask, info in questions(self.model))

    @property
    def shown(self) -> tuple[FieldView, ...]:
        """The fields in plain sight."""
        return tuple(view for view in self.fields if not view.folded)

    @property
    def folded(self) -> tuple[FieldView, ...]:
        """The fields under "More"."""
        return tuple(view for view in self.fields if view.folded and not view.name.startswith(OWN))

    @property
    def own(self) -> tuple[FieldView, ...]:
        """The shop's own lines, folded by themselves."""
        return tuple(view for view in self.fields if view.name.startswith(OWN))

    @property
    def wrong(self) -> tuple[FieldView, ...]:
        """The fields with an error, for the summary on top."""
        return tuple(view for view in self.fields if view.error)

    @property
    def general_error(self) -> str:
        """What is wrong with the form as a whole."""
        return self.errors.get("", "")

    def field(self, name: str) -> FieldView:
        """Return one field by name."""
        return next(view for view in self.fields if view.name == name)

    def with_choices(self, choices: Mapping[str, Iterable[Choice]]) -> FormState[F]:
        """Return the state with the choices that the logbook offers."""
        return replace(self, choices={**self.choices, **{name: tuple(c) for name, c in choices.items()}})

    def with_errors(self, errors: Mapping[str, str]) -> FormState[F]:
        """Return the state refused; an error under "" is about the form as a whole."""
        return replace(self, errors={**self.errors, **errors}, value=None)

    def _view(self, name: str, ask: Ask, info: FieldInfo) -> FieldView:
        return field_view(
            name,
            kind_of(ask, info),
            ask,
            self.raw,
            self.units,
            required=info.is_required(),
            error=self.errors.get(name, ""),
            understood=self.understood.get(name, ""),
            choices=self.choices.get(name),
        )


@lru_cache(maxsize=512)
def questions(model: type[Form]) -> tuple[tuple[str, Ask, FieldInfo], ...]:
    """Return the questions of a form in order."""
    found = []
    for name, info in model.model_fields.items():
        ask = next((piece for piece in info.metadata if isinstance(piece, Ask)), None)
        if ask is None:
            raise TypeError(f"{model.__name__}.{name} has no Ask")
        found.append((name, ask, info))
    return tuple(found)


def kind_of(ask: Ask, info: FieldInfo) -> str:
    """Return how a field is asked for: as its `Ask` says, else as its type suggests."""
    if ask.kind:
        return ask.kind
    types = {info.annotation, get_origin(info.annotation), *get_args(info.annotation)}
    if list in types or tuple in types:
        return "many"
    by_type = {bool: "yesno", Doubtful: "doubtful", datetime: "datetime", date: "date", time: "time"}
    for python_type, kind in by_type.items():
        if python_type in types:
            return kind
    if ask.choices or ask.dynamic:
        return "choice"
    return "number" if ask.quantity else "text"


def raw_of(form: Any) -> dict[str, str | list[str]]:
    """Return the text fields of a posted form (Starlette's FormData); files are left to their own reader."""
    raw: dict[str, str | list[str]] = {}
    for name in form:
        texts = [text for text in form.getlist(name) if isinstance(text, str)]
        if texts:
            raw[name] = texts[0] if len(texts) == 1 else texts
    return raw


def read_form(model: type[F], raw: Raw, units: Units) -> FormState[F]:
    """Return what a posted form says; `value` is None if anything in it must be put right."""
    answers, errors = _answers(model, raw, units)
    value: F | None = None
    if not errors:
        try:
            value = model(**{name: answer.value for name, answer in answers.items()})
        except ValidationError as problem:
            errors = _blamed(problem)
    return FormState(
        model,
        units,
        raw,
        form_id=_form_id(first(raw, "form_id")),
        version=_version(first(raw, "version")),
        value=value,
        errors=errors,
        typed={name: answer.typed for name, answer in answers.items() if answer.typed},
        understood={name: answer.understood for name, answer in answers.items() if answer.understood},
    )


def blank_form(model: type[F], units: Units, defaults: Mapping[str, Any] | None = None) -> FormState[F]:
    """Return an empty form, or one that offers values."""
    asked = [(name, info) for name, _, info in questions(model) if not info.is_required()]
    offered = {name: info.get_default(call_default_factory=True) for name, info in asked}
    # "don't know" is for the shop to pick; left alone, a blank falls back to it anyway.
    known = {name: value for name, value in offered.items() if value != Doubtful(None, "unknown")}
    return form_of(model, {**known, **(defaults or {})}, units)


def form_of(
    model: type[F],
    values: Mapping[str, Any],
    units: Units,
    typed: Mapping[str, str] | None = None,
    version: int | None = None,
) -> FormState[F]:
    """Return the form of a record: numbers as they were typed if that is known and still true.

    `values` are SI by field name: a row's columns, or `dict(form)` (`model_dump` would unpack Doubtful).
    """
    raw: dict[str, str | list[str]] = {}
    for name, ask, info in questions(model):
        raw.update(
            _raw_of_value(name, kind_of(ask, info), ask, values.get(name), units, (typed or {}).get(name, ""))
        )
    return FormState(model, units, raw, form_id=_form_id(""), version=version)


def _answers(model: type[Form], raw: Raw, units: Units) -> tuple[dict[str, Answer], dict[str, str]]:
    answers, errors = {}, {}
    for name, ask, info in questions(model):
        kind = kind_of(ask, info)
        try:
            answers[name] = read_answer(name, kind, raw, ask, units)
        except Blank:
            if info.is_required():
                errors[name] = _asked_for(kind, ask)
        except AnswerProblem as problem:
            errors[name] = str(problem)
    return answers, errors


def _asked_for(kind: str, ask: Ask) -> str:
    if kind in ("choice", "yesno", "many"):
        return f"{ask.label}: pick one."
    return f"{ask.label} is needed. {'Type a number.' if ask.quantity else 'Fill it in.'}"


def _blamed(problem: ValidationError) -> dict[str, str]:
    """Return pydantic's findings as messages beside fields; our own words where a validator spoke."""
    errors: dict[str, str] = {}
    for finding in problem.errors(include_url=False):
        cause = finding.get("ctx", {}).get("error")
        name = str(finding["loc"][0]) if finding["loc"] else ""
        if isinstance(cause, FieldProblem):
            errors[cause.field_name] = cause.message
        elif isinstance(cause, ValueError):
            errors[name] = str(cause)
        elif finding["type"].startswith("int_"):
            errors[name] = "Type a whole number."
        else:
            errors[name] = "This was not understood. Pick or type it again."
    return errors


def _raw_of_value(
    name: str, kind: str, ask: Ask, value: Any, units: Units, typed: str
) -> dict[str, str | list[str]]:
    """Return what the browser would have sent for a value."""
    if isinstance(value, Doubtful):
        text = "" if value.value is None else as_typed(value.value, typed, ask, units)
        return {name: text, f"{name}_sure": value.sure}
    if value is None:
        return {}
    if kind == "many":
        return {name: [str(item) for item in value]}
    if kind in ("number", "stepper", "doubtful"):
        return {name: as_typed(float(value), typed, ask, units)}
    if isinstance(value, bool):
        return {name: "yes" if value else "no"}
    if isinstance(value, datetime):
        return {name: field_text(value, units.zone)}
    if isinstance(value, time):
        return {name: f"{value:%H:%M}"}
    return {name: str(value)}


def _form_id(text: str) -> str:
    """Return a one-use form id: the one that came back, or a fresh one."""
    return text if re.fullmatch(r"[A-Za-z0-9_-]{8,64}", text) else secrets.token_urlsafe(16)


def _version(text: str) -> int | None:
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else None
