"""One warning of a forecast."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Warned:
    """One warning: a code for programs, the field it is about, and words for the shop."""

    code: str
    path: str
    text: str
