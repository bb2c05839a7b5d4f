"""Cooling of a section from the fire through the air into a bath, at every depth.

The cooling knows no structure: what forms and the heat it gives off come from a `Progress` that the
caller brings, told of each step and asked for its heat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from model.baths import Air, Baths, Surface
from model.conduction import AT_ONCE, Conduction, State
from model.cooling import Cooling, Recorded
from model.errors import NotPossible
from model.grid import Grid
from model.process import Section, Shape
from model.steel_heat import Metals
from model.units import ZERO_CELSIUS_K

Array = NDArray[np.float64]

QUENCH_CELLS: Final = 24
QUENCH_TOLERANCE_K: Final = 8.0
"""Cells, and error allowed in one step [K]; the convergence tests say what they cost."""
LARGEST_DROP_K: Final = 30.0
LARGEST_RISE_K: Final = 8.0
SEEN_TO_C: Final = 350.0
FULL_HURRY: Final = 0.05
UNSEEN_SHARE: Final = 0.25
"""Where something may form: the most that a cell may change in one step, and the rise by what forms in one
step that makes the next one shorter [K]. Both count only in cells hotter than `SEEN_TO_C` and than where
their cooling has told all: what forms below is martensite for the most part, whose heat changes nothing
that is still to form. The change counts in full where a step, times the greatest pace at which the cell may
still transform, comes to `FULL_HURRY` of a progress integral (5e-6 of the austenite in one such step, 0.5 %
in ten), and in proportion below: a skin that races past the nose may do so in long steps. The error of a
cell colder than `SEEN_TO_C` counts by `UNSEEN_SHARE`: where a face is held at the bend of the boiling curve
it forgets an error at once."""
AT_ONCE_PER_S: Final = 1e6
"""Pace before anything is known of what forms [1/s]."""
BORE_SHARE: Final = 0.5
"""Share of the outer face's heat flux that an open bore loses [-]; judgement, no source: liquid and steam
have to pass each other in it."""
END_ABOVE_BATH_K: Final = 15.0
END_K: Final = 353.15
"""A member is cold when no cell is hotter than 80 C, or than this much above its bath [K]."""
AIR_K: Final = 293.15
"""Air between fire and bath [K]."""
FIRST_DROP_K: Final = (5.0, 12.0)
"""What the face is let cool in the first step in air and in a liquid [K]."""
MOST_STEPS: Final = 4000
_NO_RISE_K: Final = 1e-6
LEAST_GROWTH: Final = 0.2
LARGEST_GROWTH: Final = 2.5
LARGEST_AFTER_ERROR: Final = 0.4
"""Factors between one step and the next: least and most, and the most after a step refused for its error."""
_AS_LONG: Final = np.ones(1)


class Progress(Protocol):
    """What the cooling does to the steel: told of every step, it gives back heat."""

    def advance(self, step_s: Array, temperature_C: Array) -> tuple[Array, Array, Array]:
        """Take a step of (M,) seconds, 0 for a member that waits, to (M, n) [C].

        Returns the heat set free in it [J/m3], the share that is still the hot metal, and the greatest pace
        at which what is left may go through its progress integral [1/s], each (M, n).
        """
        ...


STEEL: Final = Metals()


def quench_grid(sections: Sequence[Section], cells: int = QUENCH_CELLS) -> Grid:
    """Return the cells for a quench: graded towards every face that loses heat, a tube's bore among them.

    sections : one, or one a member; cells : 4 or more
    Raises NotPossible for a size or a bore that makes no section. Source: as `Grid.of_sections`.
    """
    wet = [replace(section, bore_packed=section.shape is Shape.TUBE) for section in sections]
    return Grid.of_sections(wet, cells)


def quench(
    sections: Sequence[Section],
    start_K: Array,
    baths: Baths,
    seconds_to_bath: Array,
    progress: Progress | None = None,
    grid: Grid | None = None,
    metals: Metals = STEEL,
    tolerance_K: float = QUENCH_TOLERANCE_K,
    end_K: Array | float = END_K,
) -> Cooling:
    """Cool M sections from an even heat through air into their baths.

    sections : one for all, or one a member; start_K : (M,) 400 to 1500 [K]; baths : of M members
    seconds_to_bath : (M,) 0 or more [s]; progress : what forms, None for nothing
    grid : of `quench_grid`, which is the default; tolerance_K : error allowed in one step [K]
    end_K : a member is cold when no cell is hotter, one for all or (M, n) [K], or than 15 K above its bath
    Returns temperatures at the cells, each member on its own times, until it is as cold as its bath.
    Raises NotPossible for a section, or for a cooling that does not come to an end.
    Source: heat balance; surface from `baths`; bore and end as the constants above say.
    """
    grid = quench_grid(sections) if grid is None else grid
    run = _Run(grid, baths, Air.around(sections), start_K, metals, progress, (tolerance_K, end_K))
    if (seconds_to_bath > 0.0).any():
        run.cool(baths.air_leg(AIR_K), until_s=seconds_to_bath)
    run.enter()
    run.cool(baths, until_s=np.full(start_K.shape, np.inf))
    return run.recorded.cooling(grid, baths, seconds_to_bath)


class _Run:
    """One cooling under way: the state of all members, each on its own clock.

    A member that waits, as it is cold or its step was refused, does not change by a bit while others step, so
    that it cools alike in whatever company.
    """

    def __init__(
        self,
        grid: Grid,
        baths: Baths,
        air: Air,
        start_K: Array,
        metals: Metals,
        progress: Progress | None,
        tolerance_and_end_K: tuple[float, Array | float],
    ) -> None:
        """Start all members hot."""
        shape = (len(start_K), grid.centres_m.shape[1])
        self.grid, self.air, self.metals, self.progress = grid, air, metals, progress
        self.tolerance_K, self.end_K = tolerance_and_end_K
        self.clock = np.zeros(shape[0])
        self.hot_share = np.ones(shape)
        self.mixture = metals.mixed(self.hot_share)
        temperature_C = np.repeat((start_K - ZERO_CELSIUS_K)[:, None], shape[1], axis=1)
        self.state = State(temperature_C, np.zeros(shape[0]))
        self.inner_share = np.full(shape[0], BORE_SHARE) * grid.inner_fed
        steel_kg_per_m2 = grid.volume_m.sum(axis=1) * metals.hot.density
        self.bath_rise = baths.work_kg / steel_kg_per_m2 / baths.capacity_J_per_K
        self.recorded = Recorded()
        self.freed, self.freed_over_s = np.zeros(shape), np.ones(shape[0])
        self.waits: NDArray[np.bool_] | None = None
        self.most_growth = np.full(shape[0], LARGEST_GROWTH)
        self.seen = (temperature_C > SEEN_TO_C).astype(float)
        self.counts_above_C = np.maximum(self.end_K - ZERO_CELSIUS_K, np.full(shape, SEEN_TO_C))
        self.hurry_per_s = AT_ONCE_PER_S * (temperature_C > self.counts_above_C)
        self.in_bath = np.zeros(shape[0])
        self.recorded.add(self.clock, temperature_C, baths.bath_K, self.state.given_off)

    def enter(self) -> None:
        """Begin to count the heat that goes into the bath."""
        self.in_bath = self.state.given_off

    def cool(self, baths: Baths, until_s: Array) -> None:
        """Cool every member in what it is in, until its own time or until it is cold."""
        surface = Surface(baths, self.air, AT_ONCE)
        bath_K, end_C = baths.bath_K, self._end_C(baths.bath_K)
        surface.warm_to(bath_K)
        conduction = Conduction.on(self.grid, surface.flux, self.inner_share)
        wanted_s = self._first_step(surface)
        warms = bool(np.isfinite(baths.capacity_J_per_K).any())
        for _ in range(MOST_STEPS):
            left_s = np.maximum(until_s - self.clock, 0.0)  # round-off must not turn the time back
            is_cold = np.logical_and.reduce(self.state.temperature_C <= end_C, axis=1)
            step_s = np.minimum(wanted_s, left_s) * ~is_cold
            if not np.count_nonzero(step_s):
                return
            taken_s, wanted_s = self._step(conduction, step_s)
            if not np.count_nonzero(taken_s):
                continue
            wanted_s = wanted_s * self._advance(taken_s)
            if warms:
                bath_K = baths.bath_K + self.bath_rise * (self.state.given_off - self.in_bath)
                end_C = self._end_C(bath_K)
                surface.warm_to(bath_K)
            self.recorded.add(self.clock, self.state.temperature_C, bath_K, self.state.given_off)
        raise NotPossible("quench", "the cooling did not come to an end", "Check section, heat and bath.")

    def _first_step(self, surface: Surface) -> Array:
        """Return the time in which the face of a thick body, or the whole of a thin one, cools a little."""
        temperature_C = self.state.temperature_C
        capacity, conductivity = self.mixture.holds(temperature_C), self.mixture.conducts(temperature_C)
        flux = np.maximum(np.abs(surface.flux(temperature_C[None, :, 0])[0]), 1.0)
        drop_K = np.where(surface.baths.liquid > 0.0, FIRST_DROP_K[1], FIRST_DROP_K[0])
        thick = 0.25 * np.pi * (conductivity * capacity)[:, 0] * (drop_K / flux) ** 2
        thin = drop_K * (self.grid.volume_m * capacity).sum(axis=1) / flux
        return np.asarray(np.maximum(thick, thin * 1e-3))

    def _end_C(self, bath_K: Array) -> Array:
        """Return where the cells of each member count as cold, (M, n) or (M, 1) [C]."""
        return np.maximum(self.end_K, (bath_K + END_ABOVE_BATH_K)[:, None]) - ZERO_CELSIUS_K

    def _step(self, conduction: Conduction, step_s: Array) -> tuple[Array, Array]:
        """Try a step of every member and keep those within tolerance.

        Returns the seconds they took, (M,), and those that the next step may take.
        """
        # heat of the last step comes at the pace it was freed, so that a shorter step takes up less of it
        taken_up = self.freed * (np.minimum(step_s, self.freed_over_s) / self.freed_over_s)[:, None]
        moved, error_K, change_K = conduction.step(self.state, self.mixture, step_s, taken_up)
        error = excess = (
            np.maximum.reduce(np.maximum(self.seen, UNSEEN_SHARE) * error_K, axis=1) / self.tolerance_K
        )
        if self.progress is not None:
            counts = np.minimum(self.hurry_per_s * (step_s / FULL_HURRY)[:, None], 1.0)
            change = np.maximum.reduce(change_K * change_K * counts, axis=1)
            excess = np.maximum(error, change / LARGEST_DROP_K**2)
        moves, taken_s = (excess <= 1.0) & (step_s > 0.0), step_s
        growth, most = 0.9 / np.sqrt(excess + 1e-6), self.most_growth
        if np.count_nonzero(moves) == len(moves):
            self.state, self.waits = moved, None
        else:
            self.state, self.waits = self.state.where(moves, moved), ~moves[:, None]
            taken_s, taken_up = step_s * moves, taken_up * moves[:, None]
            # at a bend of the flux the error falls slower than the order says
            most = np.where(error > 1.0, LARGEST_AFTER_ERROR, most)
            growth = np.maximum(growth, LEAST_GROWTH)
        self.clock, self.freed = self.clock + taken_s, self.freed - taken_up
        return taken_s, step_s * np.minimum(growth, most)

    def _advance(self, taken_s: Array) -> Array:
        """Let what forms form in the step, its heat to be taken up in the next.

        Returns the factor on the next step that its rise asks for, (M,) up to 1.
        """
        temperature_C = self.state.temperature_C
        self.seen = (temperature_C > SEEN_TO_C).astype(float)
        if self.progress is None:
            return _AS_LONG
        freed, hot_share, hurry_per_s = self.progress.advance(taken_s, temperature_C)
        self.freed = self.freed + freed
        self.freed_over_s = (
            taken_s if self.waits is None else np.where(taken_s > 0.0, taken_s, self.freed_over_s)
        )
        hurry_per_s = hurry_per_s * (temperature_C > self.counts_above_C)
        rise_K = freed / self.mixture.holds(temperature_C) * (hurry_per_s > 0.0)
        self.hot_share = _held(self.waits, hot_share, self.hot_share)
        self.hurry_per_s = _held(self.waits, hurry_per_s, self.hurry_per_s)
        self.mixture = self.metals.mixed(self.hot_share)
        most_K = np.maximum(np.maximum.reduce(rise_K, axis=1), _NO_RISE_K)
        return np.asarray(np.minimum(1.0, LARGEST_RISE_K / most_K))


def _held(waits: NDArray[np.bool_] | None, moved: Array, waiting: Array) -> Array:
    """Return the state of members that move on, and that of those that wait, (M, 1), to the last bit."""
    return moved if waits is None else np.where(waits, waiting, moved)
