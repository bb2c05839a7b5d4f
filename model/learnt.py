"""What a fit has learnt, as rows for a page: the books say, your forge says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.belief import ShopBelief, handbook_belief
from model.dated_changes import LINK, Loosened, since
from model.inputs import LATENTS, ROW, bath_key, bias_terms, links, oven_key
from model.look import look
from model.packed_box import PackedBox
from model.planner import band
from model.priors import prior_for, prior_table
from model.process import Carburize, History, Keys, PackSupply, Process, Quench, Section, Shape
from model.readings import Observation
from model.sight import signed_depth
from model.steels import steel_of_grade

Array = NDArray[np.float64]

NORMAL_90: Final = 1.6448536
NOT_YET_LEARNT: Final = 0.8  # sd after over sd before (simulation study, section 2)

LN_TIME_PER_GRAIN: Final = 0.5 * log(2.0)  # of `kirkaldy.Kinetics`

# The standard job of the words "your forge carburizes 12 % slower than the books".
STANDARD_STEEL: Final = "1018"
STANDARD_ROD_M: Final = 0.012
STANDARD_HEAT_K: Final = 1198.15
STANDARD_SOAK_S: Final = 4.0 * 3600.0
STANDARD_CARBON_WT: Final = 0.40
STANDARD_SUPPLY: Final = PackSupply("lump", 10.0)


@dataclass(frozen=True)
class Band:
    """A middle with its 90 % band."""

    median: float
    low: float
    high: float


@dataclass(frozen=True)
class ParameterRow:
    """One thing a shop may learn, before and after.

    kind : `temperature_bias` [K], `transfer` [m/s], `activity` [-], `lag` [s], `bar_carbon` [wt%],
        `rim_carbon` [wt%], `bath` [-], `oven` [K], `tester` [its unit], `retained` [-], `hardenability` [-]
        of a bar, and of `hard_case` [HRC] on a tester
    of : the logbook's key, "" for the shop's own; since a dated change with `@` and the change's key
    learnt : False says "not yet learnt"; coupons : how many taught it; by : their keys, in order
    """

    kind: str
    of: str
    unit: str
    books: Band
    now: Band
    learnt: bool
    coupons: int
    by: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Sum:
    """A sum of coordinates on the scale where they add, and how it becomes the value shown."""

    kind: str
    of: str
    unit: str
    offset: float
    terms: tuple[tuple[str, float], ...]
    scale: str
    half_range_wt: float = 0.0

    def shown(self, linear: Array) -> Array:
        """Return the value shown."""
        if self.scale == "uniform":
            return self.offset + self.half_range_wt * (2.0 * ndtr(linear) - 1.0)
        linear = self.offset + linear
        if self.scale == "activity":
            return prior_table()["activity/shop"].transformed(linear)
        return np.exp(linear) if self.scale == "log" else linear


def parameter_rows(
    observations: Sequence[Observation], belief: ShopBelief, also: Sequence[Process] = ()
) -> tuple[ParameterRow, ...]:
    """Return what a shop has learnt, sums that are known rather than lone constants.

    observations : the readings that were used; belief : learnt from them
    also : processes of things the shop has that no reading speaks of yet
    Returns a row for each heat method, mix, box, bar, bath, oven and tester, for the shop's gas, eye and
    soft austenite: the transfer is the shop's and the mix's together, the lag the shop's and the box's, a
    bar's hardenability the time to bainite of eutectoid steel, of the shop, its grain and the bar.
    """
    sums: dict[tuple[str, str], _Sum] = {}
    taught: dict[tuple[str, str], set[str]] = {}
    for observation in observations:
        coupon = observation.coupon or observation.key
        for one in (*_sums_of(observation.process), *_tester_sum(observation)):
            sums.setdefault((one.kind, one.of), one)
            taught.setdefault((one.kind, one.of), set()).add(coupon)
    for one in (*(one for process in also for one in _sums_of(process)), *_checked_only(belief)):
        sums.setdefault((one.kind, one.of), one)
    told = {key: tuple(sorted(taught.get(key, ()))) for key in sums}
    return tuple(replace(_row(one, belief, len(told[key])), by=told[key]) for key, one in sums.items())


def oven_band(belief: ShopBelief, oven: str, loosened: tuple[Loosened, ...] = ()) -> Band:
    """Return what an oven truly is less its dial, with its 90 % band [K].

    oven : its key, "" for any oven; loosened : by dated changes so far
    """
    alone = _bias_sum(f"oven/{oven}")
    terms = since(tuple((name, 0, sd) for name, sd in alone.terms), loosened)
    return _row(replace(alone, terms=tuple((name, sd) for name, _, sd in terms)), belief, 0).now


def standard_job(
    keys: Keys,
    supply: PackSupply = STANDARD_SUPPLY,
    box_inner_m: float = 0.0,
    box: PackedBox | None = None,
) -> Process:
    """Return the standard job on a shop's own mix, box and heat method: 12 mm of 1018, 4 h at 925 C at heat.

    keys : its fire and bar are not used; supply, box_inner_m, box : of the mix and box that the keys name
    """
    steps = (Carburize(History.hold(STANDARD_HEAT_K, STANDARD_SOAK_S), supply), Quench("water"))
    section = Section(Shape.ROD, STANDARD_ROD_M)
    own = replace(keys, fire="", bar="")
    return Process(steel_of_grade(STANDARD_STEEL), section, steps, own, box_inner_m=box_inner_m, box=box)


def standard_job_ratio(belief: ShopBelief, job: Process, draws: int = 200) -> Band:
    """Return the depth of the standard job in this forge over the books': 0.88 reads "12 % slower".

    belief : of the shop; job : of `standard_job`; draws : 20 or more
    Returns the ratio of depths to 0.40 % carbon with its 90 % band; no fire's own luck is in it.
    Both are medians over draws, so that a shop of which nothing is known comes out at 1.
    Source: a readout of the belief, not a fitted multiplier.
    """
    depths, books = (_standard_depths_m(one, job, draws) for one in (belief, handbook_belief()))
    low, middle, high = band(depths / float(np.median(books)))
    return Band(float(middle), float(low), float(high))


def _standard_depths_m(belief: ShopBelief, job: Process, draws: int) -> Array:
    """Return the depth [m] to `STANDARD_CARBON_WT` in each draw, (draws,)."""
    inputs = belief.inputs(job, draws, include_fire_scatter=False)
    seen = look([job], inputs[None])[0]
    return signed_depth(seen.depth_m, seen.carbon_wt, STANDARD_CARBON_WT)


def _sums_of(process: Process) -> list[_Sum]:
    """Return the sums that a process speaks of, without what only one fire has."""
    linked, keys = links(process), process.keys
    half_wt = 0.5 * (process.steel.carbon_high_wt - process.steel.carbon_low_wt)
    middle_wt = process.steel.composition.C

    def summed(kind: str, of: str, unit: str, name: str, scale: str) -> _Sum:
        row = ROW[name]
        terms = tuple((name, c) for name, at, c in linked.terms if at == row and not name.startswith(LATENTS))
        return _Sum(kind, _since(of, terms), unit, linked.offset[row], terms, scale)

    bar = summed("bar_carbon", keys.bar, "wt%", "bar_quantile", "uniform")
    rows = [
        summed("temperature_bias", keys.heat_method, "K", "temperature_K", "plain"),
        summed("transfer", keys.mix, "m/s", "ln_transfer", "log"),
        summed("activity", "", "-", "activity_logit", "activity"),
        summed("lag", keys.box, "s", "ln_lag", "log"),
        replace(bar, offset=middle_wt, half_range_wt=half_wt),
        summed("rim_carbon", "", "wt%", "rim_carbon_wt", "plain"),
        summed("bath", keys.bath if bath_key(process) else "", "-", "ln_bath_severity", "log"),
        summed("oven", keys.oven if oven_key(process) else "", "K", "oven_offset_K", "plain"),
        summed("retained", "", "-", "ln_retained_austenite", "log"),
        _with_grain(summed("hardenability", keys.bar, "-", "ln_bainite_time", "log")),
    ]
    return [row for row in rows if row.of or row.kind in ("activity", "rim_carbon", "retained")]


def _with_grain(time: _Sum) -> _Sum:
    """Return a time with what the shop's grain adds: finer by one number is faster by the root of two."""
    grain = prior_for("grain_number/shop")
    return replace(time, terms=(*time.terms, (grain.name, -LN_TIME_PER_GRAIN * grain.sd)))


