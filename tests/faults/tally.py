"""What the suite of faults counts: each fault, how often it was tried, and what was lost."""

from __future__ import annotations

from collections.abc import Callable, Sequence

Tally = Callable[[str, int, Sequence[object]], None]
HEAD = ("fault", "tries", "survived", "lost")


def table_of(counted: list[tuple[str, int, int]]) -> list[str]:
    """Return the lines of a table of (fault, tries, lost); the same fault of several tests is added up."""
    rows: dict[str, tuple[int, int]] = {}
    for fault, tries, lost in counted:
        before = rows.get(fault, (0, 0))
        rows[fault] = (before[0] + tries, before[1] + lost)
    lines = [f"| {' | '.join(HEAD)} |", "|---|---|---|---|"]
    return lines + [
        f"| {fault} | {tries} | {tries - lost} | {lost} |" for fault, (tries, lost) in rows.items()
    ]
