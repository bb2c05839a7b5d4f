"""Many pieces of steel and many draws of the constants as one array: a member is one draw of one process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import cast

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants
from model.errors import NotPossible
from model.pack import alloy_factor_gunn_1967
from model.process import Process
from model.steels import ELEMENTS, Composition, ac1_andrews_1965
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass(frozen=True)
class Members:
    """Processes with the same kinds of heats and quenches in the same order, each with its draws.

    processes : the processes, P of them
    row : (M,) which process each member belongs to
    constants : one value a member, every field (M,)
    """

    processes: tuple[Process, ...]
    row: Rows
    constants: Constants

    @classmethod
    def of(cls, processes: Sequence[Process], constants: Sequence[Constants]) -> Members:
        """Stack processes with their constants, process after process.

        processes : P processes whose heats and quenches are of the same kinds in the same order
        constants : one for each process, any number of draws each
        Returns the members. Raises NotPossible if the kinds of the steps differ.
        """
        if len({process.kinds for process in processes}) != 1:
            raise NotPossible("steps", "the processes have different steps", "Solve them apart.")
        counts = [drawn.draws for drawn in constants]
        stacked = {
            field.name: _joined([getattr(drawn, field.name) for drawn in constants], counts)
            for field in fields(Constants)
        }
        row = np.repeat(np.arange(len(processes)), counts)
        return cls(tuple(processes), row, Constants(**stacked))

    @classmethod
    def of_each(cls, processes: Sequence[Process], constants: Constants) -> Members:
        """Return the members of processes of one kind, with as many draws of each in a row."""
        row = np.arange(len(processes)).repeat(constants.draws // len(processes))
        return cls(tuple(processes), row, constants)

    def rows_of(self, process: int) -> slice:
        """Return where the members of one process lie."""
        first, last = np.searchsorted(self.row, [process, process + 1])
        return slice(int(first), int(last))

    def spread(self, values: Sequence[float]) -> Array:
        """Return one value a process as one value a member, (M,)."""
        return np.asarray(values, dtype=float)[self.row]

    @cached_property
    def composition(self) -> Composition:
        """Composition with a column (M, 1) for each element; the formulas of `steels` take such."""
        steels = [process.steel.composition for process in self.processes]
        columns = {
            name: self.spread([getattr(steel, name) for steel in steels])[:, None] for name in ELEMENTS
        }
        return Composition(**cast("dict[str, float]", columns))

    @cached_property
    def alloy_factor(self) -> Array:
        """Carbon potential over the carbon of the steel in balance with it, (M,) [-]."""
        return self.spread([alloy_factor_gunn_1967(process.steel.composition) for process in self.processes])

    @cached_property
    def ac1_K(self) -> Array:
        """Temperature at which austenite begins to form, (M,) [K]."""
        return self.spread(
            [celsius_to_kelvin(ac1_andrews_1965(process.steel.composition)) for process in self.processes]
        )

    @cached_property
    def base_carbon_wt(self) -> Array:
        """The bar's own carbon, (M,) [wt%]."""
        stated = self.spread([process.steel.composition.C for process in self.processes])
        return np.maximum(stated + self.constants.base_carbon_shift_wt, 0.0)


def _joined(values: Sequence[Array], counts: Sequence[int]) -> Array:
    """Return values of several processes in a row, each of its own (count,) or one for all its draws."""
    rows = zip(values, counts, strict=True)
    each = [own if len(own) == count else own.repeat(count) for own, count in rows]
    return each[0] if len(each) == 1 else np.concatenate(each)
