"""The one shape in which the JSON interface refuses: where, what, what is allowed, what to do."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from model.errors import ModelError, NotPossible, OutOfRange
from model.ranges import Range

LONGEST_BODY_BYTES = 262_144
LONGEST_ECHO = 80
MOST_ERRORS = 50

_ALLOWED = {
    "allowed": "{}",
    "expected": "{}",
    "expected_tags": "{}",
    "ge": "{} or more",
    "le": "up to {}",
    "min_length": "{} or more of them",
    "max_length": "up to {} of them",
    "pattern": "text as in {}",
}
"""Where pydantic's own complaints say what is allowed."""


class ErrorItem(BaseModel):
    """One thing that is wrong."""

    model_config = ConfigDict(frozen=True)

    path: str = Field(description="The field, as in stages[0].temperature_C; empty for the whole body.")
    what: str = Field(description="What is wrong.")
    allowed: str | None = Field(default=None, description="What is allowed, where that can be said.")
    advice: str | None = Field(default=None, description="What to do about it.")


class ErrorBody(BaseModel):
    """Everything that is wrong with a request."""

    errors: list[ErrorItem]


def json_of(answer: BaseModel, indent: int | None = None) -> str:
    """Write an answer as plain ASCII JSON, which has no NaN and no broken characters."""
    return json.dumps(answer.model_dump(mode="json", by_alias=True), allow_nan=False, indent=indent)


class Refused(ValueError):
    """A request that cannot be answered, with all that is wrong with it."""

    def __init__(self, errors: Sequence[ErrorItem]) -> None:
        """Keep the errors, at most a page of them."""
        self.body = ErrorBody(errors=list(errors)[:MOST_ERRORS])
        super().__init__("; ".join(f"{error.path}: {error.what}" for error in self.body.errors))


def allowed_of(range_: Range) -> str:
    """Write a range as words."""
    return f"{range_.low:g} to {range_.high:g} {range_.unit}".rstrip()


@dataclass(frozen=True)
class Within:
    """Hold a number in a form against a range of the model, for pydantic and for OpenAPI."""

    range_: Range

    def _check(self, value: float) -> float:
        if math.isfinite(value) and self.range_.low <= value <= self.range_.high:
            return value
        context = {"allowed": allowed_of(self.range_), "advice": _advice(value, self.range_)}
        what = f"{value:g} {self.range_.unit}".rstrip() + " is out of range"
        raise PydanticCustomError("out_of_range", "{what}", {"what": what, **context})

    def __get_pydantic_core_schema__(self, source: type[Any], handler: GetCoreSchemaHandler) -> CoreSchema:
        """Check after pydantic's own checks of a number."""
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Publish the range."""
        return {**handler(schema), "minimum": self.range_.low, "maximum": self.range_.high}


def _advice(value: float, range_: Range) -> str:
    """Return the range's advice, and first the likeliest slip: Fahrenheit given as Celsius."""
    celsius = (value - 32.0) / 1.8
    if range_.unit == "C" and value > range_.high and range_.low <= celsius <= range_.high:
        return f"If that is Fahrenheit, it is {celsius:.0f} C. {range_.advice}"
    return range_.advice


def parse_strict(raw: bytes | str) -> Any:
    """Parse JSON, refusing doubled keys, endless bodies and endless numbers.

    NaN and Infinity come through as such, so that the form can refuse them at their field.
    """
    if len(raw) > LONGEST_BODY_BYTES:
        raise too_long()
    try:
        return json.loads(raw, parse_constant=float, object_pairs_hook=_unique)
    except Refused:
        raise
    except RecursionError:
        raise Refused([_whole("the JSON is nested too deeply")]) from None
    except UnicodeDecodeError:
        raise Refused([_whole("the text is not UTF-8")]) from None
    except json.JSONDecodeError as problem:
        what = f"this is not JSON: {problem.msg} at line {problem.lineno}, column {problem.colno}"
        raise Refused([_whole(what)]) from None
    except ValueError:
        raise Refused([_whole("a number has too many digits")]) from None


def too_long() -> Refused:
    """Return the refusal of an endless body."""
    return Refused([_whole("the body is too long", f"up to {LONGEST_BODY_BYTES} bytes")])


def _whole(what: str, allowed: str | None = None) -> ErrorItem:
    return ErrorItem(path="", what=what, allowed=allowed, advice="Send one JSON object.")


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    value = dict(pairs)
    if len(value) < len(pairs):
        doubled = Counter(name for name, _ in pairs).most_common(1)[0][0]
        raise Refused([_whole(f"the key {doubled[:LONGEST_ECHO]!r} appears twice")])
    return value


def errors_of_validation(problem: ValidationError, tagged: frozenset[str]) -> list[ErrorItem]:
    """Return pydantic's complaints in our shape; `tagged` names the fields whose kind is in the path."""
    return [_item(error, tagged) for error in problem.errors(include_url=False, include_input=False)]


def error_of_request(error: Any) -> ErrorItem:
    """Return a complaint about a request in our shape; its path is the name of a parameter or body field."""
    place, *location = error["loc"]
    # of a body that may be of several kinds, the kind that was tried comes first
    return _item({**error, "loc": location}, frozenset({""}) if place == "body" else frozenset())


def _item(error: Any, tagged: frozenset[str]) -> ErrorItem:
    context = error.get("ctx", {})
    kind, path = error["type"], _path(error["loc"], tagged)
    if kind == "extra_forbidden":
        return ErrorItem(path=path, what="unknown key", advice="Take it out, or check its spelling.")
    if kind == "finite_number":
        what = "NaN and Infinity are not numbers that can be used"
        return ErrorItem(path=path, what=what, allowed="finite numbers", advice="Leave the field out.")
    if kind == "missing":
        return ErrorItem(path=path, what="missing", advice="Add this field.")
    allowed = next((words.format(context[name]) for name, words in _ALLOWED.items() if name in context), None)
    return ErrorItem(
        path=path,
        what=error["msg"][:400],
        allowed=allowed,
        advice=context.get("advice") or "Correct this field.",
    )


def _path(location: Sequence[str | int], tagged: frozenset[str]) -> str:
    """Return a path as written in code, without the kinds that pydantic adds after a tagged field."""
    path = ""
    for place, part in enumerate(location):
        if isinstance(part, int):
            path += f"[{part}]"
        elif not _is_kind(location, place, tagged):
            path += ("." if path else "") + part[:LONGEST_ECHO]
    return path


def _is_kind(location: Sequence[str | int], place: int, tagged: frozenset[str]) -> bool:
    """Tell whether a part of a path only names which of several forms was tried."""
    before = location[place - 1] if place else ""
    return f"{location[place - 2]}[]" in tagged if isinstance(before, int) else before in tagged


def errors_of_model(problem: ModelError) -> list[ErrorItem]:
    """Return a refusal of the model in our shape."""
    if isinstance(problem, OutOfRange):
        allowed = f"{problem.low:g} to {problem.high:g} {problem.unit}".rstrip()
        what = f"{problem.value:g} {problem.unit}".rstrip() + " is out of range"
        return [ErrorItem(path=problem.path, what=what, allowed=allowed, advice=problem.advice)]
    if isinstance(problem, NotPossible):
        return [ErrorItem(path=problem.path, what=problem.what, advice=problem.advice)]
    return [ErrorItem(path="", what=str(problem))]
