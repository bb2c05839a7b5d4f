"""How examples are thrown: drawn from a seed alone, none kept, none shrunk, however long each takes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.strategies import SearchStrategy


def throw_each(drawn: SearchStrategy[Any], examples: int, number: int, at: Callable[[Any], None]) -> None:
    """Call `at` with so many examples, the same for the same number."""

    @seed(number)
    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(drawn)
    def one(example: Any) -> None:
        at(example)

    one()
