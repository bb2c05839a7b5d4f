"""Carbon diffusion solved with fipy, the general finite-volume library: the referee of the carbon solver."""

from __future__ import annotations

import os

os.environ.setdefault("FIPY_SOLVERS", "scipy")

import fipy
import numpy as np
from numpy.typing import NDArray

from model.grid import Grid

Array = NDArray[np.float64]


def _diffusivity(carbon_wt: fipy.Variable, temperature_K: float) -> fipy.Variable:
    """Agren 1986 written out again, apart from the code under test."""
    y = (55.845 / 12.011) * carbon_wt / (100.0 - carbon_wt)
    factor = 1.0 + y * (1.0 - y) * 8339.9 / temperature_K
    return 4.53e-7 * factor * fipy.numerix.exp(-(1.0 / temperature_K - 2.221e-4) * (17767.0 - 26436.0 * y))


def carbon_by_fipy(
    grid: Grid,
    start_wt: float,
    temperature_K: float,
    seconds: float,
    steps: int,
    *,
    held_wt: float | None = None,
    fed: tuple[float, float] | None = None,
    rod: bool = False,
    sweeps: int = 3,
) -> Array:
    """Return cell carbon of one member after feeding its outer face: held, or (transfer, potential).

    Implicit Euler in steps that grow as the square root of time asks, each swept on its D.
    """
    # fipy counts a rod from its axis, so the mesh runs from the middle outwards
    widths = np.diff(grid.faces_m[0])[::-1]
    mesh = fipy.CylindricalGrid1D(dr=widths) if rod else fipy.Grid1D(dx=widths)
    carbon = fipy.CellVariable(mesh=mesh, value=start_wt, hasOld=True)
    diffusivity = _diffusivity(carbon.faceValue, temperature_K)
    equation = fipy.TransientTerm() == fipy.DiffusionTerm(coeff=diffusivity)
    if held_wt is not None:
        carbon.constrain(held_wt, mesh.facesRight)
    if fed is not None:
        # an outer face with no constraint lets nothing through and carries its cell's value
        transfer = 1.0 / (1.0 / fed[0] + 0.5 * widths[-1] / diffusivity)
        inflow = (mesh.facesRight * [[1.0]] * transfer * (fed[1] - carbon.faceValue)).divergence
        equation = fipy.TransientTerm() == fipy.DiffusionTerm(coeff=diffusivity) + inflow
    for step in np.diff(np.linspace(0.0, seconds**0.5, steps + 1) ** 2):
        carbon.updateOld()
        for _ in range(sweeps):
            equation.sweep(carbon, dt=step)
    return np.asarray(carbon.value)[::-1]
