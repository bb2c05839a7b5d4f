"""Worlds in which shops are drawn: the books' own, and some in which the books are wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import log

from model.priors import prior_for

# What a seal that fails does: the same as in the demo's hidden forge.
FAILED_SEAL = {"ln_transfer": log(0.4), "activity_logit": -1.0}
LOW_THERMOCOUPLE_K = 25.0
WEAK_PLAIN_SDS = -2.5
WIDE_SCATTER = 2.0


@dataclass(frozen=True)
class World:
    """How shops of a world differ from shops drawn from the books.

    stated : true coordinates, in prior sds, that all its shops share
    failed_seals : share of batches whose seal fails; the batch that is foretold has a good one
    drift_K : how much hotter the work is from batch `drift_from` on, whatever the instrument says
    mixes : which of the mixes it burns; files_only : hardness is felt with files
    """

    name: str
    stated: Mapping[str, float] = field(default_factory=dict)
    failed_seals: float = 0.0
    drift_K: float = 0.0
    drift_from: int = 0
    mixes: tuple[str, ...] = ("plain", "soda", "chalk")
    files_only: bool = False


def _low_thermocouple() -> dict[str, float]:
    key = "temperature_bias/thermocouple:1"
    return {key: LOW_THERMOCOUPLE_K / prior_for(key).sd}


def _weak_plain() -> dict[str, float]:
    """Return a pack whose transfer lies 2.5 sds of shop and mix together below the books."""
    sds = {"ln_transfer/shop": "ln_transfer/shop", "ln_transfer/mix:plain": "ln_transfer/plain_mix"}
    sizes = {name: prior_for(row).sd for name, row in sds.items()}
    both = sum(sd**2 for sd in sizes.values()) ** 0.5
    return {name: WEAK_PLAIN_SDS * sd / both for name, sd in sizes.items()}


def _wide_scatter() -> dict[str, float]:
    """Return fires that scatter twice as wide as the books say."""
    priors = (prior_for(f"scatter_scale/{kind}") for kind in ("instrument", "eye"))
    return {one.name: (log(WIDE_SCATTER) - one.mean) / one.sd for one in priors}


BOOKS = World("books")
WORLDS = {
    world.name: world
    for world in (
        BOOKS,
        World("seals", failed_seals=0.1),
        World("low-thermocouple", stated=_low_thermocouple()),
        World("drift", drift_K=-30.0, drift_from=15),
        World("scatter", stated=_wide_scatter()),
        World("weak-charcoal", stated=_weak_plain(), mixes=("plain",)),
        World("files", files_only=True),
    )
}
