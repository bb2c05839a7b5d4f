"""Lines of a shop's own: how one is asked for, and the form that asks for them beside its own questions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, TypeVar

from pydantic import create_model, model_validator

from model.ranges import Range
from webapp.forms.kit import OWN, Ask, Choice, FieldProblem, Form

F = TypeVar("F", bound=Form)
MOST_CHOICES = 12
LONGEST_CHOICE = 60
ABOUT = (
    Choice("batch", "Every batch"),
    Choice("piece", "Every piece in a box", "part or coupon"),
    Choice("part", "Every part", "what the shop makes"),
    Choice("bar", "Every bar", "steel in the rack"),
)
WORDS, NUMBER, YES_NO, CHOICE = "words", "number", "yes_no", "choice"
KINDS = (
    Choice(WORDS, "Words"),
    Choice(NUMBER, "A number", "with its unit"),
    Choice(YES_NO, "Yes or no"),
    Choice(CHOICE, "One of a list"),
)
ANY_NUMBER = Range(-1e9, 1e9, "", "Type the number alone, as in 6.5.")
YES_OR_NO = ("yes", "no")
Label = Annotated[str, Ask("What you want to note", help="As in: Charcoal from", longest=60)]
ChoicesText = Annotated[
    str,
    Ask("The list", help="For one of a list: an answer a line, as in beech, birch, bought", kind="notes"),
]
IsCopied = Annotated[
    bool,
    Ask(
        "Copy it when something is done again",
        help="Yes for a setting, no for a result",
        kind="yesno",
        folded=True,
    ),
]


class OwnLineForm(Form):
    """A new line of the shop's own."""

    label: Label
    about: Annotated[str, Ask("About", choices=ABOUT)] = "batch"
    kind: Annotated[str, Ask("It is", choices=KINDS)] = WORDS
    unit: Annotated[str, Ask("Unit of the number", help="As in g or %; blank: none", longest=20)] = ""
    choices: ChoicesText = ""
    is_copied: IsCopied = False

    @model_validator(mode="after")
    def list_and_unit_fit_the_kind(self) -> OwnLineForm:
        """Ask for the list where one is picked from, and for no unit where nothing is counted."""
        if self.kind == CHOICE:
            read_choices(self.choices)
        elif self.choices:
            raise FieldProblem("choices", "Only one of a list has a list. Pick that, or clear this.")
        if self.unit and self.kind != NUMBER:
            raise FieldProblem("unit", "Only a number has a unit. Pick a number, or clear this.")
        return self


class OwnLineChangeForm(Form):
    """A line put right; what it is about and what it holds stay, so that what was noted stays true."""

    label: Label
    choices: ChoicesText = ""
    is_copied: IsCopied = False


def read_choices(text: str) -> list[str]:
    """Return the answers of a list, one a line; raises `FieldProblem`."""
    found = list(dict.fromkeys(" ".join(line.split()) for line in text.splitlines() if line.strip()))
    if len(found) < 2:
        raise FieldProblem("choices", "A list has two answers or more, each on a line of its own.")
    if len(found) > MOST_CHOICES:
        raise FieldProblem("choices", f"{len(found)} answers are too many to pick from; {MOST_CHOICES} go.")
    if long := next((one for one in found if len(one) > LONGEST_CHOICE), ""):
        words = f"“{long[:20]}…” is too long for a button: {LONGEST_CHOICE} letters at most."
        raise FieldProblem("choices", words)
    return found


@dataclass(frozen=True)
class OwnQuestion:
    """A line as a form asks for it."""

    line_id: int
    label: str
    kind: str
    unit: str = ""
    choices: tuple[str, ...] = ()

    @property
    def field(self) -> tuple[Any, Any]:
        """Return the field's type and what it is while nobody answered."""
        if self.kind == NUMBER:
            ask = Ask(self.label, quantity="number", unit=self.unit, range=ANY_NUMBER, folded=True)
            return Annotated[float | None, ask], None
        if self.kind == WORDS:
            return Annotated[str, Ask(self.label, folded=True)], ""
        answers = YES_OR_NO if self.kind == YES_NO else self.choices
        picked = tuple(Choice(one, one.capitalize() if self.kind == YES_NO else one) for one in answers)
        ask = Ask(self.label, kind="choice", choices=(*picked, Choice("", "Not noted")), folded=True)
        return Annotated[str, ask], ""


@lru_cache(maxsize=64)
def with_own_lines(form: type[F], questions: tuple[OwnQuestion, ...]) -> type[F]:
    """Return a form that asks the shop's own lines after its own questions."""
    if not questions:
        return form
    fields = {f"{OWN}{one.line_id}": one.field for one in questions}
    return create_model(form.__name__, __base__=form, **fields)  # type: ignore[call-overload, no-any-return]


def own_answers(form: Form) -> dict[str, Any]:
    """Return what was answered to the shop's own lines, by their ids; None where nothing was."""
    found = {name: value for name, value in form if is_own(name)}
    return {name.removeprefix(OWN): None if value == "" else value for name, value in found.items()}


def is_own(name: str) -> bool:
    """Return whether a form's field is one of the shop's own lines."""
    return name.startswith(OWN) and name.removeprefix(OWN).isdecimal()


def but_own(form: Form, but: str = "") -> dict[str, Any]:
    """Return a form's answers but those of the shop's own lines, and but one."""
    return {name: value for name, value in form.model_dump().items() if name != but and not is_own(name)}


def own_values(own_lines: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a record holds as a form's fields take it."""
    return {f"{OWN}{key}": value for key, value in own_lines.items()}
