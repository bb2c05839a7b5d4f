"""How a packed box warms in the fire and cools after it: the temperature at the work against time.

One line through the smallest inner size of the box: fire, wall, charcoal, and steel in the middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.box_fill import (
    HeatTable,
    bed_conductivity,
    bed_heat,
    steel_conductivity,
    steel_heat,
)
from model.packed_box import PackedBox
from model.process import History
from model.units import STEFAN_BOLTZMANN

Array = NDArray[np.float64]

EMISSIVITY: Final = 0.85
"""Of oxidised steel in a forge [-], 0.8 to 0.9; handbook value from memory."""
CONVECTION: Final = 40.0
"""Of the forge's gas [W/m2 K], 20 to 60; from memory, weak."""
LID_GAP_EMISSIVITY: Final = 0.8
BED_CELLS: Final = 8
PART_CELLS: Final = 2
"""Cells; a grid four times as fine moves the time to heat by less than 1 %, as a test holds."""
RELATIVE_ERROR: Final = 1e-3
HEAT_ERROR_J_PER_M3: Final = 1e5
"""Error allowed in a heat content [J/m3]: a fifth of a kelvin of charcoal."""


@dataclass(frozen=True)
class BoxHeat:
    """Temperatures of a box against time.

    seconds : (k,) from the box in the fire, as the history has it [s]
    part_K, wall_K : (k,) at the work's middle and at the box [K]
    given_J_per_m2, held_J_per_m2 : heat that came through the box's outer face, and what its filling and wall
        gained, by area of the inside [J/m2]: a check of the balance
    """

    seconds: Array
    part_K: Array
    wall_K: Array
    given_J_per_m2: float
    held_J_per_m2: float

    def time_to(self, kelvin: float) -> float | None:
        """Return when the work first reaches a temperature [s], None if it does not."""
        reached = np.flatnonzero(self.part_K >= kelvin)
        if not len(reached):
            return None
        at = int(reached[0])
        if at == 0:
            return float(self.seconds[0])
        low, high = self.part_K[at - 1], self.part_K[at]
        share = (kelvin - low) / (high - low)
        return float(self.seconds[at - 1] + share * (self.seconds[at] - self.seconds[at - 1]))


@lru_cache(maxsize=256)
def box_heat(
    box: PackedBox,
    fire: History,
    start_K: float = 293.15,
    points: int = 361,
    cells: int = BED_CELLS,
    convection: float | None = None,
) -> BoxHeat:
    """Warm or cool a packed box by the history of what is around it.

    box : the box; fire : temperature around it against time, straight between its points
    start_K : of all of it at the beginning [K]; points : moments of the answer; cells : of the bed, 4 or more
    convection : of what is around the box [W/m2 K], a burning forge's gas for None
    Returns `BoxHeat`. Raises NotPossible, OutOfRange as the values do.
    Source: heat balance in one dimension; radiation and convection to the box, Fourier inside, the pack's
    properties as `box_fill`. Left out: heat carried inwards by vapour; the ends, so a short box warms sooner.
    """
    # loaded at the first box: it takes a tenth of the app's start, and no page needs it to open
    from scipy.integrate import solve_ivp

    line = _Line.through(box, cells)
    stirred = CONVECTION if convection is None else convection
    seconds = np.linspace(fire.seconds[0], fire.seconds[-1], points)
    start = line.heat_at(np.full(line.cells, start_K))
    around = np.array(fire.seconds), np.array(fire.temperature_K)

    def change(second: float, state: Array) -> Array:
        return line.change(state[:-1], float(np.interp(second, *around)), stirred)

    found = solve_ivp(
        change,
        (seconds[0], seconds[-1]),
        np.append(start, 0.0),
        method="LSODA",
        t_eval=seconds,
        rtol=RELATIVE_ERROR,
        atol=HEAT_ERROR_J_PER_M3,
        max_step=max((seconds[-1] - seconds[0]) / 20.0, 60.0),
        lband=1,
        uband=1,
    )
    heat = found.y[:-1]
    kelvin = np.array([line.temperature(column) for column in heat.T])
    held = float(((heat[:, -1] - start) * line.volume_m).sum())
    return BoxHeat(seconds, kelvin[:, 0], kelvin[:, -1], float(found.y[-1, -1]), held)


