"""What is asked about a reading: first one hardness and one depth, the rest by its own form."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from model.ranges import Range
from webapp.forms.answers import Raw, first
from webapp.forms.common import TimedForm
from webapp.forms.kit import Ask, Choice, FieldProblem, Form

# The ends of the scales as testers use them; ISO 6508-1: HRC 20-70, HRA 20-95, HR15N 70-94 (from memory).
HRC = Range(20.0, 70.0, "HRC", "The C scale runs from 20 to 70; the hardest case is near 66. Read it again.")
HRA = Range(60.0, 87.0, "HRA", "On the A scale soft steel is near 60 and the hardest case near 85.")
HV = Range(80.0, 1200.0, "HV", "Soft steel is near 120 HV, the hardest case near 900.")
HR15N = Range(70.0, 94.0, "HR15N", "On the 15N scale soft steel is near 70 and the hardest case near 92.")
SCALES = {"HRC": HRC, "HRA": HRA, "HR15N": HR15N, "HV": HV}
AT_THE_END = "20 HRC is kept as 20 or less, 70 as 70 or more: at an end a scale tells no further"
SEEN_DEPTH = Range(0.0, 10.0, "mm", "A case is some tenths of a millimetre to 2 mm (0.08 in) deep.")
GROUND_OFF = Range(0.0, 5.0, "mm", "Type what was taken off this face, as in 0.1.")
BOW = Range(0.0, 50.0, "mm", "Type how far the middle stands off the straight, as in 0.15.")
BEND_ANGLE = Range(0.0, 180.0, "degrees", "A bend lies between 0 and 180 degrees.")

AFTER = (
    Choice("slow_cool", "The slow cool"),
    Choice("quench", "The quench"),
    Choice("temper_1", "The first temper"),
    Choice("temper_2", "The second temper"),
)
PLACES = (
    Choice("end", "End"),
    Choice("middle", "Middle"),
    Choice("edge", "Edge"),
    Choice("bore", "Bore"),
)
SURFACES = (
    Choice("as it came", "As it came"),
    Choice("emeried", "Emeried bright"),
    Choice("ground", "Ground"),
)
ONE_FILE = (
    Choice("skates", "Skates", "glass-hard"),
    Choice("marks", "Just marks"),
    Choice("cuts", "Cuts", "soft"),
)
BENDS = (
    Choice("bent", "Bent, whole"),
    Choice("cracked", "Case cracked"),
    Choice("snapped", "Snapped"),
)
HOW_SEEN = (
    Choice("break", "On a break", "the fine grey rim"),
    Choice("etch", "On an etched cut"),
)
WHEN_SIZED = (
    Choice("before", "Before the box"),
    Choice("after_quench", "After the quench"),
    Choice("after_grinding", "After grinding"),
)

After = Annotated[str, Ask("Measured after", choices=AFTER)]
HardnessScale = Annotated[str, Ask("Scale", choices=tuple(Choice(scale, scale) for scale in SCALES))]
Depth = Annotated[float | None, Ask("Case seen on a break", quantity="length", range=SEEN_DEPTH)]


class ReadingForm(TimedForm):
    """What every reading asks."""

    after: After
    place: Annotated[str, Ask("Where on the piece", choices=PLACES, folded=True)] = "middle"
    surface: Annotated[str, Ask("Surface", choices=SURFACES, folded=True)] = "as it came"
    removed_m: Annotated[
        float | None, Ask("Ground off there", quantity="length", range=GROUND_OFF, folded=True)
    ] = None

    @model_validator(mode="after")
    def ground_by_something(self) -> ReadingForm:
        """Ask how much came off a ground surface: hardness hangs on it."""
        if self.surface == "ground" and not self.removed_m:
            raise FieldProblem("removed_m", "Type how much was ground off where you measured, as in 0.1.")
        if self.surface == "as it came" and self.removed_m:
            raise FieldProblem("surface", "Something was ground off, so the surface is not as it came.")
        return self


class FirstReadingForm(ReadingForm):
    """The first view of a coupon: one hardness or one file, and one depth."""

    hardness: Annotated[float | None, Ask("Hardness", quantity="number", help=AT_THE_END)] = None
    unit: HardnessScale = "HRC"
    file_result: Annotated[str, Ask("One old file", choices=(*ONE_FILE, Choice("", "Not tried")))] = ""
    depth_m: Depth = None
    instrument_id: Annotated[int | None, Ask("Tester", dynamic=True, folded=True)] = None
    file_id: Annotated[int | None, Ask("Which file", dynamic=True, folded=True)] = None

    @model_validator(mode="after")
    def something_read(self) -> FirstReadingForm:
        """Refuse an empty reading: a slip of the finger."""
        if self.hardness is None and not self.file_result and self.depth_m is None:
            raise ValueError("Nothing was read yet. Give a hardness, what the file did, or a depth.")
        if self.hardness is not None:
            _hold_to_scale("hardness", self.hardness, self.unit)
        return self


class HardnessForm(ReadingForm):
    """Hardness by a machine."""

    unit: HardnessScale = "HRC"
    value: Annotated[float, Ask("Hardness", quantity="number", help=AT_THE_END)]
    instrument_id: Annotated[int | None, Ask("Tester", dynamic=True)] = None

    @model_validator(mode="after")
    def on_its_scale(self) -> HardnessForm:
        """Hold a number against its scale."""
        _hold_to_scale("value", self.value, self.unit)
        return self


def scale_taken(raw: Raw) -> Raw:
    """Return what was posted with a scale that was typed behind the hardness, as in `90 HR15N`, picked."""
    told = dict(raw)
    for name in ("hardness", "value"):
        text = first(raw, name).strip()
        scale = next((one for one in SCALES if text.upper().endswith(one)), None)
        if scale and "unit" in raw:
            told |= {name: text[: -len(scale)].strip(), "unit": scale}
    return told


def _hold_to_scale(name: str, value: float, scale: str) -> None:
    """Refuse a number that its scale does not have."""
    limits = SCALES[scale]
    if not limits.low <= value <= limits.high:
        allowed = f"Allowed: {limits.low:g} to {limits.high:g}."
        raise FieldProblem(name, f"{value:g} {scale} cannot be. {allowed} {limits.advice}")


class FilesForm(ReadingForm):
    """Hardness between two files of a set."""

    low: Annotated[
        float | None,
        Ask("Hardest file that cuts nothing off", help="it skates", quantity="number", unit="HRC", range=HRC),
    ] = None
    high: Annotated[
        float | None, Ask("Softest file that bites", quantity="number", unit="HRC", range=HRC)
    ] = None
    instrument_id: Annotated[int | None, Ask("File set", dynamic=True)] = None

    @model_validator(mode="after")
    def in_order(self) -> FilesForm:
        """Refuse swapped files: the one that skates is the softer."""
        if self.low is None and self.high is None:
            raise FieldProblem("low", "Give at least one of the two files.")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise FieldProblem(
                "high", "A file that bites is harder than one that skates. Are the two swapped?"
            )
        return self


class OneFileForm(ReadingForm):
    """What one old file did."""

    result: Annotated[str, Ask("The file", choices=ONE_FILE)]
    instrument_id: Annotated[int | None, Ask("Which file", dynamic=True)] = None


class DepthForm(ReadingForm):
    """Case depth by eye."""

    how: Annotated[str, Ask("Seen", choices=HOW_SEEN)] = "break"
    value: Annotated[float, Ask("Depth of the case", quantity="length", range=SEEN_DEPTH)]


class TraverseForm(ReadingForm):
    """Hardness against depth on a cut section."""

    points: Annotated[
        str,
        Ask(
            "Depth and Vickers hardness",
            help="One point a line: depth, a space, HV. For example: 0.1 760",
            kind="notes",
            longest=4000,
        ),
    ]
    instrument_id: Annotated[int | None, Ask("Tester or lab", dynamic=True)] = None


class SparkForm(ReadingForm):
    """The spark stream of the skin."""

    high_carbon: Annotated[bool, Ask("Bushy sprigs of high carbon seen", kind="yesno")]


class SeenForm(ReadingForm):
    """Soft spots, chips or cracks: looked for, and found or not."""

    seen: Annotated[bool, Ask("Found any", help="none found is worth noting too", kind="yesno")]


class BendForm(ReadingForm):
    """What bending did."""

    result: Annotated[str, Ask("Bent in the vice", choices=BENDS)]
    angle_deg: Annotated[
        float | None, Ask("At what angle", quantity="number", unit="degrees", range=BEND_ANGLE)
    ] = None


class SizeForm(ReadingForm):
    """Size and bow of a part, and what came off each face."""

    when: Annotated[str, Ask("Measured", choices=WHEN_SIZED)]
    after: Annotated[str, Ask("Measured after", kind="hidden")] = "quench"
    size_m: Annotated[float | None, Ask("Size", quantity="length")] = None
    bow_m: Annotated[float | None, Ask("Bow", quantity="length", range=BOW)] = None
    off_a_m: Annotated[float | None, Ask("Came off one face", quantity="length", range=GROUND_OFF)] = None
    off_b_m: Annotated[float | None, Ask("Came off the other", quantity="length", range=GROUND_OFF)] = None

    @model_validator(mode="after")
    def something_sized(self) -> SizeForm:
        """Refuse an empty size: a slip of the finger."""
        if all(value is None for value in (self.size_m, self.bow_m, self.off_a_m, self.off_b_m)):
            raise FieldProblem("size_m", "Give the size, the bow, or what came off.")
        return self


class SetAsideForm(Form):
    """Why something is left out of what the forge is learnt from."""

    why: Annotated[str, Ask("Set aside because", help="a few words", longest=200)]


READING_FORMS: dict[str, type[ReadingForm]] = {
    "hardness": HardnessForm,
    "files": FilesForm,
    "one_file": OneFileForm,
    "depth": DepthForm,
    "traverse": TraverseForm,
    "spark": SparkForm,
    "soft_spots": SeenForm,
    "chips": SeenForm,
    "cracks": SeenForm,
    "bend": BendForm,
    "size": SizeForm,
}
