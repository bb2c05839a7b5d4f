"""What is asked about a part: its shape, its bar, what it must do and the case it wants."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from model.ranges import CASE_DEPTH_MM, WANTED_HRC, Range
from webapp.forms.kit import Ask, Choice, FieldProblem, Form
from webapp.forms.shop import Name, Note

SIZE = Range(0.5, 300.0, "mm", "Give the size of the section, or write the unit, as in 1/2 in.")
BORE = Range(0.2, 299.0, "mm", "The bore must be smaller than the outside.")
LENGTH = Range(1.0, 3000.0, "mm", "Give the length, or leave it blank.")
SOFT_STOCK = Range(
    0.0, 50.0, "mm", "Give what a cut takes off one face; carbon goes in 0.5 to 2 mm (0.02 to 0.08 in)."
)
GRIND = Range(0.0, 3.0, "mm", "Grinding takes 0.1 to 0.25 mm (0.004 to 0.010 in) off a face on small work.")

SHAPES = (
    Choice("plate", "Flat", "plate, strip, block"),
    Choice("rod", "Round", "rod, pin, shaft"),
    Choice("tube", "Tube", "bush, ring"),
)
DUTIES = (
    Choice("wear", "Wear", "it rubs"),
    Choice("bearing", "Bears a load", "pressed hard"),
    Choice("bending", "Bends", "a lever, a spring"),
    Choice("impact", "Takes knocks", "struck, dropped"),
)
DEFINITIONS = (
    Choice("rim", "As seen on a break", "the fine-grained rim"),
    Choice("HV550", "Down to 550 HV", "ISO 18203"),
    Choice("HRC50", "Down to 50 HRC"),
    Choice("total", "All that carbon changed", "by etching"),
)
SOFT_AREAS = (
    Choice("", "Nothing"),
    Choice("thread", "Thread", "on the outside"),
    Choice("hole", "Hole", "tapped, reamed or drilled"),
    Choice("end", "Riveted end", "or one that is bent later"),
)
SOFT_KEPT = (
    Choice("machined", "Machining it after the slow cool", "left oversize, cut while soft"),
    Choice("clay", "Clay over it"),
    Choice("plating", "Copper plating"),
)


def section_thickness(size_m: float, bore_m: float | None) -> float:
    """Return what the cases of both sides have to share [m]: the thickness, the diameter, or the wall."""
    return size_m if bore_m is None else (size_m - bore_m) / 2.0


class PartForm(Form):
    """A part the shop makes."""

    name: Name
    bar_id: Annotated[int, Ask("Made from", dynamic=True)]
    shape: Annotated[str, Ask("Shape", choices=SHAPES)]
    size_m: Annotated[
        float,
        Ask(
            "Thickness or outside diameter",
            quantity="length",
            range=SIZE,
            help="Where the section is thinnest",
        ),
    ]
    bore_m: Annotated[float | None, Ask("Bore", quantity="length", range=BORE, help="Only for a tube")] = None
    duties: Annotated[list[str], Ask("What must it do?", choices=DUTIES, kind="many")]
    wanted_depth_low_m: Annotated[
        float | None,
        Ask(
            "Case at least",
            quantity="length",
            range=CASE_DEPTH_MM,
            help="After grinding. Blank takes what is usual for its work and its section.",
        ),
    ] = None
    wanted_depth_high_m: Annotated[
        float | None, Ask("Case at most", quantity="length", range=CASE_DEPTH_MM)
    ] = None
    grind_m: Annotated[
        float, Ask("Stock to grind off each face", quantity="length", range=GRIND, folded=True)
    ] = 0.0
    wanted_hardness_HRC: Annotated[
        float | None,
        Ask("Hardness of the skin", quantity="number", unit="HRC", range=WANTED_HRC, folded=True),
    ] = None
    depth_definition: Annotated[str, Ask("Depth is counted", choices=DEFINITIONS, folded=True)] = "rim"
    bore_packed: Annotated[
        bool, Ask("Bore filled with pack", help="Then it takes a case inside as well", folded=True)
    ] = False
    length_m: Annotated[float | None, Ask("Length", quantity="length", range=LENGTH, folded=True)] = None
    soft_area: Annotated[str, Ask("Must stay soft", choices=SOFT_AREAS, kind="choice", folded=True)] = ""
    soft_kept: Annotated[str, Ask("Kept soft by", choices=SOFT_KEPT, kind="choice", folded=True)] = ""
    soft_stock_m: Annotated[
        float | None,
        Ask(
            "Stock left on it, each face",
            quantity="length",
            range=SOFT_STOCK,
            help="Blank: the plan says how much",
            folded=True,
        ),
    ] = None
    note: Note = ""

    @model_validator(mode="after")
    def _bore_belongs_to_a_tube(self) -> PartForm:
        if self.shape == "tube":
            if self.bore_m is None:
                raise FieldProblem("bore_m", "A tube needs its bore. A bar without a bore is round.")
            if self.bore_m >= self.size_m:
                raise FieldProblem("bore_m", "The bore must be smaller than the outside diameter.")
        elif self.bore_m is not None:
            raise FieldProblem("bore_m", "Only a tube has a bore. Pick tube, or clear this.")
        elif self.bore_packed:
            raise FieldProblem("bore_packed", "Only a tube has a bore to fill. Pick tube, or no here.")
        return self

    @model_validator(mode="after")
    def _depths_are_in_order(self) -> PartForm:
        low, high = self.wanted_depth_low_m, self.wanted_depth_high_m
        if (low is None) != (high is None):
            missing = "wanted_depth_low_m" if low is None else "wanted_depth_high_m"
            raise FieldProblem(missing, "Give both ends of the case depth, or leave both blank.")
        if low is not None and high is not None and low > high:
            raise FieldProblem("wanted_depth_high_m", "The most lies below the least. Swap the two.")
        if low is not None and 2 * low >= self.thickness_m:
            raise FieldProblem("wanted_depth_low_m", "The cases of both sides would meet: no core is left.")
        return self

    @model_validator(mode="after")
    def _soft_area_has_its_way(self) -> PartForm:
        if self.soft_area and not self.soft_kept:
            raise FieldProblem("soft_kept", "Say how it is kept soft: machined later, clay, or plating.")
        if self.soft_stock_m is not None and not (self.soft_area and self.soft_kept == "machined"):
            raise FieldProblem(
                "soft_stock_m", "Stock is left on what is machined later. Pick that, or clear this."
            )
        if self.soft_stock_m is not None and 2 * self.soft_stock_m >= self.thickness_m:
            raise FieldProblem("soft_stock_m", "That much off both faces leaves nothing of the section.")
        return self

    @property
    def thickness_m(self) -> float:
        """The thickness of the section, as `section_thickness` has it."""
        return section_thickness(self.size_m, self.bore_m)
