"""A mark as a small picture: the end of a rod or tube, or a side of a plate, with what is cut into it."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from webapp.services.steel_marks import DOTS, NOTCHES, STAMP, Mark

Point = tuple[float, float]
Stroke = tuple[float, float, float, float]
FACE, RADIUS, NOTCH = 24.0, 10.0, 4.0
"""Width of the square that one face is drawn in, radius of a round one, depth of a notch."""
FLAT_WIDE, FLAT_HIGH = 36.0, 18.0
STEP_ROUND = pi / 5.0
DIE: dict[int, tuple[Point, ...]] = {
    1: ((0, 0),),
    2: ((-1, 0), (1, 0)),
    3: ((-1, 0.8), (1, 0.8), (0, -0.8)),
    4: ((-1, -1), (1, -1), (-1, 1), (1, 1)),
    5: ((-1, -1), (1, -1), (-1, 1), (1, 1), (0, 0)),
    6: ((-1, -1.1), (1, -1.1), (-1, 0), (1, 0), (-1, 1.1), (1, 1.1)),
}
DOT_APART = 4.0


@dataclass(frozen=True)
class FaceDrawing:
    """One face: a circle, a ring or a flat, its left edge, and what is on it."""

    outline: str
    left: float
    notches: tuple[Stroke, ...] = ()
    dots: tuple[Point, ...] = ()
    figure: str = ""

    @property
    def middle(self) -> float:
        """Return the middle of the face, across."""
        return self.left + (FLAT_WIDE if self.outline == "flat" else FACE) / 2.0


@dataclass(frozen=True)
class MarkDrawing:
    """The faces that bear a mark, side by side, and how wide all of it is."""

    wide: float
    faces: tuple[FaceDrawing, ...]


def draw_mark(mark: Mark, shape: str) -> MarkDrawing:
    """Return the picture of a mark on a piece of a shape."""
    outline = {"rod": "round", "tube": "ring", "plate": "flat"}[shape]
    wide = FLAT_WIDE if outline == "flat" else FACE
    signs = mark.sign.split("+")
    faces = tuple(_face(outline, place * wide, mark.kind, sign) for place, sign in enumerate(signs))
    return MarkDrawing(wide * len(faces), faces)


def _face(outline: str, left: float, kind: str, sign: str) -> FaceDrawing:
    blank = FaceDrawing(outline, left)
    if kind == STAMP:
        return FaceDrawing(outline, left, figure=sign)
    many = int(sign)
    if kind == NOTCHES:
        return FaceDrawing(outline, left, notches=_notches(blank, many))
    dots = tuple((blank.middle + DOT_APART * x, FACE / 2.0 + DOT_APART * y) for x, y in _die(many))
    return FaceDrawing(outline, left, dots=dots) if kind == DOTS else blank


def _notches(face: FaceDrawing, many: int) -> tuple[Stroke, ...]:
    """Return the strokes of notches from the rim inward, across and down of both ends."""
    steps = [number - (many - 1) / 2.0 for number in range(many)]
    if face.outline == "flat":
        top = (FACE - FLAT_HIGH) / 2.0
        across = [face.middle + 4.5 * step for step in steps]
        return tuple((x, top, x, top + NOTCH) for x in across)
    angles = [STEP_ROUND * step - pi / 2.0 for step in steps]
    return tuple((*_round(face, RADIUS, a), *_round(face, RADIUS - NOTCH, a)) for a in angles)


def _round(face: FaceDrawing, radius: float, angle: float) -> Point:
    return face.middle + radius * cos(angle), FACE / 2.0 + radius * sin(angle)


def _die(many: int) -> tuple[Point, ...]:
    """Return dots as on a die; more than six in rows of three."""
    if many in DIE:
        return DIE[many]
    return tuple((float(n % 3 - 1), n // 3 - 1.0) for n in range(many))
