"""What is asked about a part or a coupon in the box."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from model.ranges import BORE_MM, DIAMETER_MM, Range
from webapp.forms.kit import Ask, Choice, FieldProblem, Form

COUNT = Range(1.0, 500.0, "", "Count the pieces that lie in this box.")
SHAPES = (Choice("rod", "Rod"), Choice("plate", "Plate"), Choice("tube", "Tube"))
BOX_PLACES = (
    Choice("middle", "Middle"),
    Choice("end", "An end"),
    Choice("edge", "Against a wall"),
)
LAYERS = (
    Choice("top", "Top layer"),
    Choice("middle", "Middle layer"),
    Choice("bottom", "Bottom layer"),
    Choice("", "Only one layer"),
)

Place = Annotated[str, Ask("Where in the box", choices=BOX_PLACES)]
Layer = Annotated[str, Ask("Layer", choices=LAYERS, folded=True)]
STEEL_MARKS = (
    Choice("usual", "As usual", "the first free"),
    Choice("notches", "Notches", "filed"),
    Choice("dots", "Dots", "punched"),
    Choice("stamp", "Figure", "stamped"),
    Choice("none", "None"),
)

Mark = Annotated[str, Ask("Letter", help="On paper; empty: the next letter", longest=20, folded=True)]
SteelMark = Annotated[
    str,
    Ask(
        "Mark in the steel",
        help="Cut before the box is packed; it survives the fire, a paper tag does not",
        choices=STEEL_MARKS,
        folded=True,
    ),
]
SteelSign = Annotated[
    str, Ask("How many, or which figure", help="Blank: the first that is free", longest=20, folded=True)
]
SteelPlace = Annotated[str, Ask("Where on the piece", help="Blank: as advised", longest=120, folded=True)]
Note = Annotated[str, Ask("Note", kind="notes", folded=True)]


class PartItemForm(Form):
    """Parts put into the box."""

    part_id: Annotated[int, Ask("Part", dynamic=True)]
    count: Annotated[int, Ask("How many", quantity="number", range=COUNT, kind="stepper", step=1)] = 1
    place: Place = "middle"
    layer: Layer = ""
    mark: Mark = ""
    steel_mark: SteelMark = "usual"
    steel_sign: SteelSign = ""
    steel_place: SteelPlace = ""
    note: Note = ""


class CouponForm(Form):
    """A coupon put into the box, or any piece put right."""

    bar_id: Annotated[int, Ask("Cut from", dynamic=True)]
    shape: Annotated[str, Ask("Shape", choices=SHAPES)] = "rod"
    size_m: Annotated[float, Ask("Diameter or thickness", quantity="length", range=DIAMETER_MM)]
    bore_m: Annotated[
        float | None, Ask("Bore", help="of a tube", quantity="length", range=BORE_MM, folded=True)
    ] = None
    bore_packed: Annotated[bool, Ask("The bore is packed too", kind="yesno", folded=True)] = False
    place: Place = "middle"
    layer: Layer = ""
    mark: Mark = ""
    steel_mark: SteelMark = "usual"
    steel_sign: SteelSign = ""
    steel_place: SteelPlace = ""
    count: Annotated[int, Ask("How many", quantity="number", range=COUNT, folded=True)] = 1
    name: Annotated[str, Ask("Name", longest=80, folded=True)] = "coupon"
    note: Note = ""

    @model_validator(mode="after")
    def tube_has_a_bore(self) -> CouponForm:
        """Ask for the bore of a tube, and hold it against the outside."""
        if self.shape == "tube" and self.bore_m is None:
            raise FieldProblem("bore_m", "A tube has a bore. Type its inside diameter.")
        if self.shape != "tube" and self.bore_m is not None:
            raise FieldProblem("bore_m", "Only a tube has a bore. Clear this, or pick tube.")
        if self.bore_m is not None and self.bore_m >= self.size_m:
            raise FieldProblem("bore_m", "The bore must be smaller than the outside.")
        return self
