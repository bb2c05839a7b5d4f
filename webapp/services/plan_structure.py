"""What the steel is made of after the quench: shares at a place, and shares in the words of the shop."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.hardening import Hardened
from webapp.services.plan_face import at_depths
from webapp.services.plan_figures import Shares

Array = NDArray[np.float64]

NAMED_FROM = 0.1  # a soft part of less is not worth a word
TRACE = 0.05
RETAINED_FROM = 0.03
CARBIDE_FROM = 0.02
MOSTLY = 0.5
NEVER_HOT = 0.999  # work that never got hot enough to harden is all counted as ferrite
SOFT = ("ferrite", "pearlite", "bainite")


def shares_at(depth_m: Array, hardened: Hardened, at_m: float) -> Shares:
    """Return the mean shares at a depth over all draws."""
    found = {
        name: float(at_depths(np.array([at_m]), depth_m, getattr(hardened, name)).mean())
        for name in (*SOFT, "martensite", "retained_austenite", "carbide")
    }
    return Shares(**found)


def structure_in_words(shares: Shares) -> str:
    """Return shares in words, as in `martensite with 12 % retained austenite`."""
    hard = shares.martensite + shares.retained_austenite
    if shares.ferrite >= NEVER_HOT:
        return "ferrite and pearlite, never hot enough to harden"
    if hard < TRACE:
        return _soft_words(shares)
    if _soft(shares) < TRACE:
        return "martensite" + _extras(shares)
    if shares.martensite >= MOSTLY:
        return f"partly hardened (martensite{_extras(shares)}, the rest {_soft_words(shares)})"
    return f"partly hardened ({_soft_words(shares)}, {_percent(shares.martensite)} martensite)"


def structure_in_short(shares: Shares) -> str:
    """Return shares in a word or two, for a drawing."""
    if shares.martensite + shares.retained_austenite < TRACE:
        return _soft_words(shares)
    return "martensite" if _soft(shares) < TRACE else "partly hardened"


def _soft(shares: Shares) -> float:
    return shares.ferrite + shares.pearlite + shares.bainite


def _soft_words(shares: Shares) -> str:
    """Return what did not harden, most first."""
    if shares.ferrite >= NEVER_HOT:
        return "ferrite and pearlite"
    most = sorted(SOFT, key=lambda name: -float(getattr(shares, name)))
    named = [name for name in most if getattr(shares, name) >= NAMED_FROM * _soft(shares)]
    if len(named) < 2:
        return most[0]
    return f"{', '.join(named[:-1])} and {named[-1]}"


def _extras(shares: Shares) -> str:
    """Return what lies in the martensite."""
    found = []
    if shares.retained_austenite >= RETAINED_FROM:
        found.append(f"{_percent(shares.retained_austenite)} retained austenite")
    if shares.carbide >= CARBIDE_FROM:
        found.append(f"{_percent(shares.carbide)} free carbide")
    return f" with {' and '.join(found)}" if found else ""


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}\N{NO-BREAK SPACE}%"
