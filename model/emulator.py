"""A few full forecasts of each process, and a smooth surface through what each reading would show of them.

A fit asks for thousands of predictions of the same processes at inputs that hardly differ. Here each process
is forecast at a few inputs drawn evenly from what is believed of it; as the belief narrows, more are made
where it lies, until what the surface is wrong by (each forecast foretold by all others) is little beside the
reading's own scatter, or enough were made.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from model.even_draws import even_draws
from model.inputs import FITTED_INPUTS
from model.kept_forecasts import Forecasts, KeptForecasts, Kind, forecasts_of, mark_of
from model.look import Look, told_together
from model.piecework import Piecework
from model.process import Process
from model.sight import Reading, Seen
from model.sketch import Sketches
from model.surface import WIDER, Members, Scattered, Surface, lay
from model.works import Works

Array = NDArray[np.float64]
Group = tuple[int, Kind]
Size = tuple[int, int]
Told = TypeVar("Told")

FIRST: Final = 20
"""Forecasts that a process begins with."""
LEAST_MORE: Final = 24
MOST_MORE: Final = 48
ALL_MORE: Final = 1200
"""Forecasts added to a process at a time, least and most, and between those to all of them together: a
small logbook, which believes less, can afford more of each."""
TIMES: Final = 3
"""How often forecasts are added; where these make no good surface more would not, and the doubt stays."""
MOST: Final = 256
"""Forecasts of one process, even where the belief has wandered away from those there are."""
GOOD: Final = 0.25
"""Error of a good surface over the reading's own sd: it widens the reading by 3 %."""
LEAST_NEAR: Final = 16.0
"""Forecasts that must lie about the belief before an error is trusted."""
MOVED: Final = 1.0
SHRUNK: Final = 2.0
"""How far a belief may move [sd], or shrink or grow [ln of its volume], before a surface is laid anew."""
AT_ONCE: Final = 64
"""Surfaces worked together: what fits a processor's cache."""
WORKS_AT_ONCE: Final = 256
"""Works sketched together, or surfaces looked at, where each has little to be done: a few megabytes."""


@dataclass(frozen=True)
class Belief:
    """What is believed of the local inputs of processes: centre (P, F) and lower root (P, F, F).

    The root is 0 beside and 1 on its diagonal for an input of which a process knows nothing.
    """

    centre: Array
    root: Array
    moved: NDArray[np.bool_]

    @classmethod
    def of(cls, centre: Array, covariance: Array) -> Belief:
        """Return a belief from covariances, (P, F, F), which are 0 for inputs that do not move."""
        sd = np.sqrt(np.einsum("pff->pf", covariance))
        moved = sd > 0.0
        scale = np.where(moved, sd, 1.0)
        both = scale[:, :, None] * scale[:, None]
        correlation = covariance / both + np.eye(sd.shape[1]) * np.where(moved, 1e-9, 1.0)[:, :, None]
        return cls(centre, scale[:, :, None] * np.linalg.cholesky(correlation), moved)

    def but_at(self, rows: Sequence[int], other: Belief) -> Belief:
        """Return this belief, but another of some processes."""
        centre, root = self.centre.copy(), self.root.copy()
        centre[list(rows)], root[list(rows)] = other.centre[list(rows)], other.root[list(rows)]
        return Belief(centre, root, self.moved)


@dataclass(frozen=True)
class Asked:
    """A kind of reading of a process, and the least sd of those that were noted, in its own unit."""

    reading: Reading
    own_sd: float


def alike(
    told: dict[Group, Told], size: Callable[[Told], tuple[int, ...]], exactly: bool = False
) -> Iterator[dict[Group, Told]]:
    """Give groups of as many outputs each, some at once, those with about as many members together.

    size : outputs and members of one; exactly : with just as many members
    """
    ordered = sorted(told.items(), key=lambda one: size(one[1]))
    for _, same in groupby(ordered, key=lambda one: size(one[1]) if exactly else size(one[1])[0]):
        several = list(same)
        yield from (dict(several[first : first + AT_ONCE]) for first in range(0, len(several), AT_ONCE))


