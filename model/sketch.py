"""A sketch of each process in closed form: a few numbers that bend much as its forecast does.

A surface laid through few forecasts need only learn how the forecast differs from the sketch, which is far
straighter in the inputs than the forecast itself. Nothing else is ever read off a sketch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc, erfcx

from model.belief import MOST_BIAS_K
from model.cooling_table import SEVERITIES, CoolingTable
from model.course import GAS_CONSTANT_J_PER_MOL_K, TRANSFER_REFERENCE_K
from model.diffusivity import diffusivity_agren_1986
from model.finish import finish_of
from model.hardening import asked_of
from model.inputs import LOCAL_INPUTS
from model.kept_coolings import KEPT_TABLES, Asked
from model.kept_forecasts import mark_of
from model.made_together import MadeTogether
from model.newest import Newest
from model.pack import carbon_at_activity
from model.piecework import Piecework, in_turn
from model.priors import prior_table
from model.process import Carburize, History, Process
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]

PLACES_M: Final = np.array([0.0, 0.1e-3, 0.3e-3, 0.6e-3])
"""Depths whose carbon is sketched [m]."""
CARBON_WT: Final = 0.6
"""Carbon at which the one diffusivity is taken [wt%]."""
WARM_UP_FED: Final = 0.7
"""Share of a warm-up in a soak's clock that does not count [-]."""
LEAST_SHARE: Final = 0.1
"""About the least share of a soak that counts [-]."""
GRAIN_LN_TIME: Final = 0.5 * float(np.log(2.0))
"""What one grain number takes off the ln of the times (`kirkaldy`)."""
SLOW_FROM_K: Final = celsius_to_kelvin(550.0)
SLOW_TO_K: Final = celsius_to_kelvin(350.0)
"""Bainite's range at the skin [K]."""
COOLINGS_KEPT: Final = 8192
"""Coolings whose sketch is kept: a few numbers of each, of every process in a large logbook."""
BENDS: Final = 3
"""Order of the polynomial in ln of severity that a sketch of the cooling is."""
FURTHEST: Final = 6.0
SKETCHED: Final = len(PLACES_M) + 4
PLACES_AT_ONCE: Final = 8192
"""Members of all processes that are sketched together."""
TABLES_AT_ONCE: Final = 256
"""Cooling tables held at once while their sketches are read off."""
Slopes = tuple[Array, Array]
_UNQUENCHED: Final = (np.zeros(BENDS + 1), np.zeros(BENDS + 1))


