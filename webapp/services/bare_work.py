"""Work that was reheated bare: what a flame with air to spare may take from its skin, in words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from model.cause_changes import bare_in_lean_fire
from model.process import HeldSurface, History
from webapp.store.tables import Step

BARE: Final = "bare"
LEAN: Final = "lean"
RICH: Final = "rich"
INSTEAD: Final = "Wrap it in foil or pack it again next time, most of all for a thin case."


def bare_words(steps: Iterable[Step]) -> tuple[str, ...]:
    """Return what a bare reheat in a lean flame, or one not noted, may have cost; nothing for other work."""
    flames = {step.settings.get("flame", "") for step in steps if is_bare(step)}
    if LEAN in flames:
        low, high = left_wt()
        words = (
            f"Reheated bare in a lean flame: the skin loses carbon. Its forecast counts on {low:g} to "
            f"{high:g} % left at the skin, all as likely; a file tells. {INSTEAD}"
        )
        return (words,)
    if "" in flames:
        words = (
            "Reheated bare, and the flame was not noted: the forecast takes the skin to have kept its "
            "carbon. In a lean flame, or one that scales, it loses some and stays soft. Note the flame if "
            f"you know it. {INSTEAD}"
        )
        return (words,)
    return ()


def is_bare(step: Step) -> bool:
    """Tell whether work lay open in the fire of a reheat."""
    return step.kind == "reheat" and step.settings.get("wrapping", "") == BARE


def left_wt() -> tuple[float, float]:
    """Return what a lean flame may leave at a bare skin, lowest and highest [wt%]."""
    surface = bare_in_lean_fire(History.hold(1073.15, 600.0)).surface
    assert isinstance(surface, HeldSurface)  # that is what it is for
    return surface.surface_carbon_wt - surface.doubt_wt, surface.surface_carbon_wt + surface.doubt_wt
