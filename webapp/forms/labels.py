"""What is asked about a page of tags: which pieces, which paper, and the sizes of its labels."""

from __future__ import annotations

from typing import Annotated

from model.ranges import Range
from webapp.forms.kit import Ask, Choice, Form

PAPERS = (
    Choice("A4", "A4", "210 × 297 mm (8.3 × 11.7 in)"),
    Choice("Letter", "Letter", "216 × 279 mm (8.5 × 11 in)"),
)
WIDTH = Range(20.0, 200.0, "mm", "Measure one label with a rule.")
HEIGHT = Range(12.0, 250.0, "mm", "Measure one label with a rule.")
GAP = Range(0.0, 50.0, "mm", "Measure from one label's edge to the next; 0 where they touch.")
MARGIN = Range(0.0, 60.0, "mm", "Measure from the edge of the paper to the first label.")
SKIP = Range(0.0, 200.0, "", "Count the labels that are used up already.")


class LabelForm(Form):
    """A page of tags."""

    which: Annotated[str, Ask("Tags for", dynamic=True)]
    paper: Annotated[str, Ask("Paper", choices=PAPERS)] = "A4"
    skip: Annotated[
        int,
        Ask("Skip", help="Labels already used up", quantity="number", range=SKIP, kind="stepper", step=1),
    ] = 0
    with_code: Annotated[bool, Ask("With a code that opens the piece's page", kind="yesno")] = True
    width_m: Annotated[float, Ask("Label width", quantity="length", unit="mm", range=WIDTH)]
    height_m: Annotated[float, Ask("Label height", quantity="length", unit="mm", range=HEIGHT)]
    gap_across_m: Annotated[float, Ask("Gap across", quantity="length", unit="mm", range=GAP)]
    gap_down_m: Annotated[float, Ask("Gap down", quantity="length", unit="mm", range=GAP)]
    left_m: Annotated[float, Ask("Margin left and right", quantity="length", unit="mm", range=MARGIN)]
    top_m: Annotated[float, Ask("Margin top and bottom", quantity="length", unit="mm", range=MARGIN)]