class Sketches:
    """Sketches of P processes, worked as arrays."""

    def __init__(self, processes: Sequence[Process], piecework: Piecework = in_turn) -> None:
        """Gather what the sketches need of each process; piecework : how its cooling tables are made."""
        soaks = [[step for step in process.steps if isinstance(step, Carburize)] for process in processes]
        self.is_fed = np.array([bool(steps) for steps in soaks], dtype=bool)
        self.seconds = np.array([sum(step.history.duration_s for step in steps) for steps in soaks])
        self.kelvin = np.array([_mean_K(steps) for steps in soaks])
        self.share = np.array([steps[0].lag_share if steps else 0.0 for steps in soaks])
        self.base_wt = np.array([process.steel.composition.C for process in processes])
        self.half_wt = np.array(
            [0.5 * (process.steel.carbon_high_wt - process.steel.carbon_low_wt) for process in processes]
        )
        asked = [asked_of(process, finish_of(process)) for process in processes]
        self.is_quenched = np.array([one is not None for one in asked])
        fitted = KEPT_SLOPES.of((one for one in asked if one is not None), piecework)
        slopes = [_UNQUENCHED if one is None else fitted[one] for one in asked]
        self.rate, self.time = (np.array([pair[side] for pair in slopes]) for side in (0, 1))

    def of(self, rows: NDArray[np.intp], inputs: Array) -> Array:
        """Return the sketches of some processes, (R, N, local inputs) to (R, N, SKETCHED); some at a time."""
        sketch = np.empty((*inputs.shape[:2], SKETCHED))
        at_once = max(1, PLACES_AT_ONCE // max(1, inputs.shape[1]))
        for first in range(0, len(rows), at_once):
            some = slice(first, first + at_once)
            self._write(rows[some], inputs[some], sketch[some])
        return sketch

    def _write(self, rows: NDArray[np.intp], inputs: Array, sketch: Array) -> None:
        """Write sketches in their place: carbon, the two paces, and what these leave."""
        at = dict(zip(LOCAL_INPUTS, np.moveaxis(inputs, 2, 0), strict=True))
        carbon, paces, left = np.split(sketch, (len(PLACES_M), len(PLACES_M) + 2), axis=2)
        np.multiply(self._carbon(rows, at), self.is_fed[rows, None, None], out=carbon)
        np.multiply(self._paces(rows, at), self.is_quenched[rows, None, None], out=paces)
        np.exp(-np.clip(paces, -FURTHEST, FURTHEST), out=left)

    def _carbon(self, rows: NDArray[np.intp], at: dict[str, Array]) -> Array:
        """Carbon of a half-space of constant diffusivity fed through a transfer coefficient (Crank 3.35)."""
        kelvin = self.kelvin[rows, None] + np.clip(at["temperature_K"], -MOST_BIAS_K, MOST_BIAS_K)
        seconds = self._seconds(rows, np.exp(at["ln_lag"]))
        activity = prior_table()["activity/shop"].transformed(at["activity_logit"])
        shift = prior_table()["bar_carbon"].transformed(at["bar_quantile"])
        base = self.base_wt[rows, None] + self.half_wt[rows, None] * shift
        energy_K = at["activation_J_per_mol"] / GAS_CONSTANT_J_PER_MOL_K
        transfer = np.exp(at["ln_transfer"] - energy_K * (1.0 / kelvin - 1.0 / TRANSFER_REFERENCE_K))
        diffusivity = diffusivity_agren_1986(np.full_like(kelvin, CARBON_WT), kelvin)
        length = 2.0 * np.sqrt(diffusivity * seconds)
        fed = (0.5 * transfer / diffusivity * length)[:, :, None]
        scaled = PLACES_M[1:] / length[:, :, None]
        share = np.empty((*kelvin.shape, len(PLACES_M)))
        share[:, :, :1] = 1.0 - erfcx(fed)  # at the face, the first place
        share[:, :, 1:] = erfc(scaled) - np.exp(-(scaled**2)) * erfcx(scaled + fed)
        rise = carbon_at_activity(activity, kelvin) - base
        return np.asarray(base[:, :, None] + rise[:, :, None] * share)

    def _seconds(self, rows: NDArray[np.intp], lag_s: Array) -> Array:
        """Seconds of soak that count, never quite none."""
        whole = self.seconds[rows, None]
        left = whole - WARM_UP_FED * self.share[rows, None] * lag_s
        return np.asarray(0.5 * (left + np.hypot(left, LEAST_SHARE * whole + 1.0)))

    def _paces(self, rows: NDArray[np.intp], at: dict[str, Array]) -> Array:
        """How well the skin passes pearlite and bainite, in ln of time allowed over time taken."""
        severity = at["ln_bath_severity"]
        finer = GRAIN_LN_TIME * at["grain_number"]
        pearlite = at["ln_pearlite_time"] - finer + _horner(self.rate[rows], severity)
        bainite = at["ln_bainite_time"] - finer - _horner(self.time[rows], severity)
        return np.stack([pearlite, bainite], axis=2)


def _mean_K(soaks: Sequence[Carburize]) -> float:
    """Return the mean heat of soaks; a usual one for none."""
    if not soaks:
        return TRANSFER_REFERENCE_K
    heat = [_area(step.history) for step in soaks]
    seconds = sum(step.history.duration_s for step in soaks)
    return float(sum(heat) / seconds) if seconds > 0.0 else soaks[0].history.temperature_K[0]


def _area(history: History) -> float:
    """Return kelvin times seconds of a history."""
    points = pairwise(zip(history.seconds, history.temperature_K, strict=True))
    return sum((then - at) * (cooler_K + hotter_K) / 2.0 for (at, cooler_K), (then, hotter_K) in points)


_TOLD: Final = Newest[str, Slopes](COOLINGS_KEPT)


def _all_fitted(asked: list[Asked], piecework: Piecework) -> Iterator[tuple[Asked, Slopes]]:
    """Give the slopes of each that is asked for; their tables are made together, not all held at once."""
    told = {one: slopes for one in asked if (slopes := _TOLD.get(mark_of(one))) is not None}
    yield from told.items()
    missing = [one for one in asked if one not in told]
    for first in range(0, len(missing), TABLES_AT_ONCE):
        for one, table in KEPT_TABLES.of(missing[first : first + TABLES_AT_ONCE], piecework).items():
            yield one, _fitted(table)


KEPT_SLOPES: Final = MadeTogether[Asked, Slopes](COOLINGS_KEPT, _all_fitted)
"""Slopes by what a cooling table is asked for: all that a fit with its forecasts kept needs of tables."""


def slopes_to_keep() -> list[tuple[str, list[list[float]]]]:
    """Return the slopes that are kept as plain numbers by the mark of their cooling, newest first."""
    return [(mark_of(one), [own.tolist() for own in slopes]) for one, slopes in KEPT_SLOPES.kept()]


def take_slopes(kept: Sequence[tuple[str, Sequence[Sequence[float]]]]) -> None:
    """Take what another run of the program kept, as `slopes_to_keep` gives it; ValueError for aught else."""
    numbers = [(str(mark), np.array(slopes, dtype=float)) for mark, slopes in kept]
    if not all(own.shape == (2, BENDS + 1) and np.isfinite(own).all() for _, own in numbers):
        raise ValueError("not the slopes of coolings")
    for mark, (rate, time) in reversed(numbers):
        _TOLD.put(mark, (rate, time))


def _fitted(table: CoolingTable) -> Slopes:
    """Return ln of the skin's rate at 704 C and of its time in bainite's range by ln of the severity.

    As polynomials whose middle value is taken off, so that the usual bath and grain stand at about 0.
    """
    middle = slice(
        len(SEVERITIES) * table.breakdowns_K.index(0.0), len(SEVERITIES) * (table.breakdowns_K.index(0.0) + 1)
    )
    usual = GRAIN_LN_TIME * prior_table()["grain_number/shop"].mean
    rate, time = (
        table.log_rate[middle, 0],
        np.array([_ln_time(table, row) for row in range(*middle.indices(len(table.log_since)))]),
    )
    ln = np.log(SEVERITIES)
    fitted = np.polyfit(ln, rate, BENDS), np.polyfit(ln, time, BENDS)
    fitted[0][-1], fitted[1][-1] = usual, -usual
    return fitted


def _ln_time(table: CoolingTable, row: int) -> float:
    """Return ln of the skin's seconds in bainite's range in one cooling of a table."""
    falling = -np.minimum.accumulate(table.temperature_K[row, :, 0])
    first, last = np.interp([-SLOW_FROM_K, -SLOW_TO_K], falling, np.exp(table.log_since[row]))
    return float(np.log(max(last - first, 1e-3)))


def _horner(polynomials: Array, at: Array) -> Array:
    """Return polynomials (R, order + 1), highest power first, each at its own row of places (R, N)."""
    value = np.zeros_like(at)
    for column in polynomials.T:
        value = value * at + column[:, None]
    return value
