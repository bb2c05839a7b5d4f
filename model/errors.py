"""What the model refuses, and why.

ModelError
├── OutOfRange      a number outside the stated range of a quantity
├── NotPossible     numbers that are each fine and together make no process
└── NumberProblem   typed text that is no number, or could be read two ways
"""

from __future__ import annotations


class ModelError(ValueError):
    """Base of every refusal of the model; `str()` is fit to show to a user."""


class OutOfRange(ModelError):
    """A value lies outside the range a quantity is stated for."""

    def __init__(self, path: str, value: float, low: float, high: float, unit: str, advice: str) -> None:
        """Keep the pieces, so that a form or the JSON interface can point at the field."""
        self.path, self.value, self.low, self.high = path, value, low, high
        self.unit, self.advice = unit, advice
        super().__init__(f"{path} is {value:g} {unit}; allowed is {low:g} to {high:g} {unit}. {advice}")


class NotPossible(ModelError):
    """The pieces of a process contradict each other."""

    def __init__(self, path: str, what: str, advice: str) -> None:
        """Keep the pieces, so that a form or the JSON interface can point at the field."""
        self.path, self.what, self.advice = path, what, advice
        super().__init__(f"{path}: {what}. {advice}")


class NumberProblem(ModelError):
    """Typed text does not read as one number."""

    def __init__(self, text: str, what: str, advice: str) -> None:
        """Keep the pieces; the text is cut so that a pasted novel does not come back whole."""
        self.text, self.what, self.advice = text[:40], what, advice
        super().__init__(f"{what} {advice}")
