"""The heat of one step for many members: the way up, and what was noted without the warm-up in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.box_course import AT_HEAT_WITHIN_K, COLD_K, POINTS, warm_up_of, warm_up_s
from model.members import Members
from model.process import Carburize, History
from model.segments import Segment
from model.segments import Supply as SurfaceSupply

Array = NDArray[np.float64]

LEAST_CLIMB_K: Final = 1e-6
"""Temperature change that counts as none [K]."""
LAG_SMOOTHING: Final = 0.03
"""Share of a step over which the lag's end is rounded off, so that a lag near the whole step keeps its
effect on the depth; 0.2 % of the time at a lag of half the step. Own choice."""


@dataclass(frozen=True)
class Course:
    """Histories of one step of all members: times and temperatures, both (M, points)."""

    seconds: Array
    temperature_K: Array

    @classmethod
    def of(cls, members: Members, histories: Sequence[History], lag_share: Sequence[float]) -> Course:
        """Return the members' histories, biased, and without the time before the work was at heat."""
        most = max(len(history.seconds) for history in histories)
        seconds = np.array([_padded(history.seconds, most) for history in histories])[members.row]
        kelvin = np.array([_padded(history.temperature_K, most) for history in histories])[members.row]
        kelvin = kelvin + members.constants.temperature_bias_K[:, None]
        course, lag_s = (
            cls(seconds - seconds[:, :1], kelvin),
            members.spread(lag_share) * members.constants.lag_s,
        )
        if not lag_s.any():
            return course
        boxed = members.spread([process.box is not None for process in members.processes])
        return course.after(lag_s, LAG_SMOOTHING * (1.0 - boxed))

    def after(self, lag_s: Array, smoothing: Array | float = LAG_SMOOTHING) -> Course:
        """Return the course without its first seconds, (M,) 0 or more."""
        whole = self.seconds[:, -1]
        start = (whole - seconds_at_heat(whole, lag_s, smoothing))[:, None]
        seconds = np.maximum(self.seconds, start)
        span = np.diff(self.seconds, axis=1)
        share = np.diff(seconds, axis=1) / np.where(span > 0.0, span, 1.0)
        climb = np.diff(self.temperature_K, axis=1)
        first = np.where(share > 0.0, self.temperature_K[:, 1:] - share * climb, self.temperature_K[:, 1:])
        at_start = np.take_along_axis(first, (share > 0.0).argmax(axis=1)[:, None], axis=1)
        kelvin = np.where(seconds > self.seconds, at_start, self.temperature_K)
        return Course(seconds, kelvin)

    def until(self, end_s: Array) -> Course:
        """Return the course cut off at moments, (M,) 0 or more [s]."""
        seconds = np.minimum(self.seconds, end_s[:, None])
        span = np.diff(self.seconds, axis=1)
        share = np.diff(seconds, axis=1) / np.where(span > 0.0, span, 1.0)
        reached = self.temperature_K[:, :-1] + share * np.diff(self.temperature_K, axis=1)
        kelvin = np.where(self.seconds[:, 1:] > seconds[:, 1:], reached, self.temperature_K[:, 1:])
        return Course(seconds, np.concatenate([self.temperature_K[:, :1], kelvin], axis=1))

    def stretched(self, factor: Array) -> Course:
        """Return the course with its time stretched, (M,) above 0 [-]."""
        return Course(self.seconds * factor[:, None], self.temperature_K)

    def from_below(self, top_K: Array) -> Course:
        """Return a falling course from where it is no hotter than work that came to `top_K`, (M,) [K]."""
        kelvin = np.minimum(self.temperature_K, top_K[:, None])
        fall, left = np.diff(self.temperature_K, axis=1), np.diff(kelvin, axis=1)
        share = np.divide(left, fall, out=np.ones_like(fall), where=np.abs(fall) > LEAST_CLIMB_K)
        return Course(
            np.cumsum(np.concatenate([self.seconds[:, :1], np.diff(self.seconds) * share], axis=1), axis=1),
            kelvin,
        )

    def segments(self, ac1_K: Array, outer: SurfaceSupply, inner: SurfaceSupply | None) -> Iterator[Segment]:
        """Yield the solver's segments: of each member only the time above its Ac1, (M,) [K]."""
        kelvin = np.maximum(self.temperature_K, ac1_K[:, None])
        climb, hot_climb = np.diff(self.temperature_K, axis=1), np.diff(kelvin, axis=1)
        still = (self.temperature_K[:, 1:] >= ac1_K[:, None]).astype(float)
        share = np.divide(hot_climb, climb, out=still, where=np.abs(climb) > LEAST_CLIMB_K)
        seconds = np.diff(self.seconds, axis=1) * share
        for place in range(seconds.shape[1]):
            yield Segment(seconds[:, place], kelvin[:, place], kelvin[:, place + 1], outer, inner)