class Emulator:
    """The forecasts and surfaces of one logbook; a work is what was done to a piece, in whichever fire."""

    def __init__(
        self,
        processes: Sequence[Process],
        offset: Array,
        books: Belief,
        asked: dict[Group, Asked],
        look: Look,
        kept: KeptForecasts,
        piecework: Piecework,
    ) -> None:
        """Begin with what is kept.

        offset : (P, local inputs) as the books have them, books : what they believe of those that are learnt
        asked : the kinds of reading of each process; piecework : how its forecasts are worked through
        """
        self.processes = tuple(processes)
        self.works = Works.among(processes)
        self.offset, self.books, self.asked, self.kept = offset, books, asked, kept
        self.look, self.piecework = look, piecework
        self.sketches = Sketches(self.processes, piecework)
        self.many = int(np.clip(ALL_MORE // max(len(self.processes), 1), LEAST_MORE, MOST_MORE))
        # what is kept, by place: to ask for a process takes its time
        self._marks = [mark_of(done) for done in self.works.done]
        self._forecasts = [kept.forecasts.get(mark) for mark in self._marks]
        self._surfaces = {(row, kind): kept.surfaces.get((self.processes[row], kind)) for row, kind in asked}
        self._members: dict[int, Members] = {}
        self.readings: list[dict[Kind, Reading]] = [{} for _ in self.works.done]
        for (row, kind), one in asked.items():
            self.readings[self.works.of[row]][kind] = one.reading

    def surface(self, group: Group) -> Surface | None:
        """Return the surface of a process and kind as it lies now."""
        return self._surfaces.get(group)

    def sizes(self, rows: Collection[int]) -> dict[Group, Size]:
        """Return outputs and members of each surface of some processes that is laid."""
        laid = ((group, surface) for group, surface in self._surfaces.items() if group[0] in rows)
        return {group: (len(one.error), one.members) for group, one in laid if one is not None}

    def stacked(self, groups: Iterable[Group]) -> Surface:
        """Return surfaces of as many outputs each as one."""
        laid = (self.surface(group) for group in groups)
        return Surface.stacked([one for one in laid if one is not None])

    def put(self, group: Group, surface: Surface) -> None:
        """Keep the surface of a process and kind, for this fit and the next."""
        self._surfaces[group] = surface
        self.kept.surfaces.put((self.processes[group[0]], group[1]), surface)

    def unlaid(self) -> list[int]:
        """Return the processes of which a surface is missing, or was laid through fewer forecasts."""
        return sorted({group[0] for group in self.asked if self._as_made(group) is None})

    def lie_about(
        self,
        belief: Belief,
        begins: bool = False,
        only: Collection[int] | None = None,
        closer: Collection[int] = (),
    ) -> bool:
        """Lay the surfaces that a belief asks for; return whether any was laid, and predictions changed.

        begins : whether surfaces that lie about where it is will do, however wide it is and however rough
        only : processes that are looked at, None for all
        closer : those that are forecast about it once more, whatever their surfaces claim
        """
        begun = self._begin()
        belief = belief.but_at(sorted(begun), self.books)
        asked = [group for group in self.asked if only is None or group[0] in only or group[0] in begun]
        stale = self._stale(asked, belief, begins)

        def is_rough(group: Group) -> bool:
            return group[0] not in begun and self._is_rough(group, group[0] in closer, begins)

        rough = self._rough_ones(asked, stale, belief, is_rough)
        self._forecast(rough, self._drawn(rough, self.many, belief))
        more = {self.works.of[row] for row in rough}
        self._lay([group for group in self.asked if self.works.of[group[0]] in more], belief)
        return bool(stale or rough)

    def _rough_ones(
        self,
        asked: Sequence[Group],
        stale: Sequence[Group],
        belief: Belief,
        is_rough: Callable[[Group], bool],
    ) -> list[int]:
        """Lay stale surfaces about a belief; return one row of each work to be forecast more often.

        These are laid once that is done: so the worst of each work, by what was laid before, is laid first,
        and where it is rough the others wait.
        """
        worst = {self.works.of[group[0]]: group for group in sorted(stale, key=self._error)}
        left, first = set(stale), set(worst.values())
        standing = [group for group in asked if group not in left]
        others = [group for group in stale if group not in first]
        rows: set[int] = set()
        works: set[int] = set()
        for several in (standing, list(worst.values()), others):
            lot = [group for group in several if self.works.of[group[0]] not in works]
            self._lay([group for group in lot if group in left], belief)
            found = {group[0] for group in lot if is_rough(group)}
            rows |= found
            works |= {self.works.of[row] for row in found}
        return self.works.one_of_each(rows)

    def worst_errors(self) -> dict[int, float]:
        """Return of each process the largest error of its surfaces over the reading's own sd."""
        worst: dict[int, float] = {}
        for group in self.asked:
            worst[group[0]] = max(worst.get(group[0], 0.0), self._error(group))
        return worst

    def _begin(self) -> set[int]:
        """Forecast processes never seen, and again those asked for a kind of reading never asked for.

        The first forecasts of a process are drawn from the books, so that they hang on it alone.
        """
        for work, one in enumerate(self._forecasts):
            if one is not None and not set(self.readings[work]) <= set(one.values):
                (seen,) = self.look([self.works.done[work]], one.inputs[None])
                (found,) = forecasts_of([one.inputs], [self.readings[work]], [seen])
                self._keep(work, found)
        new = {row for row, work in enumerate(self.works.of) if self._forecasts[work] is None}
        first = self.works.one_of_each(new)
        self._forecast(first, self._drawn(first, FIRST, self.books))
        return new

    def _drawn(self, rows: Sequence[int], count: int, belief: Belief) -> Array:
        """Draw inputs of some processes from what is believed of them, (rows, count, local inputs)."""
        inputs = np.repeat(self.offset[list(rows)][:, None], count, axis=1)
        for place, row in enumerate(rows):
            moved = np.flatnonzero(belief.moved[row])
            known = self._forecasts[self.works.of[row]]
            draws = even_draws(count, len(moved), 0 if known is None else len(known.inputs))
            root = belief.root[row][np.ix_(moved, moved)]
            inputs[place][:, moved] = belief.centre[row, moved] + draws @ root.T
        return inputs

    def _forecast(self, rows: Sequence[int], inputs: Array) -> None:
        """Forecast processes at inputs, and keep what their readings would show beside what is kept."""
        works = [self.works.of[row] for row in rows]
        done = [self.works.done[work] for work in works]

        def told(places: Sequence[int], seen: Sequence[Seen]) -> list[Forecasts]:
            return forecasts_of(inputs[places], [self.readings[works[place]] for place in places], seen)

        several = told_together(done, inputs, self.look, told, self.piecework)
        for work, found in zip(works, several, strict=True):
            known = self._forecasts[work]
            self._keep(work, found if known is None else known.with_more(found))

    def _keep(self, work: int, forecasts: Forecasts) -> None:
        self._forecasts[work] = forecasts
        self.kept.forecasts.put(self._marks[work], forecasts)

    def _stale(self, asked: Sequence[Group], belief: Belief, begins: bool) -> list[Group]:
        """Return those groups whose surface is missing, or whose forecasts or belief are others by now."""
        laid = [(group, one) for group in asked if (one := self._as_made(group)) is not None]
        good: set[Group] = set()
        for first in range(0, len(laid), WORKS_AT_ONCE):
            some = laid[first : first + WORKS_AT_ONCE]
            lies_there = _lie_about([one for _, one in some], [group[0] for group, _ in some], belief, begins)
            good.update(group for (group, _), is_good in zip(some, lies_there, strict=True) if is_good)
        return [group for group in asked if group not in good]

    def _as_made(self, group: Group) -> Surface | None:
        """Return the surface of a group if it was laid through all forecasts there are."""
        surface, forecasts = self.surface(group), self._forecasts[self.works.of[group[0]]]
        is_whole = surface and forecasts and surface.members == len(forecasts.inputs)
        return surface if is_whole else None

    def _is_rough(self, group: Group, is_closer: bool, begins: bool) -> bool:
        """Tell whether a surface is not good enough and more forecasts may be made."""
        surface = self.surface(group)
        assert surface is not None  # it was just laid
        if is_closer or surface.near < LEAST_NEAR:
            return surface.members < MOST
        return not begins and self._error(group) > GOOD and surface.members < FIRST + TIMES * self.many

    def _error(self, group: Group) -> float:
        """Return what a surface is wrong by over the reading's own sd; a truth that is not read has none."""
        surface, own = self.surface(group), self.asked[group].own_sd
        if surface is None or own <= 0.0:
            return 0.0
        return float(surface.error[: len(surface.error) // 2].max()) / own

    def _lay(self, groups: Sequence[Group], belief: Belief) -> None:
        """Lay the surfaces of some processes and kinds anew about a belief.

        What was read off the old ones is forgotten first: a fit may be cut short at any place.
        """
        self.kept.forget_lines([row for row, _ in groups])
        self._gather([row for row, _ in groups])
        told = {group: self._made(group[0]).values[group[1]] for group in groups}
        for batch in alike(told, lambda values: values.shape[::-1], exactly=True):
            laid = lay([self._scattered(group, belief) for group in batch])
            for group, surface in zip(batch, laid, strict=True):
                self.put(group, surface)

    def _gather(self, rows: Iterable[int]) -> None:
        """Gather the forecasts of some processes with their sketch, those with as many sketched together."""
        alike: dict[int, list[int]] = {}
        for row in {self.works.of[row]: row for row in rows}.values():
            made, known = len(self._made(row).inputs), self._members.get(self.works.of[row])
            if known is None or len(known.inputs) != made:
                alike.setdefault(made, []).append(row)
        for several in alike.values():
            for first in range(0, len(several), WORKS_AT_ONCE):
                some = several[first : first + WORKS_AT_ONCE]
                inputs = [self._made(row).inputs for row in some]
                sketches = self.sketches.of(np.array(some), np.array(inputs))
                for row, own, sketch in zip(some, inputs, sketches, strict=True):
                    self._members[self.works.of[row]] = Members(own[:, :FITTED_INPUTS], sketch)

    def _made(self, row: int) -> Forecasts:
        forecasts = self._forecasts[self.works.of[row]]
        assert forecasts is not None  # `_begin` saw to it
        return forecasts

    def _scattered(self, group: Group, belief: Belief) -> Scattered:
        row, kind = group
        values, members = self._made(row).values[kind], self._members[self.works.of[row]]
        return Scattered(members, values, belief.centre[row], belief.root[row], belief.moved[row])


def _lie_about(
    surfaces: Sequence[Surface], rows: Sequence[int], belief: Belief, begins: bool
) -> NDArray[np.bool_]:
    """Return which surfaces lie about a belief still; rows : the process of each; begins : however wide."""
    centre, to_units = (np.array([getattr(one, name) for one in surfaces]) for name in ("centre", "to_units"))
    away = WIDER * np.einsum("gf,gfu->gu", belief.centre[rows] - centre, to_units)
    lies_there = (away**2).sum(axis=1) <= MOVED**2
    if not begins:
        grown = WIDER * np.einsum("gff->gf", belief.root[rows]) * np.einsum("gff->gf", to_units)
        grown[~belief.moved[rows]] = 1.0
        lies_there &= np.abs(np.log(grown).sum(axis=1)) <= SHRUNK
    return np.asarray(lies_there)
