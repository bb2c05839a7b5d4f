"""Reads the tables that travel with the model."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def read_table(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of `model/data/<name>` by column; lines that begin with # are notes."""
    text = files("model").joinpath("data", name).read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if line.strip() and not line.startswith("#"))
    return tuple(dict(row) for row in csv.DictReader(lines))