def seconds_at_heat(whole_s: Array, lag_s: Array, smoothing: Array | float = LAG_SMOOTHING) -> Array:
    """Time at heat of a step whose clock began `lag_s` before: the difference, rounded off above nothing.

    whole_s : (M,) [s], above 0; lag_s : (M,) [s], 0 or more
    smoothing : share of the step over which it is rounded [-], one or (M,); 0 where the way up is worked out
    Returns (M,) [s], above 0 and at most `whole_s`.
    Source: own choice; exact without a lag.
    """
    left = 1.0 - lag_s / whole_s

    def rounded(share: Array | float) -> Array:
        return np.asarray(0.5 * (share + np.hypot(share, 2.0 * np.asarray(smoothing))), dtype=float)

    return np.asarray(whole_s * rounded(left) / rounded(1.0), dtype=float)


def warming(members: Members, soaks: Sequence[Carburize], soak: Course) -> Course | None:
    """Return the way up to a soak, of each member's own length, as far as the fire burnt for it.

    members : the members; soaks : the step of each process; soak : its course without the warm-up
    Returns the course, of no length for members whose box is not described; None where that is all of them.
    """
    ways = [warm_up_of(process) for process in members.processes]
    if not any(ways):
        return None
    shares = np.array([way.time_share if way else (0.0,) * POINTS for way in ways])[members.row]
    climbed = np.array([way.climbed if way else (1.0,) * POINTS for way in ways])[members.row]
    kelvin = COLD_K + climbed * (soak.temperature_K[:, :1] - COLD_K)
    in_fire_s, _ = fire_times(members, soaks)
    return Course(shares * members.constants.lag_s[:, None], kelvin).until(in_fire_s)


def fire_times(members: Members, soaks: Sequence[Carburize]) -> tuple[Array, Array]:
    """Return how long a box was in the fire in one stay, and its work at heat, (M,) each [s]."""
    clock_s = members.spread([step.history.duration_s for step in soaks])
    held_share = members.spread([step.lag_share for step in soaks])
    lag_s = members.constants.lag_s
    return clock_s + (1.0 - held_share) * lag_s, np.maximum(clock_s - held_share * lag_s, 0.0)


def reached_K(members: Members, soaks: Sequence[Carburize]) -> Array:
    """Return how hot work comes that was not at heat in one stay, (M,) [K]; infinite where it was.

    Its box is hotter when the fire goes out, so it is taken to rise by what work at heat lacks of the soak.
    """
    course = Course.of(members, [step.history for step in soaks], [step.lag_share for step in soaks])
    way_up = warming(members, soaks, course)
    if way_up is None:
        return np.full(len(members.row), np.inf)
    _, at_heat_s = fire_times(members, soaks)
    return np.where(at_heat_s > 0.0, np.inf, way_up.temperature_K[:, -1] + AT_HEAT_WITHIN_K)


def cooling_course(members: Members, course: Course, soaks: Sequence[Carburize]) -> Course:
    """Return the cool of shut boxes: each slower or faster as it warms, from where its work came to.

    members : the members; course : of the slow cool as told; soaks : the step before of each process
    """
    if all(process.box is None for process in members.processes):
        return course
    top_K = reached_K(members, soaks) if soaks else np.full(len(members.row), np.inf)
    return course.stretched(cooling_factor(members)).from_below(top_K)


def cooling_factor(members: Members) -> Array:
    """Return by how much each member's box is slower than the books have it, (M,) [-]; 1 without a box."""
    nominal_s = members.spread([warm_up_s(process) for process in members.processes])
    boxed = members.spread([process.box is not None for process in members.processes]) > 0.0
    return np.where(boxed, members.constants.lag_s / nominal_s, 1.0)


def _padded(values: tuple[float, ...], length: int) -> tuple[float, ...]:
    return values + (values[-1],) * (length - len(values))
