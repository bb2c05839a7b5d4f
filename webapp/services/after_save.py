"""What follows a save that changes what the logbook knows: the one place to join a new fit."""

from __future__ import annotations


def results_changed() -> None:
    """Tell whoever learns from results that steps, items or readings changed."""
