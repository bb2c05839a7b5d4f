"""What is asked about a bar in the rack: its grade, or what quick tests say of an unknown one."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from pydantic import model_validator

from model.ranges import CARBON_WT
from webapp.forms.kit import Ask, Choice, FieldProblem, Form
from webapp.forms.shop import Name, Note

MYSTERY_GRADE = "mystery"
CARBON = replace(CARBON_WT, unit="%")  # as a form of percent knows it

QUENCHED_SCRAP = (
    Choice("file skates", "The file skates", "glass hard"),
    Choice("file marks", "The file just marks"),
    Choice("file cuts", "The file still cuts"),
)
SPARKS = (
    Choice("few, long, plain lines", "Few, long, plain lines"),
    Choice("some bursts", "Some bursts"),
    Choice("many bushy bursts", "Many bushy bursts"),
)
MAGNET = (
    Choice("sticks", "Sticks"),
    Choice("weak", "Hardly pulls"),
    Choice("none", "Does not pull"),
)


BROKEN_SLIP = (
    Choice("snaps", "Snaps like glass"),
    Choice("bends, then breaks", "Bends a little, then breaks"),
    Choice("bends", "Bends double"),
)
FILE_AS_BOUGHT = (
    Choice("file bites", "The file bites"),
    Choice("file skates", "The file skates", "hardened, or cased, before"),
)
COATING = (
    Choice("bare", "Bare or black"),
    Choice("oily or painted", "Oily or painted"),
    Choice("zinc", "Zinc or plated", "bright, grey with flowers, or yellowish"),
)
TESTS: dict[str, tuple[Choice, ...]] = {
    "coating": COATING,
    "magnet": MAGNET,
    "file_as_bought": FILE_AS_BOUGHT,
    "sparks": SPARKS,
    "quenched_scrap": QUENCHED_SCRAP,
    "broken_slip": BROKEN_SLIP,
}


class BarForm(Form):
    """A bar in the rack."""

    name: Name
    grade: Annotated[
        str,
        Ask(
            "Grade", dynamic=True, help="As it was bought. Not sure? Pick the mystery bar and test it below."
        ),
    ]
    quenched_scrap: Annotated[
        str | None,
        Ask(
            "A scrap quenched in water",
            folded=True,
            choices=QUENCHED_SCRAP,
            help=(
                "Cut a thin slice (3 mm, 1/8 in), heat it till a magnet lets go and a little more, "
                "quench it in water, and try a good file on it. Eye protection: it may be glass hard."
            ),
        ),
    ] = None
    sparks: Annotated[
        str | None,
        Ask(
            "Sparks at the grinder",
            folded=True,
            choices=SPARKS,
            help="In dim light, beside a nail and an old file to compare.",
        ),
    ] = None
    magnet: Annotated[
        str | None,
        Ask(
            "A magnet",
            folded=True,
            choices=MAGNET,
            help="Stainless of the common kind hardly pulls: it takes no case in charcoal.",
        ),
    ] = None
    coating: Annotated[str | None, Ask("What its skin is", folded=True, choices=COATING)] = None
    file_as_bought: Annotated[
        str | None, Ask("A file on it as it came", folded=True, choices=FILE_AS_BOUGHT)
    ] = None
    broken_slip: Annotated[str | None, Ask("A quenched slip, bent", folded=True, choices=BROKEN_SLIP)] = None
    carbon_low_wt: Annotated[
        float | None,
        Ask(
            "Carbon at least",
            quantity="percent",
            range=CARBON,
            help="From a mill certificate; blank takes the grade's range or what the tests say.",
            folded=True,
        ),
    ] = None
    carbon_high_wt: Annotated[
        float | None, Ask("Carbon at most", quantity="percent", range=CARBON, folded=True)
    ] = None
    note: Note = ""

    @model_validator(mode="after")
    def _ends_are_in_order(self) -> BarForm:
        low, high = self.carbon_low_wt, self.carbon_high_wt
        if (low is None) != (high is None):
            missing = "carbon_low_wt" if low is None else "carbon_high_wt"
            raise FieldProblem(missing, "Give both ends, or leave both blank. They may be the same.")
        if low is not None and high is not None and low > high:
            raise FieldProblem("carbon_high_wt", "The most lies below the least. Swap the two.")
        return self


class TestAnswerForm(Form):
    """What one quick test of a bar showed; the choices are the test's own."""

    __test__ = False

    answer: Annotated[str, Ask("What do you see?", dynamic=True)]
