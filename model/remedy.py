"""One way to put a piece right, and advice of several, in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from model.outcome import Outcome
from model.process import Quench

Way = Literal["as_it_is", "temper", "reheat", "even_out", "box"]
WhyNot = Literal["", "too_deep", "too_shallow", "soft_already", "not_rich"]

WORK: Final[tuple[Way, ...]] = ("as_it_is", "temper", "reheat", "even_out", "box")
"""Ways from the least work to the most: of equal odds the lesser comes first."""
AGAIN: Final = "again"
"""Key of the next fire."""


@dataclass(frozen=True)
class BathChoice:
    """One of the shop's baths, by its key."""

    key: str
    quench: Quench


@dataclass(frozen=True)
class Remedy:
    """One way to put a piece right, and what it comes to; None for what it does not have.

    heat_K, seconds : of the box or of the evening out; reheat_K : heat for the quench
    bath : key of the bath; medium : what it holds; temper_K : the temper after it, or alone
    why_not : why it cannot help, "" where it may; outcome : None where that was clear without working it out
    """

    way: Way
    outcome: Outcome | None
    heat_K: float | None = None
    seconds: float | None = None
    reheat_K: float | None = None
    bath: str = ""
    medium: str = ""
    temper_K: float | None = None
    why_not: WhyNot = ""


@dataclass(frozen=True)
class Standing:
    """The finished skin as its readings leave it, middles over draws.

    carbon_wt : [wt%]; retained : austenite left by the quench [-]
    hardened : martensite, retained austenite and carbide together [-]
    """

    carbon_wt: float
    retained: float
    hardened: float


@dataclass(frozen=True)
class Advice:
    """How the piece stands, and every way, best odds first; those that cannot help come last."""

    standing: Standing
    ways: tuple[Remedy, ...]
