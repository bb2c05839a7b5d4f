"""What a batch costs, and from how many parts on it pays against buying bar that hardens by itself."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, inf
from typing import Final

from model.ranges import Range, check

MONEY: Final = Range(0.0, 1e6, "", "Give the price in your own money; 0 leaves it out.")
OF_A_BATCH: Final = Range(0.0, 1e12, "", "Give the prices in your own money; 0 leaves one out.")
PARTS: Final = Range(1.0, 10000.0, "", "Count the good parts of one box.")


@dataclass(frozen=True)
class Prices:
    """What the shop pays, in its own money: a kilogram of each supply, luting a box, an hour of work."""

    gas_per_kg: float = 0.0
    charcoal_per_kg: float = 0.0
    carbonate_per_kg: float = 0.0
    luting: float = 0.0
    hour: float = 0.0


@dataclass(frozen=True)
class Used:
    """What a batch takes: gas, fresh charcoal and carbonate [kg], hours of somebody's time [h]."""

    gas_kg: float
    charcoal_kg: float
    carbonate_kg: float
    hours: float


@dataclass(frozen=True)
class BatchCost:
    """A batch's cost and its pieces, in the shop's money."""

    gas: float
    pack: float
    luting: float
    time: float

    @property
    def whole(self) -> float:
        """Return the cost of the batch."""
        return self.gas + self.pack + self.luting + self.time


@dataclass(frozen=True)
class Compared:
    """Case hardening beside a hardenable bar, per part; from `even_at` parts on it pays, None: never."""

    case_hardened: float
    hardenable: float
    even_at: int | None


def batch_cost(used: Used, prices: Prices) -> BatchCost:
    """Return the cost of a batch; prices 0 to a million. Raises OutOfRange. Source: sums."""
    for name, price in vars(prices).items():
        check(f"prices.{name}", price, MONEY)
    pack = used.charcoal_kg * prices.charcoal_per_kg + used.carbonate_kg * prices.carbonate_per_kg
    return BatchCost(used.gas_kg * prices.gas_per_kg, pack, prices.luting, used.hours * prices.hour)


def compare_with_hardenable(
    batch: float, parts: float, plain_bar: float, hardenable_bar: float, hardening: float = 0.0
) -> Compared:
    """Cost of one part both ways, and how many parts a batch must hold for the case to be the cheaper.

    batch : of a whole box, `OF_A_BATCH`; parts : in it, `PARTS`; plain_bar, hardenable_bar : bar for one part
    hardening : heating, quenching and tempering one part of the hardenable bar; prices `MONEY`
    Returns `Compared`. Raises OutOfRange.
    Source: sums; a batch costs the same however full it is.
    """
    check("parts", parts, PARTS)
    check("batch", batch, OF_A_BATCH)
    bars = {"plain_bar": plain_bar, "hardenable_bar": hardenable_bar, "hardening": hardening}
    for name, price in bars.items():
        check(name, price, MONEY)
    other = hardenable_bar + hardening
    saved = other - plain_bar
    even = batch / saved if saved > 0.0 else inf
    even_at = None if even == inf else max(floor(even) + (even > floor(even)), 1)
    return Compared(plain_bar + batch / parts, other, even_at)
