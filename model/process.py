"""The values that flow into a forecast: a steel section and one ordered list of steps.

A pin drawn in mid-soak, a part reheated and tempered twice, a second trip to the box are all
just other lists. Everything is SI (metres, seconds, kelvin) except carbon, which is wt%.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from enum import StrEnum
from functools import cached_property
from typing import Any, Final

from model.dated_changes import Loosened
from model.packed_box import PackedBox
from model.steels import Steel


class Shape(StrEnum):
    """Shape of the section through which carbon and heat travel."""

    PLATE = "plate"
    ROD = "rod"
    TUBE = "tube"


@dataclass(frozen=True)
class Section:
    """A plate, rod or tube wall.

    `size_m` is the plate's thickness or the outer diameter; `bore_m` the tube's inner diameter;
    `bore_packed` says that the tube's bore is full of pack and feeds too.
    """

    shape: Shape
    size_m: float
    bore_m: float = 0.0
    bore_packed: bool = False


@dataclass(frozen=True)
class History:
    """Recorded temperature [K] against time [s from the start of the step], straight between points."""

    seconds: tuple[float, ...]
    temperature_K: tuple[float, ...]

    @classmethod
    def hold(cls, temperature_K: float, seconds: float) -> History:
        """Return a hold at one temperature."""
        return cls((0.0, seconds), (temperature_K, temperature_K))

    @property
    def duration_s(self) -> float:
        """Length of the step [s]."""
        return self.seconds[-1] - self.seconds[0]


SLOW_COOL_K_PER_H: Final = 300.0
"""Cooling of a shut small forge with its box [K/h]; common practice, no source."""
SLOW_COOL_END_K: Final = 773.15
"""Where a slow cool is taken to end [K]: carbon no longer moves."""


def slow_cool_history(start_K: float, kelvin_per_hour: float = SLOW_COOL_K_PER_H) -> History:
    """Return a straight cool from where a soak ended; that of a box that is described is `box_course`'s.

    start_K : temperature at the end of the soak [K]; kelvin_per_hour : rate [K/h], above 0
    Returns a straight cool to 500 C, or a moment's stay where the soak was no hotter.
    """
    seconds = max(start_K - SLOW_COOL_END_K, 1.0) / kelvin_per_hour * 3600.0
    return History((0.0, seconds), (start_K, min(start_K, SLOW_COOL_END_K)))


@dataclass(frozen=True)
class PackSupply:
    """Carbon from a charcoal pack; its transfer and activity come from the constants.

    `carbonate_percent` is the carbonate by weight that the substance amounts to, not the substance.
    """

    charcoal: str = "lump"
    carbonate_percent: float = 0.0
    fresh_share: float = 1.0


@dataclass(frozen=True)
class PotentialSupply:
    """Carbon from a stated atmosphere: potential of pure iron [wt%] and transfer coefficient [m/s]."""

    carbon_potential_wt: float
    transfer_m_per_s: float


@dataclass(frozen=True)
class HeldSurface:
    """The steel's own surface carbon [wt%], held; it may be off by as much as `doubt_wt` either way."""

    surface_carbon_wt: float
    doubt_wt: float = 0.0


Supply = PackSupply | PotentialSupply | HeldSurface


@dataclass(frozen=True)
class Carburize:
    """A step in which the surface is fed.

    `lag_share` is the part of the box's warm-up that the step's clock still contains: 1 when the clock
    was started as the box went into the fire, 0 when it was started with the work at heat. The rest of
    the warm-up went before, and feeds too where the process says what its box is.
    """

    history: History
    supply: Supply
    lag_share: float = 0.0


@dataclass(frozen=True)
class EvenOut:
    """A hot step with a sealed surface: carbon only spreads inwards."""

    history: History


@dataclass(frozen=True)
class SlowCool:
    """Cooling in the closed box; the pack goes on feeding while the steel is austenite."""

    history: History
    supply: Supply | None = None


@dataclass(frozen=True)
class Reheat:
    """Heating for the quench, outside the pack.

    The surface is sealed, or for bare work in a fire that takes carbon held at what the fire leaves it.
    `bare` says that it was noted to lie open in the fire.
    """

    history: History
    surface: HeldSurface | None = None
    bare: bool = False


@dataclass(frozen=True)
class Quench:
    """Cooling in a bath.

    `medium` is air, oil, mineral oil, vegetable oil, water or brine; `bath_K` its temperature before the
    work goes in; `salt_percent` the salt of a brine, 0 for the usual; `litres` the size of the bath and
    `work_kg` all the steel that goes in at once, None where it is not said: then the bath does not warm.
    """

    medium: str
    bath_K: float = 293.15
    agitation: str = "moderate"
    seconds_to_bath: float = 2.0
    salt_percent: float = 0.0
    litres: float | None = None
    work_kg: float | None = None


@dataclass(frozen=True)
class Cold:
    """A cooling below room temperature after the quench."""

    temperature_K: float


@dataclass(frozen=True)
class Temper:
    """A temper: temperature [K] and time [s]."""

    temperature_K: float
    seconds: float


HotStep = Carburize | EvenOut | SlowCool | Reheat
Step = HotStep | Quench | Cold | Temper


@dataclass(frozen=True)
class Keys:
    """What the process ran on, by the logbook's own keys; an empty key means the books only.

    `loosened` holds what dated changes before it touched, in the order of their days. It changes no physics:
    only which coordinates the process shares with those that ran before.
    """

    bar: str = ""
    box: str = ""
    mix: str = ""
    bath: str = ""
    oven: str = ""
    heat_method: str = ""
    fire: str = ""
    loosened: tuple[Loosened, ...] = ()


@dataclass(frozen=True)
class Process:
    """One piece of steel and everything that is done to it, in order.

    `box` is the packed box, whose warming and cooling are then worked out, and its slow cools stretched as
    its warm-up is; for None the warm-up only shortens the soak, by the nominal lag of `box_inner_m`, the
    smallest inner size of the box, 0 when not known. `record_doubt_K` is the
    doubt in the recorded heat and times, as a temperature (see `model.inputs.record_doubt_K`);
    `temper_doubt_K` that of the tempers (see `model.inputs.temper_doubt_K`).
    """

    steel: Steel
    section: Section
    steps: tuple[Step, ...]
    keys: Keys = field(default_factory=Keys)
    start_depth_m: tuple[float, ...] = ()
    start_carbon_wt: tuple[float, ...] = ()
    box_inner_m: float = 0.0
    record_doubt_K: float = 0.0
    temper_doubt_K: float = 0.0
    box: PackedBox | None = None

    @property
    def kinds(self) -> tuple[type[Step], ...]:
        """Kinds of its heats and quenches, which processes solved as one array have alike.

        Colds and tempers are worked out process by process, so they may differ.
        """
        return tuple(type(step) for step in self.steps if not isinstance(step, Cold | Temper))

    def __hash__(self) -> int:
        """Return the hash of all fields, worked out once: a fit looks up every process many times."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash(tuple(getattr(self, name) for name in NAMES))

    def __getstate__(self) -> dict[str, Any]:
        """Return the fields alone: a hash is another in another run of the program."""
        return {name: getattr(self, name) for name in NAMES}


NAMES: Final = tuple(each.name for each in fields(Process))
