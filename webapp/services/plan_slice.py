"""A slice through the bar, drawn with words: the whole section small, its skin large, both to scale."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_structure import structure_in_short
from webapp.services.showing import Showing
from webapp.services.words import length_text, range_text

STRIP_LEFT, STRIP_RIGHT = 8.0, 352.0  # of a drawing 360 wide
SHOWN_CASES = 2.4
LEAST_SHOWN_m = 0.5e-3
SECTION_RADIUS = 42.0
PLATE_HALF_HEIGHT = 20.0
THINNEST_LINE = 1.2
HARD_HRC = 50.0
ROOMY = 84.0  # a stretch this wide holds its own words


@dataclass(frozen=True)
class Stretch:
    """A stretch of the strip from `left` on, its middle, and its words."""

    left: float
    width: float
    words: str

    @property
    def middle(self) -> float:
        """Where a line to its words begins."""
        return round(self.left + 0.5 * self.width, 1)

    @property
    def right(self) -> float:
        """Where it ends."""
        return round(self.left + self.width, 1)

    @property
    def is_roomy(self) -> bool:
        """Whether its words fit into it."""
        return self.width >= ROOMY


@dataclass(frozen=True)
class Tick:
    """A mark of the depth scale."""

    x: float
    words: str


@dataclass(frozen=True)
class Outline:
    """A shape about the middle of the drawing: a circle of `radius`, or a rectangle where that is 0."""

    radius: float
    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class WholeSection:
    """The whole section: its outline, its bore, and its case as a line of its own depth."""

    outline: Outline
    case: Outline
    case_line: float
    bore: float
    words: str


@dataclass(frozen=True)
class SliceView:
    """The drawing: a strip of the skin from the face inwards, and the whole section with its case."""

    says: str
    case: Stretch
    fading: Stretch
    core: Stretch
    wanted: Stretch
    lands: Stretch
    ticks: tuple[Tick, ...]
    section: WholeSection


def view_slice(figures: PlanFigures, showing: Showing) -> SliceView:
    """Return the slice of a plan."""
    half_m = 0.5 * figures.thickness_m
    case_m = min(figures.depth.middle, half_m)
    total_m = min(max(figures.total_case_m, case_m), half_m)
    shown_m = min(half_m, max(SHOWN_CASES * max(total_m, figures.wanted_high_m), LEAST_SHOWN_m))
    scale = (STRIP_RIGHT - STRIP_LEFT) / shown_m

    def stretch(from_m: float, to_m: float, words: str) -> Stretch:
        left, right = (STRIP_LEFT + scale * min(max(at, 0.0), shown_m) for at in (from_m, to_m))
        return Stretch(round(left, 1), round(right - left, 1), words)

    skin = _skin_words(figures)
    depth = length_text(showing, round(case_m, 5))
    wanted = range_text(showing, figures.wanted_low_m, figures.wanted_high_m)
    lands = range_text(showing, round(figures.depth.low, 5), round(figures.depth.high, 5))
    return SliceView(
        says=f"From the face inwards: {skin}, {depth}; then carbon fades; then the core.",
        case=stretch(0.0, case_m, f"{skin}, {depth}" if case_m > 0 else "no case"),
        fading=stretch(case_m, total_m, "carbon fades"),
        core=stretch(total_m, shown_m, _core_words(figures)),
        wanted=stretch(figures.wanted_low_m, figures.wanted_high_m, f"wanted {wanted}"),
        lands=stretch(figures.depth.low, figures.depth.high, f"nine in ten end at {lands}"),
        ticks=_ticks(shown_m, scale, showing),
        section=_section(figures, case_m, showing),
    )


def _section(figures: PlanFigures, case_m: float, showing: Showing) -> WholeSection:
    """Return the whole section to scale; a case too thin to see is drawn as a hair line."""
    is_round = figures.shape != "plate"
    half_height = SECTION_RADIUS if is_round else PLATE_HALF_HEIGHT
    per_m = 2.0 * half_height / (figures.size_m if is_round else figures.thickness_m)
    line = min(max(case_m * per_m, THINNEST_LINE), half_height) if case_m > 0 else 0.0
    thick = length_text(showing, figures.size_m)
    words = {"plate": f"{thick} thick", "rod": f"{thick} round", "tube": f"{thick} tube"}[figures.shape]
    return WholeSection(
        _outline(is_round, half_height, 0.0),
        _outline(is_round, half_height, 0.5 * line),
        round(line, 2),
        round(0.5 * figures.bore_m * per_m, 2),
        f"{words}, to scale",
    )


def _outline(is_round: bool, half_height: float, inset: float) -> Outline:
    """Return the outline of the section, drawn in by an inset."""
    half_width, half = round(SECTION_RADIUS - inset, 2), round(half_height - inset, 2)
    return Outline(half_width if is_round else 0.0, -half_width, -half, 2 * half_width, 2 * half)


def _skin_words(figures: PlanFigures) -> str:
    if figures.skin_HRC is None:
        return "case"
    words = "hard skin" if figures.skin_HRC.middle >= HARD_HRC else "skin, not fully hard"
    return (
        words if figures.hardening.skin is None else f"{words}: {structure_in_short(figures.hardening.skin)}"
    )


def _core_words(figures: PlanFigures) -> str:
    if figures.core_HRC is None:
        return "core"
    if figures.hardening.core is not None:
        return f"core: {structure_in_short(figures.hardening.core)}"
    return "tough core" if figures.core_HRC.middle < HARD_HRC else "core, hard as well"


def _ticks(shown_m: float, scale: float, showing: Showing) -> tuple[Tick, ...]:
    """Return depth marks at round steps of the shop's unit."""
    unit_m = 1e-3 if showing.length_unit == "mm" else 25.4e-3
    steps = (
        (0.1, 0.2, 0.5, 1.0, 2.0, 5.0) if showing.length_unit == "mm" else (0.005, 0.01, 0.02, 0.05, 0.1, 0.2)
    )
    step = next((step for step in steps if shown_m / unit_m / step <= 6.0), steps[-1])
    count = int(shown_m / unit_m / step)
    words = [f"{k * step:g}" for k in range(count + 1)]
    if count:
        words[1] += f" {showing.length_unit}"
    return tuple(Tick(round(STRIP_LEFT + scale * k * step * unit_m, 1), text) for k, text in enumerate(words))
