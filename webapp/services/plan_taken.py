"""Values of a plan that a tap takes into its form: sent as text, read with every check of the form."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any

from webapp.forms.answers import Raw
from webapp.forms.ask import Units
from webapp.forms.kit import form_of
from webapp.forms.plans import PlanForm

TAKEN = ("soak_s", "temper_K", "reheat_K", "bath_id")
MOST_CHARACTERS = 200


def take_of(values: Mapping[str, Any]) -> str:
    """Return values in SI as a button sends them; nothing stands for a field that is left blank."""
    return ";".join(f"{name}={'' if value is None else value}" for name, value in values.items())


def with_taken(raw: Raw, units: Units) -> Raw:
    """Return what was typed with what a button takes into it; what cannot be read is left as it was."""
    sent = raw.get("take", "")
    values = _values(sent if isinstance(sent, str) else "")
    if not values:
        return raw
    texts = form_of(PlanForm, values, units).raw
    return {**raw, **{name: texts.get(name, "") for name in values}}


def _values(sent: str) -> dict[str, float | int | None]:
    values: dict[str, float | int | None] = {}
    for pair in sent[:MOST_CHARACTERS].split(";"):
        name, _, text = pair.partition("=")
        if name not in TAKEN:
            continue
        try:
            number = float(text) if text else None
        except ValueError:
            continue
        if number is None or isfinite(number):
            values[name] = int(number) if number is not None and name == "bath_id" else number
    return values
