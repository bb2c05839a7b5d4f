"""The depth of a case out of points tapped on a photo: a scale, and pairs from the surface to the case's end.

Plane geometry of a camera held square to the face; nothing here knows of pictures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.errors import NotPossible
from model.ranges import Range, check

Point = tuple[float, float]
Array = NDArray[np.float64]

SCALE_LENGTH: Final = Range(
    0.5e-3, 0.3, "m", "Take a size that is seen whole in the photo, as the piece's own."
)
LEAST_SCALE_PX: Final = 40.0
LEAST_PLACES: Final = 3
MOST_PLACES: Final = 40
# Our own estimates, no source: a point that is set under a cross on the enlarged picture [px, 1 sd], and what
# a camera that is 8 degrees out of square shortens one way and not the other (1 - cos 8 deg).
TAP_SD_PX: Final = 1.5
SLANT_SHARE: Final = 0.01
# A circle through points that lie on less than a third of it is too loose to judge a scale by.
LEAST_ARC_RAD: Final = 2.0 * np.pi / 3.0


@dataclass(frozen=True)
class PhotoScale:
    """Two points of the photo [px] whose distance in the world [m] is known."""

    ends_px: tuple[Point, Point]
    length_m: float


@dataclass(frozen=True)
class RimPlace:
    """One place on the rim: a point on the surface and one where the case ends, straight below it [px]."""

    surface_px: Point
    case_end_px: Point


@dataclass(frozen=True)
class RimDepth:
    """Depth at each place [m], their mean, their scatter between places, the doubt of the mean (1 sd)."""

    depths_m: tuple[float, ...]
    mean_m: float
    spread_m: float
    doubt_m: float
    metres_a_pixel: float


def metres_a_pixel(scale: PhotoScale) -> float:
    """Return the size of a pixel.

    Parameters: scale : its length 0.5 mm to 300 mm, its ends at least 40 px apart.
    Returns: [m/px]. Raises: OutOfRange for the length, NotPossible for ends that lie too close.
    """
    check("scale", scale.length_m, SCALE_LENGTH)
    apart_px = _distance(*scale.ends_px)
    if apart_px < LEAST_SCALE_PX:
        raise NotPossible(
            "scale",
            f"the two ends are only {apart_px:.0f} pixels apart",
            "Set them on the two ends of something larger, or take the photo closer",
        )
    return scale.length_m / apart_px


def rim_depth(scale: PhotoScale, places: Sequence[RimPlace]) -> RimDepth:
    """Return the mean depth over some places of a rim with its spread and doubt.

    The doubt of the mean holds the scatter from place to place, never less than what setting points alone
    would make, over the square root of their number; and, the same at all places, the doubt of the scale: its
    two points, and a camera a little out of square. Where the case ends is for the eye to say and not in it.

    Parameters: places : 3 to 40, surface and case's end apart.
    Returns: lengths [m]. Raises: OutOfRange, NotPossible.
    """
    if not LEAST_PLACES <= len(places) <= MOST_PLACES:
        raise NotPossible(
            "places",
            f"{len(places)} places are set and {LEAST_PLACES} to {MOST_PLACES} make a mean",
            "Set places all round the rim",
        )
    pixel_m = metres_a_pixel(scale)
    depths = pixel_m * np.array([_distance(place.surface_px, place.case_end_px) for place in places])
    if np.any(depths <= 0.0):
        raise NotPossible(
            "places", "a surface and its end of the case are one point", "Set one of them again"
        )
    mean, spread = float(depths.mean()), float(depths.std(ddof=1))
    by_hand = np.sqrt(2.0) * TAP_SD_PX * pixel_m
    doubt = np.hypot(max(spread, by_hand) / np.sqrt(len(places)), mean * scale_doubt(scale))
    return RimDepth(tuple(float(depth) for depth in depths), mean, spread, float(doubt), pixel_m)


def scale_doubt(scale: PhotoScale) -> float:
    """Return the doubt of a scale as a share of any length measured with it (1 sd)."""
    return float(np.hypot(np.sqrt(2.0) * TAP_SD_PX / _distance(*scale.ends_px), SLANT_SHARE))


def circle_diameter_m(scale: PhotoScale, places: Sequence[RimPlace]) -> float | None:
    """Return the diameter of the circle through the surface points, None where they lie on too short an arc.

    A round piece whose circle differs from its own diameter was photographed at a slant or scaled wrongly.
    The circle is the least-squares one of I. Kåsa, IEEE Trans. Instrum. Meas. 25 (1976) 8, from memory.

    Parameters: places : any number. Returns: [m] or None. Raises: as `metres_a_pixel`.
    """
    pixel_m = metres_a_pixel(scale)
    points = np.array([place.surface_px for place in places], dtype=float).reshape(-1, 2)
    if len(points) < LEAST_PLACES:
        return None
    about = points - points.mean(axis=0)
    columns = np.column_stack([2.0 * about, np.ones(len(about))])
    solution, _, rank, _ = np.linalg.lstsq(columns, np.sum(about**2, axis=1), rcond=1e-9)
    if rank < 3 or _arc(about - solution[:2]) < LEAST_ARC_RAD:
        return None
    return float(2.0 * pixel_m * np.sqrt(solution[2] + solution[0] ** 2 + solution[1] ** 2))


def _arc(spokes: Array) -> float:
    """Return how much of a circle points lie on: all of it but the widest gap between neighbours [rad]."""
    angles = np.sort(np.arctan2(spokes[:, 1], spokes[:, 0]))
    gaps = np.diff(angles, append=angles[0] + 2.0 * np.pi)
    return float(2.0 * np.pi - gaps.max())


def _distance(one: Point, other: Point) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))
