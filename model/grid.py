"""The cells of a plate, rod or tube wall, counted by depth from the outer face.

One geometry serves all three: the area that carbon crosses at depth x, over the outer face's area, is
1 - x * curvature, with curvature 0 for a plate and 1/outer radius for a rod or tube.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from model.errors import NotPossible
from model.process import Section, Shape

Array = NDArray[np.float64]

DEFAULT_CELLS = 120
FIRST_CELL_m = 6.0e-6
"""Thickness of the cell at a fed face with the default number of cells (own choice, from the
convergence test: half of it changes a depth after 4 h at 925 C by less than 0.05 %)."""
_NEWTON_STEPS = 12


@dataclass(frozen=True, eq=False)
class Grid:
    """Cells of M sections, outer face first; M is 1 when all members share a section.

    A grid is equal to itself alone, so that what hangs on it can be kept by it.

    faces_m : (M, n + 1) depth of the cell faces [m]
    centres_m : (M, n) depth of the cell centres [m]
    area : (M, n + 1) area at each face over that of the outer face [-]
    volume_m : (M, n) volume of each cell over the outer face's area [m]
    inner_fed : (M,) 1 where the bore holds pack and feeds too, else 0 [-]
    """

    faces_m: Array
    centres_m: Array
    area: Array
    volume_m: Array
    inner_fed: Array

    @classmethod
    def of_sections(cls, sections: Sequence[Section], cells: int = DEFAULT_CELLS) -> Grid:
        """Return the grid of one section for all members, or of one section a member.

        sections : 1 or M sections; sizes above 0 [m]
        cells : number of cells, 4 or more; the thinnest cells shrink in proportion as it grows
        returns : the grid, graded towards every fed face
        raises : NotPossible for a size, a bore or a number of cells that makes no section
        source : geometry; the grading is the sinh map, own choice
        """
        if cells < 4:
            raise NotPossible("cells", f"{cells} cells cannot carry a profile", "Use 4 or more.")
        return _of_one(sections[0], cells) if len(sections) == 1 else cls._laid(sections, cells)

    @classmethod
    def _laid(cls, sections: Sequence[Section], cells: int) -> Grid:
        for section in sections:
            _refuse_impossible(section)
        depth = np.array([_through(section) for section in sections])
        curvature = np.array(
            [0.0 if section.shape is Shape.PLATE else 2.0 / section.size_m for section in sections]
        )
        inner_fed = np.array(
            [section.shape is Shape.TUBE and section.bore_packed for section in sections], dtype=np.float64
        )
        return cls.of_faces(_graded_faces(depth, inner_fed > 0.0, cells), curvature, inner_fed)

    @classmethod
    def of_faces(cls, faces_m: Array, curvature_per_m: Array, inner_fed: Array) -> Grid:
        """Return the grid with the given cell faces.

        faces_m : (M, n + 1) rising from 0 [m]; curvature_per_m : (M,) 1 / outer radius, 0 for a plate [1/m]
        inner_fed : (M,) 1 where the inner face may be fed, else 0 [-]
        returns : the grid
        source : geometry
        """
        centres = 0.5 * (faces_m[:, 1:] + faces_m[:, :-1])
        volume = np.diff(faces_m, axis=1) * (1.0 - centres * curvature_per_m[:, None])
        return cls(faces_m, centres, 1.0 - faces_m * curvature_per_m[:, None], volume, inner_fed)

    def at(self, rows: NDArray[np.intp]) -> Grid:
        """Return the sections at places, (k,), any of them more than once."""
        return Grid(*(getattr(self, field.name)[rows] for field in fields(self)))

    @property
    def depth_m(self) -> Array:
        """Depth of the cell centres from the outer face, (M, n) [m]."""
        return self.centres_m

    @property
    def through_m(self) -> Array:
        """Depth of the middle, or of a tube's bore, (M,) [m]."""
        return self.faces_m[:, -1]

    def carbon_content(self, carbon_wt: Array) -> Array:
        """Return the carbon in the section per outer area.

        carbon_wt : (M, n) carbon [wt%]
        returns : (M,) carbon times volume over the outer area [wt% m]
        source : definition
        """
        content: Array = np.sum(self.volume_m * carbon_wt, axis=1)
        return content


@lru_cache(maxsize=256)
def _of_one(section: Section, cells: int) -> Grid:
    """Return the grid of one section: the same few are asked for all day."""
    return Grid._laid([section], cells)


def _refuse_impossible(section: Section) -> None:
    """Raise NotPossible for a section with no thickness."""
    if not section.size_m > 0.0:
        raise NotPossible("section.size", f"a size of {section.size_m:g} m is nothing", "Give its size.")
    if section.shape is Shape.TUBE and not 0.0 < section.bore_m < section.size_m:
        raise NotPossible(
            "section.bore",
            f"a bore of {section.bore_m:g} m in a diameter of {section.size_m:g} m leaves no tube",
            "Give a bore above 0 and below the outer diameter, or choose a rod.",
        )


def _through(section: Section) -> float:
    """Return the depth from the outer face to the middle or to the bore [m]."""
    bore = section.bore_m if section.shape is Shape.TUBE else 0.0
    return 0.5 * (section.size_m - bore)


def _graded_faces(depth: Array, both_fed: NDArray[np.bool_], cells: int) -> Array:
    """Return faces graded by x = L sinh(a s) / sinh(a) towards the outer face, or towards both."""
    share = np.linspace(0.0, 1.0, cells + 1)
    # where both faces are fed the same map runs to mid-wall and is mirrored there
    span = np.where(both_fed, 0.5, 1.0)[:, None]
    mirrored = both_fed[:, None] & (share > 0.5)
    s = np.where(mirrored, 1.0 - share, share) / span
    first_cell = FIRST_CELL_m * DEFAULT_CELLS / cells
    stretch = _stretch(depth / (cells * first_cell))[:, None]
    x = span * depth[:, None] * np.sinh(stretch * s) / np.sinh(stretch)
    faces: Array = np.where(mirrored, depth[:, None] - x, x)
    return faces


def _stretch(ratio: Array) -> Array:
    """Return a of sinh(a) / a = ratio of the even to the wanted first cell; about 0 where even cells do."""
    target = np.log(np.maximum(ratio, 1.0 + 1e-6))
    a = np.sqrt(6.0 * target) + target  # above the root, from where Newton's method falls onto it
    for _ in range(_NEWTON_STEPS):
        a = a - (np.log(np.sinh(a) / a) - target) / (1.0 / np.tanh(a) - 1.0 / a)
    return a
