"""What is asked about whatever tells heat or hardness, and about its checks."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import model_validator

from model.ranges import Range
from webapp.forms.kit import Ask, Choice, FieldProblem, Form
from webapp.forms.shop import Name, Note

HEAT_SPREAD = Range(1.0, 80.0, "C", "Half of the range in which two readings in three fall.")
OVEN_SPREAD = Range(1.0, 60.0, "C", "Half of the range in which two readings in three fall.")
HARDNESS_SPREAD = Range(0.1, 10.0, "", "Half of the range in which two readings in three fall.")
CHECK_HEAT = Range(-20.0, 1400.0, "C", "Give both temperatures as they were read.")
CHECK_HARDNESS = Range(15.0, 70.0, "", "Give Rockwell C, as stamped on the block and as read.")
FILE_STEPS = Range(20.0, 70.0, "", "Hardness files are usually marked 40 to 65 HRC.")
MOST_FILES = 12
GIVE_OR_TAKE = "Two times in three the truth is this near. What stands here is usual for this way."

HEAT_WAYS = (
    Choice("colour", "By colour, in dim light"),
    Choice("thermocouple", "Thermocouple"),
    Choice("pyrometer", "Infrared or optical pyrometer"),
    Choice("cone", "Potter's cones"),
    Choice("crayon", "Temperature crayons"),
    Choice("magnet", "Magnet, then by eye"),
)
TESTER_WAYS = (
    Choice("rockwell", "Rockwell tester"),
    Choice("file_set", "Set of hardness files"),
    Choice("one_file", "One old file"),
    Choice("vickers", "Vickers tester"),
    Choice("lab", "Sent to a lab"),
)
HEAT_CHECKS = (
    Choice("ice", "Melting ice, 0 °C (32 °F)"),
    Choice("boiling water", "Boiling water, 100 °C (212 °F) at sea level"),
    Choice("a known melt", "A known melt (tin 232 °C or 450 °F, aluminium 660 °C or 1220 °F)"),
    Choice("magnet point", "Iron lets go of a magnet, 770 °C (1418 °F)"),
    Choice("oven thermometer", "Oven thermometer"),
    Choice("better thermocouple", "Another, better thermometer"),
)
HARDNESS_CHECKS = (
    Choice("test block", "Test block"),
    Choice("known piece", "A piece measured elsewhere"),
)


class HeatForm(Form):
    """A way of knowing the heat of the forge."""

    name: Name
    method: Annotated[str, Ask("How the heat is known", choices=HEAT_WAYS)]
    spread: Annotated[
        float | None,
        Ask(
            "Give or take",
            quantity="temperature difference",
            range=HEAT_SPREAD,
            help=GIVE_OR_TAKE + " Blank takes the usual one.",
            folded=True,
        ),
    ] = None
    note: Note = ""


class TesterForm(Form):
    """A way of telling hardness."""

    name: Name
    method: Annotated[str, Ask("What it is", choices=TESTER_WAYS)]
    files_HRC: Annotated[
        str,
        Ask(
            "Hardness of the files",
            help="For a set: 40 45 50 55 60 65. For one old file: about 65.",
            longest=80,
        ),
    ] = ""
    spread: Annotated[
        float | None,
        Ask(
            "Give or take",
            quantity="number",
            unit="HRC",
            range=HARDNESS_SPREAD,
            help=GIVE_OR_TAKE + " Blank takes the usual one.",
            folded=True,
        ),
    ] = None
    note: Note = ""

    @model_validator(mode="after")
    def _files_are_numbers(self) -> TesterForm:
        values = self.file_values()
        if self.method == "file_set" and len(values) < 2:
            raise FieldProblem(
                "files_HRC", "A set has two files or more: type their hardness, as in 40 50 60."
            )
        if self.method == "one_file" and len(values) > 1:
            raise FieldProblem("files_HRC", "One file has one hardness. Pick the set, or type one number.")
        return self

    def file_values(self) -> tuple[float, ...]:
        """Return the hardness of each file [HRC], softest first."""
        # a comma may part the list or be a decimal; file hardness is whole numbers, so it parts
        words = self.files_HRC.replace(",", " ").replace(";", " ").replace("HRC", " ").split()
        if len(words) > MOST_FILES:
            raise FieldProblem(
                "files_HRC", f"These are {len(words)} numbers; a set has {MOST_FILES} at most."
            )
        return tuple(sorted({_file_hardness(word) for word in words}))


def _file_hardness(word: str) -> float:
    problem = FieldProblem(
        "files_HRC", f"'{word[:12]}' is not a file's hardness. Type numbers from 20 to 70, as in 40 45 50."
    )
    if not word.isascii() or not word.replace(".", "", 1).isdigit():
        raise problem
    value = float(word)
    if not FILE_STEPS.low <= value <= FILE_STEPS.high:
        raise problem
    return value


class OvenForm(Form):
    """A tempering oven."""

    name: Name
    spread: Annotated[
        float | None,
        Ask(
            "Give or take",
            quantity="temperature difference",
            range=OVEN_SPREAD,
            help=GIVE_OR_TAKE + " Blank takes the usual one.",
        ),
    ] = None
    note: Note = ""


class HeatCheckForm(Form):
    """A check of a thermometer or an oven against something known."""

    checked_on: Annotated[date, Ask("Day")]
    against: Annotated[str, Ask("Against", choices=HEAT_CHECKS)]
    known: Annotated[float, Ask("It should read", quantity="temperature", range=CHECK_HEAT)]
    reading: Annotated[float, Ask("It read", quantity="temperature", range=CHECK_HEAT)]
    note: Note = ""


class HardnessCheckForm(Form):
    """A check of a tester or a file against something of known hardness."""

    checked_on: Annotated[date, Ask("Day")]
    against: Annotated[str, Ask("Against", choices=HARDNESS_CHECKS)]
    known: Annotated[float, Ask("Its true hardness", quantity="number", unit="HRC", range=CHECK_HARDNESS)]
    reading: Annotated[float, Ask("It read", quantity="number", unit="HRC", range=CHECK_HARDNESS)]
    note: Note = ""
