"""The few local inputs through which a shop's parameters reach one process.

Every shop parameter enters linearly (in its whitened coordinate) into a handful of local inputs, so the
forecast need only be differenced by the local inputs, however many parameters a logbook has.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, log, log10
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.baths import bath_group
from model.box_course import warm_up_s
from model.dated_changes import LINK, since
from model.hardness import TEMPER_CONSTANT
from model.pack import pack_prior
from model.priors import (
    bar_hardenability_prior,
    heat_kind,
    mix_deviation_prior,
    prior_for,
    prior_table,
    scatter_scale,
)
from model.process import Carburize, Keys, PackSupply, Process, Quench, Temper

Array = NDArray[np.float64]

LOCAL_INPUTS: Final = (
    "temperature_K",
    "ln_transfer",
    "activity_logit",
    "ln_lag",
    "bar_quantile",
    "rim_carbon_wt",
    "ln_bath_severity",
    "oven_offset_K",
    "ln_temper_loss",
    "ln_retained_austenite",
    "martensite_HV",
    "grain_number",
    "ln_pearlite_time",
    "ln_bainite_time",
    "activation_J_per_mol",
    "film_breakdown_K",
    "alloy_logit",
    "bare_quantile",
)
ROW: Final = {name: row for row, name in enumerate(LOCAL_INPUTS)}
# The shop's own constants that every process has, and that are learnt; then those only drawn from the books.
SHARED: Final = {
    "ln_retained_austenite": "retained_austenite_factor/shop",
    "martensite_HV": "martensite_shift/shop",
    "grain_number": "grain_number/shop",
    "ln_pearlite_time": "pearlite_time/shop",
    "ln_bainite_time": "bainite_time/shop",
    "activation_J_per_mol": "transfer_activation/shop",
    "film_breakdown_K": "film_breakdown/shop",
}
CARRIED: Final = {
    # one sd moves a depth by 0.005 mm and a hardness by 0.1 HRC at most (1018 to 9310, water and oil)
    "alloy_logit": "alloy_exponent/shop",
    # only of work reheated bare in a lean flame, from which nothing is learnt (`usable.why_not_learnt`)
    "bare_quantile": "bare_carbon/shop",
}
LATER: Final = {"ln_bath_severity": 1, "oven_offset_K": 2, "ln_temper_loss": 2}
"""Inputs whose coordinates are drawn after all others, and in which turn."""
TURN_OF_KIND: Final = {"bath": 1, "oven": 2, "temper": 2, "temper_loss": 2}  # the same by kind of coordinate
FITTED_INPUTS: Final = len(LOCAL_INPUTS) - len(CARRIED)
LATENTS: Final = ("fire/", "load/", "temper/")
LOAD_SHARE: Final = 0.5  # share of a fire's scatter (as sd) that each box in it has of its own; assumed

LINKS_KEPT: Final = 8192  # every process of a large logbook, which a fit and its readouts ask for many times

# Harris's law, d = 802.6 exp(-8571/T) sqrt(t) (physics notes 2a): one part in t is T^2/(2 * 8571) kelvin.
HARRIS_EXPONENT_K: Final = 8571.0
# What one temper is off by on its own, beside its oven: place on the shelf, door, swing [K]; assumed.
TEMPER_SCATTER_K: Final = 5.0


@dataclass(frozen=True)
class Links:
    """Local inputs of a process: what the books say, and the shop's keyed coordinates that shift them.

    terms : coordinate, local input, coefficient
    scatter : coordinate of a fire's own luck, coordinate of the scale it follows, share of its variance that
        scales; the rest is what was doubted in the record
    """

    offset: Array
    terms: tuple[tuple[str, int, float], ...]
    scatter: tuple[tuple[str, str, float], ...] = ()

    def names(self) -> tuple[str, ...]:
        """Names of the coordinates, each once, in order; one may reach several inputs."""
        return tuple(dict.fromkeys(name for name, _, _ in self.terms))

    def names_in_turn(self) -> tuple[str, ...]:
        """Names in the turn to draw them: the bath's and then the temper's after all others.

        Known coordinates are drawn by a Cholesky root, in which each leaves those before it alone: so another
        bath or temper moves the draws of nothing else.
        """
        turn: dict[str, int] = {}
        for name, row, _ in self.terms:
            turn[name] = min(turn.get(name, len(LATER)), LATER.get(LOCAL_INPUTS[row], 0))
        return tuple(sorted(turn, key=lambda name: turn[name]))

    def matrix(self, names: Iterable[str]) -> Array:
        """Return d(local inputs)/d(coordinates), shape (local inputs, names)."""
        column = {name: index for index, name in enumerate(names)}
        matrix = np.zeros((len(LOCAL_INPUTS), len(column)))
        for name, row, coefficient in self.terms:
            matrix[row, column[name]] += coefficient
        return matrix


def turn_of(name: str) -> int:
    """Return in which turn a coordinate, or what loosens it, is drawn: after all others if it is `LATER`."""
    kind, _, of = name.partition("/")
    return TURN_OF_KIND.get(of.rpartition("|")[2] if kind == LINK else kind, 0)


def record_doubt_K(
    temperature_K: float, soak_s: float, temperature_sd_K: float = 0.0, soak_sd_s: float = 0.0
) -> float:
    """Return the doubt in a recorded heat and soak as one temperature: what shifts the depth as much.

    temperature_K : recorded soak temperature [K], 900 to 1400
    soak_s : recorded soak [s], above 0
    temperature_sd_K, soak_sd_s : give or take of either, 1 sd [K], [s], 0 or more
    Returns hypot(sd_T, T^2/(2 * 8571 K) * sd_t/t) [K]; at 925 C 10 % of the time is 8 K.
    Source: logarithmic slope of Harris's law (physics notes 2a, from memory, H).
    """
    per_part_K = temperature_K**2 / (2.0 * HARRIS_EXPONENT_K)
    return hypot(temperature_sd_K, per_part_K * soak_sd_s / soak_s)


@lru_cache(maxsize=LINKS_KEPT)
def links(process: Process) -> Links:
    """Return how the keyed coordinates of a shop reach the local inputs of a process.

    process : the process; an empty key is a thing of its own of that fire, known from the books only
    Returns the offset (what the books say) and the linear terms.
    """
    keys = process.keys
    supply = _pack_supply(process)
    box, mix, bar = (key or f"?{keys.fire}" for key in (keys.box, keys.mix, keys.bar))
    offset = np.zeros(len(LOCAL_INPUTS))
    offset[ROW["ln_transfer"]] = log(pack_prior(supply).transfer_median_m_per_s)
    offset[ROW["activity_logit"]] = prior_table()["activity/shop"].mean
    offset[ROW["ln_lag"]] = log(warm_up_s(process))
    offset[ROW["rim_carbon_wt"]] = prior_table()["rim_carbon/shop"].mean
    bath = bath_key(process)
    offset[ROW["ln_bath_severity"]] = prior_for(bath).mean if bath else 0.0
    for row, name in (SHARED | CARRIED).items():
        offset[ROW[row]] = prior_table()[name].mean
    terms = (
        *_temperature_terms(process, box),
        _term("ln_transfer/shop", ROW["ln_transfer"]),
        (f"ln_transfer/mix:{mix}", ROW["ln_transfer"], mix_deviation_prior(supply.carbonate_percent).sd),
        _term("activity/shop", ROW["activity_logit"]),
        _term("lag/shop", ROW["ln_lag"]),
        _term(f"lag/box:{box}", ROW["ln_lag"]),
        _term(f"bar_carbon/{bar}", ROW["bar_quantile"]),
        _term("rim_carbon/shop", ROW["rim_carbon_wt"]),
        *([_term(bath, ROW["ln_bath_severity"])] if bath else []),
        *(_term(name, ROW[row]) for row, name in (SHARED | CARRIED).items()),
        *_bar_hardenability(process, bar),
        # last, so that a temper leaves the draws of all the others alone
        *_temper_terms(process),
    )
    offset.flags.writeable = False
    return Links(offset, since(terms, keys.loosened), _scatter(process, box))


def bias_terms(tester: str, share: float, keys: Keys) -> tuple[tuple[str, float], ...]:
    """Return the coordinates of a tester's bias in a reading, and by how much each shifts it.

    tester : its key, "" for none; share : how much of its bias enters; keys : of the process that was read
    """
    if not tester:
        return ()
    name = f"tester/{tester}"
    terms = since(((name, 0, prior_for(name).sd),), keys.loosened)
    return tuple((one, share * sd) for one, _, sd in terms)


def _bar_hardenability(process: Process, bar: str) -> list[tuple[str, int, float]]:
    """Return what a bar's own composition does to the times of pearlite and bainite: they move together."""
    sd = bar_hardenability_prior(process.steel.kind).sd
    return [(f"bar_hardenability/{bar}", ROW[row], sd) for row in ("ln_pearlite_time", "ln_bainite_time")]