@dataclass(frozen=True)
class _Line:
    """Cells from the middle of the work to the box wall.

    volume_m : (n,) over the inner wall's area [m]; area : (n - 1,) of the faces between cells over it [-]
    half_cell_m : (n,) [m]; outer_area : of the box's outside [-]; steel : (n,) which cells are steel
    tables : heat content of the bed and of steel
    """

    box: PackedBox
    volume_m: Array
    area: Array
    half_cell_m: Array
    outer_area: float
    steel: NDArray[np.bool_]
    tables: tuple[HeatTable, HeatTable]

    @classmethod
    def through(cls, box: PackedBox, cells: int) -> _Line:
        """Lay the cells of a box."""
        core, radius = box.core_m, box.radius_m
        faces = np.concatenate(
            [
                np.linspace(0.0, core, PART_CELLS + 1),
                np.linspace(core, radius, cells + 1)[1:],
                [radius + box.wall_m],
            ]
        )
        power = 1.0 if box.form == "slab" else 2.0
        volume = np.diff(faces**power) / (power * radius ** (power - 1.0))
        area = (faces[1:] / radius) ** (power - 1.0)
        steel = np.zeros(len(volume), dtype=bool)
        steel[:PART_CELLS] = steel[-1] = True
        tables = bed_heat(box.bed), steel_heat()
        return cls(box, volume, area[:-1], 0.5 * np.diff(faces), float(area[-1]), steel, tables)

    @property
    def cells(self) -> int:
        """Return the number of cells."""
        return len(self.volume_m)

    def heat_at(self, kelvin: Array) -> Array:
        """Return the heat content of the cells [J/m3]."""
        bed, steel = self.tables
        return np.where(self.steel, steel.heat(kelvin), bed.heat(kelvin))

    def temperature(self, heat: Array) -> Array:
        """Return the temperature of the cells [K]."""
        bed, steel = self.tables
        return np.where(self.steel, steel.temperature(heat), bed.temperature(heat))

    def change(self, heat: Array, fire_K: float, convection: float) -> Array:
        """Return the change of the heat contents [W/m3], and last the flow through the outer face [W/m2]."""
        kelvin = self.temperature(heat)
        inwards = (kelvin[1:] - kelvin[:-1]) * self._conductance(kelvin)
        wall_K = kelvin[-1]
        given = STEFAN_BOLTZMANN * EMISSIVITY * (fire_K**4 - wall_K**4) + convection * (fire_K - wall_K)
        through = np.concatenate([inwards, [given * self.outer_area]])
        flow = through - np.concatenate([[0.0], through[:-1]])
        return np.append(flow / self.volume_m, through[-1])

    def _conductance(self, kelvin: Array) -> Array:
        """Return the conductance between neighbouring cells, half a cell of each in a row [W/m2 K]."""
        conducts = np.where(self.steel, steel_conductivity(kelvin), bed_conductivity(kelvin, self.box.bed))
        resistance = self.half_cell_m / conducts
        between = resistance[:-1] + resistance[1:]
        if self.box.gap:
            middle = 0.5 * (kelvin[-1] + kelvin[-2])
            emits = 1.0 / (2.0 / LID_GAP_EMISSIVITY - 1.0)
            between[-1] += 1.0 / (4.0 * emits * STEFAN_BOLTZMANN * middle**3)
        return np.asarray(self.area / between)


def fire_history(soak_K: float, ramp_s: float, hold_s: float, start_K: float = 293.15) -> History:
    """Return a forge that climbs evenly to the soak and holds it, a minute or more each [s]."""
    ramp, hold = max(ramp_s, 60.0), max(hold_s, 60.0)
    return History((0.0, ramp, ramp + hold), (start_K, soak_K, soak_K))
