"""A logbook's usable readings as one array problem over named coordinates.

A reading touches its process's local inputs and one tester's bias, never the coordinates themselves, so
each has a few local slopes, chained to the few coordinates that it touches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain
from math import hypot, log
from typing import Final, Literal, cast

import numpy as np
from numpy.typing import NDArray

from model.alike_fires import Alike, alike_fires
from model.arrow import Covariance, Layout, Pairs
from model.dated_changes import Loosened, since
from model.earlier import Earlier
from model.inputs import FITTED_INPUTS, LATENTS, LOCAL_INPUTS, Links, bias_terms, links
from model.kept_lines import KeptLines
from model.look import Look, told_of_each
from model.part import Part
from model.piecework import Piecework, in_turn
from model.priors import prior_for
from model.reading_rows import ReadingRows
from model.readings import Observation
from model.scatter import Scatter
from model.sight import Prediction, Reading, Seen
from model.touching import Touching

Array = NDArray[np.float64]
Rows = NDArray[np.intp]
Entry = tuple[int, int, float]
LineKind = Literal["at a point", "over a belief"]
LINE_KINDS: Final[tuple[LineKind, ...]] = ("at a point", "over a belief")

AT_ONCE: Final = 1024
"""Values worked together where each has a matrix of its own."""
LEAST_VARIANCE: Final = 1e-12
LOCAL: Final = FITTED_INPUTS + 1  # the local inputs, and the bias of the tester
DIFFUSIVITY_DOUBT_K: Final = 8.0  # folded into every heat method's bias; no check of an instrument sees it
WARM_UP_SD: Final = {"thermocouple": 0.25, "witness": 0.35, "evenly_red": 0.35}
"""Doubt of a timed warm-up by what said it [ln]: where the tip sits, when it was looked at, how fast the
forge came up. Own choice, half of what the books leave open; an eye on a glow is judged worse than a wire.
What an eye always judges the same way is a coordinate of its own, `warm_up_seen/...`."""


@dataclass(frozen=True)
class InstrumentCheck:
    """A dated check: an instrument on something known.

    instrument : `thermocouple:3` for a heat method [K], `oven:5` for an oven's dial [K], `rockwell:2` for a
        tester [its own unit]
    known, reading : the true value and what was shown; sd : doubt of the pair, above 0
    loosened : by dated changes of the instrument before the check
    """

    instrument: str
    known: float
    reading: float
    sd: float
    loosened: tuple[Loosened, ...] = ()


@dataclass(frozen=True)
class WarmUpCheck:
    """A warm-up that was timed, or a known share of it.

    box : its key; books_s : what the books give that box and load; noted_s : what was timed, above 0 each [s]
    seen_by : a key of `WARM_UP_SD`: a thermocouple in the box at heat, a witness drawn from it (a trial wire)
        at heat by eye, or the box evenly red all round, which the books take for half of the way
    loosened : by dated changes before the batch
    """

    box: str
    books_s: float
    noted_s: float
    seen_by: str = "thermocouple"
    loosened: tuple[Loosened, ...] = ()


Check = InstrumentCheck | WarmUpCheck


@dataclass(frozen=True)
class Point:
    """Predicted values of observations at members: (values, members) each, bias included."""

    value: Array
    doubt: Array


class Evidence:
    """Usable observations and checks, with the coordinates that they speak of.

    rows : (observations,) the process of each; values : every value of every reading as a row
    most_predicted : predictions of one process at one draw that the slower fit may ask
    columns : (observations, K) the few coordinates that each observation touches
    blocks : (kinds, LOCAL, K) d(local inputs and tester's bias) by them, 0 beyond those it has; there are few
        kinds; block_of : (observations,) the kind of each
    layout : which coordinates only one fire has
    """

    most_predicted = 150_000  # a minute of full forecasts

    def __init__(
        self,
        observations: Sequence[Observation],
        checks: Sequence[Check],
        look: Look,
        piecework: Piecework = in_turn,
    ) -> None:
        """Gather the coordinates and the matrices that chain them."""
        self.observations = tuple(observations)
        self.look, self.piecework = look, piecework
        self.processes = tuple(dict.fromkeys(observation.process for observation in observations))
        place = {process: row for row, process in enumerate(self.processes)}
        self.rows = np.array([place[observation.process] for observation in observations], dtype=np.intp)
        self.fires = np.array([observation.process.keys.fire for observation in observations], dtype=object)
        self.readings = tuple(cast(Reading, observation.reading) for observation in observations)
        self.values = ReadingRows(self.readings)
        self.links = tuple(links(process) for process in self.processes)
        self.testers = tuple(
            bias_terms(*cast(Reading, one.reading).tester, one.process.keys) for one in observations
        )
        self.names = _names(self.links, self.testers, checks)
        self.offset = np.array([linked.offset for linked in self.links]).reshape(-1, len(LOCAL_INPUTS))
        self.columns, self.blocks, self.block_of = self._touched()
        # the first observation of each process
        self.first = np.unique(self.rows, return_index=True)[1]
        # local inputs that these readings can say anything of: no oven where nothing was tempered
        self.moved = np.flatnonzero(self.blocks[:, :FITTED_INPUTS].any(axis=(0, 2)))
        self._checks = tuple(checks)
        self.layout = self._laid_out()
        self.scatter = Scatter.of(self.names, self.links)
        self.is_latent = np.array([name.startswith(LATENTS) for name in self.names], dtype=bool)

    def local(self, coordinates: Array) -> Array:
        """Return what each observation's local inputs are shifted by, and its tester's bias.

        coordinates : (names,) or (names, draws); returns (observations, LOCAL) or with draws last
        """
        places, terms, of = self._biases
        local = self._shifts(coordinates)[self.rows]
        local[:, -1] = (terms @ coordinates[places])[of]
        return local

    def _shifts(self, coordinates: Array) -> Array:
        """Return what each process's local inputs are shifted by, (processes, LOCAL) or with draws last.

        The last is the bias in its first observation.
        """
        shifts = np.empty((len(self.first), LOCAL, *coordinates.shape[1:]))
        for first in range(0, len(shifts), AT_ONCE):
            some = self.first[first : first + AT_ONCE]
            blocks, at = self.blocks[self.block_of[some]], coordinates[self.columns[some]]
            shifts[first : first + AT_ONCE] = np.einsum("olk,ok...->ol...", blocks, at)
        return shifts

    def local_covariance(self, covariance: Array | Covariance | Earlier, rows: Rows) -> Array:
        """Return the covariance of some processes' local inputs, (rows, F, F)."""
        local, picked = np.empty((len(rows), FITTED_INPUTS, FITTED_INPUTS)), self._picking(covariance)
        for first in range(0, len(rows), AT_ONCE):
            some = rows[first : first + AT_ONCE]
            blocks = self.blocks[self.block_of[self.first[some]], :FITTED_INPUTS]
            local[first : first + AT_ONCE] = blocks @ picked(some) @ blocks.transpose(0, 2, 1)
        return local

    def bias_covariance(self, covariance: Array | Covariance | Earlier, asked: Rows) -> Array:
        """Return the covariance of the bias with the inputs and itself, (asked, LOCAL).

        asked : some observations
        """
        by_bias, (_, _, of), bias = self._by_bias(covariance), self._biases, np.empty((len(asked), LOCAL))
        for first in range(0, len(asked), AT_ONCE):
            some = asked[first : first + AT_ONCE]
            touched = by_bias[of[some, None], self.columns[some], None]
            bias[first : first + AT_ONCE] = (self.blocks[self.block_of[some]] @ touched)[:, :, 0]
        return bias

    def _picking(self, covariance: Array | Covariance | Earlier) -> Callable[[Rows], Array]:
        """Return what tells the covariance of what processes' first observations touch, (rows, K, K)."""
        columns = self.columns[self.first]
        if isinstance(covariance, Earlier):
            return lambda rows: covariance.among(columns[rows])
        if isinstance(covariance, Covariance) and covariance.layout is self.layout:
            flat = covariance.pairs.flat
            return lambda rows: flat[self._pairs[rows]]
        if isinstance(covariance, Covariance):
            return lambda rows: covariance.each(columns[rows])
        return lambda rows: np.asarray(covariance[columns[rows][:, :, None], columns[rows][:, None, :]])

    def bias_sd(self, covariance: Array | Covariance | Earlier) -> Array:
        """Return 1 sd of the bias of each observation's tester, in its own unit, (observations,)."""
        places, terms, of = self._biases
        variance = (self._by_bias(covariance)[:, places] * terms).sum(axis=1)
        return np.asarray(np.sqrt(np.maximum(variance, LEAST_VARIANCE))[of])

    def _by_bias(self, covariance: Array | Covariance | Earlier) -> Array:
        """Return the covariance of each tester's bias with all coordinates, (biases, names)."""
        places, terms, _ = self._biases
        if isinstance(covariance, Covariance | Earlier):
            return np.asarray(terms @ covariance.by(places).T)
        return np.asarray(terms @ covariance[places])

    def chained(self, local: Array) -> Touching:
        """Return d(every value)/d(coordinates).

        local : (values, LOCAL) the same by the local inputs and the bias
        """
        owner = self.values.owner
        slopes = np.empty((len(owner), self.columns.shape[1]))
        for first in range(0, len(owner), AT_ONCE):
            some = slice(first, first + AT_ONCE)
            slopes[some] = (local[some, None, :] @ self.blocks[self.block_of[owner[some]]])[:, 0]
        return Touching(self.columns[owner], slopes, self.layout)

    def told(self, touching: Touching, curvature: Array) -> Pairs:
        """Return the precision that readings and checks add; curvature : (values,) of their likelihoods."""
        pairs = Pairs.summed(self.layout, self.alike, touching.by_slot, curvature)
        return replace(pairs, shared=pairs.shared + self.check_precision_of_shared)

    def inputs(self, coordinates: Array) -> Array:
        """Return the local inputs of every process, (processes, local inputs)."""
        return self._inputs_of(self._shifts(coordinates))

    def inputs_at(self, local: Array) -> Array:
        """Return the same from what observations' local inputs are shifted by, (observations, LOCAL)."""
        return self._inputs_of(local[self.first])

    def _inputs_of(self, first: Array) -> Array:
        inputs = self.offset.copy()
        inputs[:, :FITTED_INPUTS] += first[:, :FITTED_INPUTS]
        return inputs

    def foretold(self, inputs: Array, bias: Array, roughly: bool = False) -> Point:
        """Predict every value of every observation.

        inputs : (processes, members, local inputs); bias : (observations, members) in the reading's unit
        roughly : by what stands in for the full forecasts
        Returns (values, members) each, bias included.
        """
        value, doubt = self.roughly(inputs) if roughly else self.predicted(inputs)
        return Point(value + bias[self.values.owner], doubt)

    def lines(self, kind: LineKind) -> KeptLines:
        """Return the lines that readings were read off along before, here none; kind : near what."""
        del kind
        return KeptLines(self.observations, self.rows, self.values.owner, LOCAL)

    def units_of(self, rows: Rows) -> Array:
        """Return local inputs to sds of what is believed of some processes, (rows, F, F); 0 for very much."""
        return np.zeros((len(rows), FITTED_INPUTS, FITTED_INPUTS))

    def part(self, is_asked: NDArray[np.bool_]) -> Part:
        """Return some processes with all that was read of them; is_asked : (processes,)."""
        return Part.among(is_asked, self.rows, self.values)

    def parts(self, is_asked: NDArray[np.bool_]) -> Iterator[Part]:
        """Give some processes as they are best read together: here all, as one solve; (processes,) asked."""
        if is_asked.any():
            yield self.part(is_asked)

    def foretold_of(self, part: Part, inputs: Array, bias: Array) -> Point:
        """Predict every value of a part, as `foretold`; inputs and bias : of the part alone."""
        if len(part.rows) == len(self.processes):
            return self.foretold(inputs, bias)
        value, doubt = self.predicted_of(part, inputs)
        return Point(value + bias[part.readings.owner], doubt)

    def predicted_of(self, part: Part, inputs: Array) -> tuple[Array, Array]:
        """Return every value of a part without its tester's bias, and the model's own doubt."""
        told = self.forecast(part.rows.tolist(), inputs)
        found = [told[index] for index in part.observations.tolist()]
        return np.concatenate([one.value.T for one in found]), np.concatenate([one.doubt.T for one in found])

    def in_full(self, draws: int) -> Evidence | None:
        """Return what puts right as many draws that were made `roughly`; None where nothing need or can."""
        del draws
        return None

    @property
    def is_read_off(self) -> bool:
        """Whether predictions are the same whichever are asked for together, as off surfaces."""
        return False

    def roughly(self, inputs: Array) -> tuple[Array, Array]:
        """Return what `predicted` does, by what stands in for the full forecasts."""
        return self.predicted(inputs)

    def predicted(self, inputs: Array) -> tuple[Array, Array]:
        """Return every value without its tester's bias, and the model's own doubt, (values, members)."""
        by_index = self.forecast(range(len(self.processes)), inputs)
        found = [by_index[index] for index in range(len(self.readings))]
        none = np.zeros((0, inputs.shape[1]))
        return (
            np.concatenate([none, *(one.value.T for one in found)]),
            np.concatenate([none, *(one.doubt.T for one in found)]),
        )

    def forecast(self, rows: Sequence[int], inputs: Array) -> dict[int, Prediction]:
        """Forecast some processes in full; return what each of their readings would show, by its place."""

        def told(place: int, seen: Seen) -> dict[int, Prediction]:
            own = np.flatnonzero(self.rows == rows[place]).tolist()
            return {index: self.readings[index].predicted(seen) for index in own}

        processes = [self.processes[row] for row in rows]
        several = told_of_each(processes, inputs, self.look, told, self.piecework)
        return dict(chain.from_iterable(one.items() for one in several))

    @cached_property
    def _pairs(self) -> NDArray[np.int32]:
        """Where pairs of what each process's first observation touches are kept; see `Layout.pairs`."""
        most = self.columns.shape[1]
        pairs = np.empty((len(self.first), most, most), dtype=np.int32)
        for begin in range(0, len(pairs), AT_ONCE):
            some = self.first[begin : begin + AT_ONCE]
            pairs[begin : begin + AT_ONCE] = self.layout.pairs(self.columns[some], self.fire_places[some])
        return pairs

    @cached_property
    def _biases(self) -> tuple[Rows, Array, Rows]:
        """Places of all testers, what each bias is by them, and which bias each observation has."""
        biases = {terms: bias for bias, terms in enumerate(dict.fromkeys(self.testers))}
        place = {name: index for index, name in enumerate(self.names)}
        known = {name: at for at, name in enumerate(dict.fromkeys(name for one in biases for name, _ in one))}
        terms = np.zeros((len(biases), len(known)))
        for bias, one in enumerate(biases):
            for name, coefficient in one:
                terms[bias, known[name]] = coefficient
        places = np.array([place[name] for name in known], dtype=np.intp)
        return places, terms, np.array([biases[one] for one in self.testers], dtype=np.intp)

    @cached_property
    def check_precision(self) -> Array:
        """The precision that checks add, (names, names): they are linear in the coordinates."""
        rows, _, noise = self._check_rows()
        return np.asarray((rows.T / noise**2) @ rows)

    @cached_property
    def check_precision_of_shared(self) -> Array:
        """The same of what all fires share, which is all that checks touch."""
        rows, _, noise = self._check_rows()
        own = rows[:, self.layout.shared]
        return np.asarray((own.T / noise**2) @ own)

    @cached_property
    def check_information(self) -> Array:
        """The information that checks add, (names,)."""
        rows, value, noise = self._check_rows()
        return np.asarray(rows.T @ (value / noise**2))

    def _touched(self) -> tuple[Rows, Array, Rows]:
        """Return columns and blocks of what each observation touches, its process's and then its tester's.

        Blocks are each there once; the last says which each observation has.
        """
        column = {name: index for index, name in enumerate(self.names)}
        own = [list(dict.fromkeys(_learnt(linked))) for linked in self.links]
        rows = self.rows.tolist()
        most = max(
            (len(own[row]) + len(bias) for row, bias in zip(rows, self.testers, strict=True)), default=0
        )
        columns, routes = np.zeros((len(own), most), dtype=np.intp), dict[tuple[Entry, ...], int]()
        route_of = []
        for process, (names, linked) in enumerate(zip(own, self.links, strict=True)):
            columns[process] = column[names[0]]  # what fills up a row is one of its own
            columns[process, : len(names)] = [column[name] for name in names]
            place = {name: index for index, name in enumerate(names)}
            learnt = (term for term in linked.terms if term[1] < FITTED_INPUTS)
            entries = tuple((row, place[name], coefficient) for name, row, coefficient in learnt)
            route_of.append(routes.setdefault(entries, len(routes)))
        columns, kinds, block_of = columns[self.rows], dict[tuple[int, tuple[Entry, ...]], int](), []
        for index, (row, bias) in enumerate(zip(rows, self.testers, strict=True)):
            own_bias = []
            for at, (name, coefficient) in enumerate(bias, start=len(own[row])):
                columns[index, at] = column[name]
                own_bias.append((FITTED_INPUTS, at, coefficient))
            block_of.append(kinds.setdefault((route_of[row], tuple(own_bias)), len(kinds)))
        blocks, entries_of = np.zeros((len(kinds), LOCAL, most)), tuple(routes)
        for kind, (route, biased) in enumerate(kinds):
            for row, at, coefficient in (*entries_of[route], *biased):
                blocks[kind, row, at] += coefficient
        return columns, blocks, np.array(block_of, dtype=np.intp)

    def _laid_out(self) -> Layout:
        checked = [self.names.index(name) for check in self._checks for name, _ in check_terms(check)]
        return Layout.of(len(self.names), self.columns, self.fire_places, checked)

    @cached_property
    def fire_places(self) -> NDArray[np.intp]:
        """Which fire each observation is of, counted in their order, (observations,)."""
        place = {fire: index for index, fire in enumerate(dict.fromkeys(self.fires.tolist()))}
        return np.array([place[fire] for fire in self.fires.tolist()], dtype=np.intp)

    @cached_property
    def alike(self) -> tuple[Alike, ...]:
        """The fires, those with as many values together."""
        return alike_fires(self.fire_places[self.values.owner], len(self.layout.own))

    def _check_rows(self) -> tuple[Array, Array, Array]:
        """Return what each check's value is by the coordinates, that value and its doubt."""
        place = {name: index for index, name in enumerate(self.names)}
        rows = np.zeros((len(self._checks), len(self.names)))
        for row, check in enumerate(self._checks):
            for name, coefficient in check_terms(check):
                rows[row, place[name]] += coefficient
        found = np.array([_value_of(check) for check in self._checks]).reshape(-1, 2)
        return rows, found[:, 0], found[:, 1]


def _value_of(check: Check) -> tuple[float, float]:
    """Return what the coordinates of a check sum to, and its doubt."""
    if isinstance(check, WarmUpCheck):
        return log(check.noted_s / check.books_s), WARM_UP_SD[check.seen_by]
    (name,) = check_names(check)
    error = check.reading - check.known
    is_heat = name.startswith("temperature_bias/")
    # of a heat and of an oven it is what must be added to the reading that is kept
    added = -error if is_heat or name.startswith("oven/") else error
    return added, hypot(check.sd, DIFFUSIVITY_DOUBT_K) if is_heat else check.sd


def check_names(check: Check) -> tuple[str, ...]:
    """Return the coordinates whose sum a check speaks of."""
    if isinstance(check, WarmUpCheck):
        eye = () if check.seen_by == "thermocouple" else (f"warm_up_seen/{check.seen_by}",)
        return "lag/shop", f"lag/box:{check.box}", *eye
    kind, _, key = check.instrument.partition(":")
    if kind == "oven":
        return (f"oven/{key}",)
    testers = ("rockwell", "files", "vickers")
    return (f"{'tester' if kind in testers else 'temperature_bias'}/{check.instrument}",)


def check_terms(check: Check) -> tuple[tuple[str, float], ...]:
    """Return the coordinates whose sum a check speaks of, as of its day, and by how much each counts."""
    terms = since(tuple((name, 0, prior_for(name).sd) for name in check_names(check)), check.loosened)
    return tuple((name, sd) for name, _, sd in terms)


def _names(
    linked: Sequence[Links], testers: Sequence[tuple[tuple[str, float], ...]], checks: Sequence[Check]
) -> tuple[str, ...]:
    """Return every coordinate once, in the order met: the order of the logbook."""
    names: dict[str, None] = {}
    for one in linked:
        names.update(dict.fromkeys(_learnt(one)))
    names.update(dict.fromkeys(name for terms in testers for name, _ in terms))
    names.update(dict.fromkeys(name for check in checks for name, _ in check_terms(check)))
    return tuple(names)


def _learnt(linked: Links) -> Iterator[str]:
    """Give the coordinates that reach the local inputs that are learnt."""
    return (name for name, row, _ in linked.terms if row < FITTED_INPUTS)
