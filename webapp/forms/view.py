"""What the form macros draw: plain values, one per field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.forms.answers import Raw, first
from webapp.forms.ask import LONGEST_LINE, LONGEST_NOTES, MOST_CHIPS, SURE_WORDS, Ask, Choice, Units
from webapp.forms.numbers import allowed, sign

YES_NO = (Choice("yes", "Yes"), Choice("no", "No"))


@dataclass(frozen=True)
class ChoiceView:
    """A choice as drawn."""

    value: str
    label: str
    help: str
    picked: bool


@dataclass(frozen=True)
class FieldView:
    """A field as drawn; `kind` says which input it becomes."""

    name: str
    kind: str
    label: str
    unit: str
    help: str
    text: str
    error: str
    understood: str
    allowed: str
    choices: tuple[ChoiceView, ...]
    chips: bool
    sure: tuple[ChoiceView, ...]
    required: bool
    folded: bool
    step: str
    longest: int

    @property
    def described_by(self) -> str:
        """Ids of the help, the reading and the error of this field, for screen readers."""
        parts = (("help", self.help), ("understood", self.understood), ("error", self.error))
        return " ".join(f"{self.name}-{part}" for part, words in parts if words)


def field_view(
    name: str,
    kind: str,
    ask: Ask,
    raw: Raw,
    units: Units,
    *,
    required: bool,
    error: str = "",
    understood: str = "",
    choices: Sequence[Choice] | None = None,
) -> FieldView:
    """Return one field as it is drawn."""
    numeric = ask.quantity is not None
    unit = units.unit_for(ask)
    offered = _offered(kind, ask, choices)
    picked = _picked(raw, name)
    return FieldView(
        name=name,
        kind=kind,
        label=ask.label,
        unit=sign(unit, ask) if numeric else "",
        help=ask.help,
        text="" if kind == "password" else first(raw, name),
        error=error,
        understood=understood,
        allowed=allowed(ask, unit) if numeric and ask.range else "",
        choices=tuple(ChoiceView(c.value, c.label, c.help, c.value in picked) for c in offered),
        chips=kind in ("yesno", "many") or len(offered) <= MOST_CHIPS,
        sure=_sure(raw, name) if kind == "doubtful" else (),
        required=required,
        folded=ask.folded,
        step=f"{ask.step:g}" if ask.step else "",
        longest=ask.longest or (LONGEST_NOTES if kind == "notes" else LONGEST_LINE),
    )


def _offered(kind: str, ask: Ask, choices: Sequence[Choice] | None) -> Sequence[Choice]:
    if kind == "yesno":
        return YES_NO
    return ask.choices if choices is None else choices


def _picked(raw: Raw, name: str) -> set[str]:
    found = raw.get(name, "")
    return {found} if isinstance(found, str) else set(found)


def _sure(raw: Raw, name: str) -> tuple[ChoiceView, ...]:
    picked = first(raw, f"{name}_sure") or "sure"
    return tuple(ChoiceView(value, words, "", value == picked) for value, words in SURE_WORDS)