def bath_key(process: Process) -> str:
    """Return the coordinate of the bath of the last quench, "" where there was none.

    It names what the bath is, as a trough that is filled with something else is another bath.
    """
    quench = next((step for step in reversed(process.steps) if isinstance(step, Quench)), None)
    if quench is None:
        return ""
    return f"bath/{bath_group(quench.medium)}:{process.keys.bath or f'?{process.keys.fire}'}"


def temper_doubt_K(
    temperature_K: float, seconds: float, temperature_sd_K: float = 0.0, seconds_sd: float = 0.0
) -> float:
    """Return the doubt in a recorded temper as one temperature: what softens as much.

    temperature_K : 300 to 900 [K]; seconds : above 0 [s]
    temperature_sd_K, seconds_sd : give or take of either, 1 sd [K], [s], 0 or more
    Returns hypot(sd_T, T/(ln 10 * (12.86 + log10 h)) * sd_t/t) [K]; at 180 C 20 % of two hours is 3 K.
    Source: `hardness.temper_parameter`, at a constant parameter.
    """
    per_part_K = temperature_K / (log(10.0) * (TEMPER_CONSTANT + log10(seconds / 3600.0)))
    return hypot(temperature_sd_K, per_part_K * seconds_sd / seconds)


def oven_key(process: Process) -> str:
    """Return the coordinate of the oven of the tempers, "" where nothing was tempered."""
    if not any(isinstance(step, Temper) for step in process.steps):
        return ""
    return f"oven/{process.keys.oven or f'?{process.keys.fire}'}"