def _tester_sum(observation: Observation) -> list[_Sum]:
    key, _ = observation.reading.tester
    if not key or key.endswith(":?"):
        return []
    terms = bias_terms(key, 1.0, observation.process.keys)
    return [replace(_bias_sum(f"tester/{key}"), of=_since(key, terms), terms=terms)]


def _since(of: str, terms: Sequence[tuple[str, float]]) -> str:
    """Return a key with the newest dated change among its coordinates."""
    changes = [name for name, _ in terms if name.startswith(f"{LINK}/")]
    return f"{of}@{changes[-1].removeprefix(f'{LINK}/').partition('|')[0]}" if changes and of else of


def _checked_only(belief: ShopBelief) -> list[_Sum]:
    """Return testers, heat methods and ovens that only a check has spoken of."""
    checked = [name for name in belief.names if name.startswith(("tester/", "temperature_bias/", "oven/"))]
    return [_bias_sum(name) for name in checked]


def _bias_sum(name: str) -> _Sum:
    prior = prior_for(name)
    kind, _, of = name.partition("/")
    return _Sum(kind, of, prior.unit, prior.mean, ((name, prior.sd),), "plain")


def _row(one: _Sum, belief: ShopBelief, coupons: int) -> ParameterRow:
    place = {name: index for index, name in enumerate(belief.names)}
    books_sd = float(np.linalg.norm([coefficient for _, coefficient in one.terms]))
    known = [(place[name], coefficient) for name, coefficient in one.terms if name in place]
    at, coefficients = [index for index, _ in known], np.array([coefficient for _, coefficient in known])
    fresh = [coefficient for name, coefficient in one.terms if name not in place]
    middle = float(coefficients @ belief.mean[at]) if at else 0.0
    variance = float(coefficients @ belief.covariance.full(np.array(at)) @ coefficients) if at else 0.0
    now_sd = float(np.sqrt(variance + np.sum(np.square(fresh))))
    learnt = now_sd <= NOT_YET_LEARNT * books_sd
    return ParameterRow(
        one.kind, one.of, one.unit, _band(one, 0.0, books_sd), _band(one, middle, now_sd), learnt, coupons
    )


def _band(one: _Sum, middle: float, sd: float) -> Band:
    shown = one.shown(middle + sd * NORMAL_90 * np.array([0.0, -1.0, 1.0]))
    return Band(*(float(value) for value in shown))
