"""Which temper brings a skin to a wanted hardness, with an oven whose dial is not to be trusted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief, constants_of
from model.conversion import rockwell_c_continued
from model.errors import NotPossible
from model.hardness import TEMPER_RANGE_K, temper_parameter, tempered_vickers, true_temper_K
from model.process import Process, Temper
from model.units import kelvin_to_celsius

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

STEP_K: Final = 5.0
"""Step between the dial settings tried [K], as fine as a dial is read."""
TOLERANCE_HRC: Final = 1.0
"""A hardness this near counts as met [HRC]: what two testers in good order differ by; practice."""
LEAST_ODDS: Final = 0.05
"""Odds below which a hardness counts as out of reach."""
EMBRITTLES_K: Final = (533.15, 643.15)
"""Tempers that make martensite less tough instead of more [K], 260 to 370 C; Krauss, Steels, from memory."""
BAND: Final = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Skin:
    """The skin as quenched; every field (draws,).

    hardness_HV : [HV]; carbon_wt : dissolved in its martensite [wt%]; martensite : its share [-]
    """

    hardness_HV: Array
    carbon_wt: Array
    martensite: Array


@dataclass(frozen=True)
class TemperChoice:
    """Hardness against the dial, and the best setting.

    dial_K : (k,) settings tried [K]; low_HRC, middle_HRC, high_HRC : (k,) nine in ten and the middle [HRC]
    odds : (k,) of landing within the tolerance; embrittles : (k,) the setting costs toughness
    best : index of the best setting
    as_quenched_HRC : low, middle and high without a temper [HRC]
    """

    dial_K: Array
    low_HRC: Array
    middle_HRC: Array
    high_HRC: Array
    odds: Array
    embrittles: Flags
    best: int
    as_quenched_HRC: tuple[float, float, float]

    @property
    def best_K(self) -> float:
        """The best setting [K]."""
        return float(self.dial_K[self.best])

    @property
    def best_odds(self) -> float:
        """Its odds."""
        return float(self.odds[self.best])


def temper_draws(
    belief: ShopBelief, process: Process, oven: str, draws: int, seed: int = 0
) -> tuple[Array, Array]:
    """Draw what a shop's oven and the law of the temper are off by.

    belief : of the shop; process : the work, tempered or not; oven : its key, "" for one never met
    draws : 1 or more; seed : any integer: the draws go with those of `belief.constants` for the process
    Returns offset, true less dial [K], and factor on what a temper takes off [-], (draws,) each.
    Source: `links`; the temper's own scatter is in the offset.
    """
    steps = (
        *(step for step in process.steps if not isinstance(step, Temper)),
        Temper(TEMPER_RANGE_K[0], 1.0),
    )
    asked = replace(process, steps=steps, keys=replace(process.keys, oven=oven), temper_doubt_K=0.0)
    constants = constants_of(asked, belief.inputs(asked, draws, seed))
    return constants.oven_offset_K, constants.temper_loss_factor


def choose_temper(
    skin: Skin,
    wanted_HRC: float,
    seconds: float,
    oven_offset_K: Array,
    loss_factor: Array,
    tolerance_HRC: float = TOLERANCE_HRC,
) -> TemperChoice:
    """Choose the oven's setting for a wanted hardness of the skin.

    skin : as quenched; wanted_HRC : 20 to 68 [HRC]; seconds : in the oven at heat [s]
    oven_offset_K : (draws,) or (1,), true less dial [K]; loss_factor : the same, about 1 [-]
    tolerance_HRC : how near counts as met [HRC]
    Returns the choice; between settings of equal odds the one whose middle lies nearest, then the cooler.
    Raises NotPossible for a hardness that no setting from 100 to 320 C reaches.
    Source: `hardness.tempered_vickers` at the true heat, held within the range it is made for.
    """
    dial_K = np.arange(TEMPER_RANGE_K[0], TEMPER_RANGE_K[1] + 0.5 * STEP_K, STEP_K)
    before = rockwell_c_continued(skin.hardness_HV)
    after = _after(skin, before, dial_K, seconds, oven_offset_K, loss_factor)
    odds = (np.abs(after - wanted_HRC) <= tolerance_HRC).mean(axis=0)
    low, middle, high = np.quantile(after, BAND, axis=0)
    untempered = np.quantile(before, BAND)
    best = int(np.lexsort((dial_K, np.abs(middle - wanted_HRC), -odds))[0])
    if odds[best] < LEAST_ODDS:
        _refuse(wanted_HRC, untempered, middle)
    embrittles = (dial_K >= EMBRITTLES_K[0]) & (dial_K <= EMBRITTLES_K[1])
    ends = (float(untempered[0]), float(untempered[1]), float(untempered[2]))
    return TemperChoice(dial_K, low, middle, high, odds, embrittles, best, ends)


def _after(
    skin: Skin, before: Array, dial_K: Array, seconds: float, offset_K: Array, loss_factor: Array
) -> Array:
    """Return the hardness after each setting, (draws, k) [HRC]."""
    parameter = temper_parameter([(true_temper_K(dial_K, offset_K[:, None]), seconds)])
    hardness, carbon = skin.hardness_HV[:, None], skin.carbon_wt[:, None]
    martensite, factor = skin.martensite[:, None], loss_factor[:, None]
    return np.minimum(
        before[:, None],
        rockwell_c_continued(tempered_vickers(hardness, carbon, martensite, parameter, factor)),
    )


def _refuse(wanted_HRC: float, untempered: Array, middle: Array) -> None:
    """Say in words why a hardness is out of reach."""
    if wanted_HRC > untempered[1]:
        what = f"{wanted_HRC:.0f} HRC is more than the quench gives, about {untempered[1]:.0f} HRC"
        raise NotPossible(
            "wanted_HRC", what, "A temper only softens: quench harder, or carburize for longer."
        )
    hottest_C = kelvin_to_celsius(TEMPER_RANGE_K[1])
    left = (
        f"a temper at {hottest_C:.0f} C ({1.8 * hottest_C + 32.0:.0f} F) leaves, about {middle[-1]:.0f} HRC"
    )
    what = f"{wanted_HRC:.0f} HRC is softer than {left}"
    raise NotPossible("wanted_HRC", what, "Hotter tempers are not forecast; a case is not used so soft.")