def _temper_terms(process: Process) -> list[tuple[str, int, float]]:
    """Offset of the oven, what this one temper adds (with the doubt in its record), the law's own doubt."""
    oven = oven_key(process)
    if not oven:
        return []
    own_K = hypot(TEMPER_SCATTER_K, process.temper_doubt_K)
    return [
        _term(oven, ROW["oven_offset_K"]),
        (f"temper/{process.keys.fire}", ROW["oven_offset_K"], own_K),
        _term("temper_loss/shop", ROW["ln_temper_loss"]),
    ]


def _term(name: str, row: int) -> tuple[str, int, float]:
    return name, row, prior_for(name).sd


def _temperature_terms(process: Process, box: str) -> list[tuple[str, int, float]]:
    """Bias of the heat method, the fire's own scatter (with the doubt in its record), the box's in it."""
    keys = process.keys
    kind = heat_kind(keys.heat_method)
    method = keys.heat_method or f"{kind}:?{keys.fire}"
    fire_K, load_K = _scatter_K(kind)
    return [
        (f"temperature_bias/{method}", 0, prior_table()[f"temperature_bias/{kind}"].sd),
        (f"fire/{keys.fire}", 0, hypot(fire_K, process.record_doubt_K)),
        (f"load/{keys.fire}|{box}", 0, load_K),
    ]


def _scatter_K(kind: str) -> tuple[float, float]:
    """Return what a fire scatters, and what each box in it does besides, by the books [K]."""
    scatter_K = prior_table()[f"fire_scatter/{kind}"].sd
    return scatter_K * (1.0 - LOAD_SHARE**2) ** 0.5, scatter_K * LOAD_SHARE


def _scatter(process: Process, box: str) -> tuple[tuple[str, str, float], ...]:
    """Return which of a fire's own coordinates follow the scale of its kind of heat, and how much of each."""
    kind = heat_kind(process.keys.heat_method)
    scale, (fire_K, _) = scatter_scale(kind), _scatter_K(kind)
    share = fire_K**2 / (fire_K**2 + process.record_doubt_K**2)
    fire = process.keys.fire
    return (f"fire/{fire}", scale, share), (f"load/{fire}|{box}", scale, 1.0)


def _pack_supply(process: Process) -> PackSupply:
    packs = (
        step.supply
        for step in process.steps
        if isinstance(step, Carburize) and isinstance(step.supply, PackSupply)
    )
    return next(packs, PackSupply())
