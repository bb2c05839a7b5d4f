"""Steels: compositions of standard grades as ranges, unknown bar, and critical temperatures.

Critical temperatures are in degrees Celsius and compositions in wt%, as in the published formulas.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from model.errors import NotPossible
from model.ranges import CARBON_WT, ELEMENT_WT, check
from model.tables import read_table

Array = NDArray[np.float64]
QuenchedScrap = Literal["file skates", "file marks", "file cuts"]
Sparks = Literal["few, long, plain lines", "some bursts", "many bushy bursts"]
BrokenSlip = Literal["snaps", "bends, then breaks", "bends"]
FileAsBought = Literal["file skates"]

MYSTERY = "mystery bar"
STATED = "stated composition"


@dataclass(frozen=True)
class Composition:
    """Composition of a steel [wt%]; an element that is not given is 0."""

    C: float = 0.0
    Si: float = 0.0
    Mn: float = 0.0
    P: float = 0.0
    S: float = 0.0
    Cr: float = 0.0
    Ni: float = 0.0
    Mo: float = 0.0
    Cu: float = 0.0
    V: float = 0.0
    N: float = 0.0
    Al: float = 0.0


ELEMENTS = tuple(field.name for field in fields(Composition))


@dataclass(frozen=True)
class Steel:
    """A steel: its composition at mid-range, and the range its own carbon lies in [wt%]."""

    name: str
    composition: Composition
    carbon_low_wt: float
    carbon_high_wt: float

    @property
    def kind(self) -> Literal["grade", "composition", "mystery"]:
        """How much of its composition is known: a grade's ranges, an analysis, or next to nothing."""
        if self.name == STATED:
            return "composition"
        return "mystery" if self.name == MYSTERY else "grade"


@dataclass(frozen=True)
class GradeRow:
    """A grade as a picker shows it."""

    grade: str
    standard: str
    description: str


def _key(grade: str) -> str:
    """Return a grade without its spaces, dashes and capitals."""
    return "".join(character for character in grade.casefold() if character.isalnum())


@cache
def _ranges_of(grade: str) -> dict[str, tuple[float, float]]:
    """Return low and high [wt%] by element of a grade of the table."""
    return {
        row["element"]: (float(row["low_wt"]), float(row["high_wt"]))
        for row in read_table("steel_ranges.csv")
        if row["grade"] == grade
    }


def _steel_of_row(grade: str) -> Steel:
    ranges = _ranges_of(grade)
    middle = {element: round((low + high) / 2.0, 5) for element, (low, high) in ranges.items()}
    return Steel(grade, Composition(**middle), *ranges["C"])


@cache
def steel_grades() -> tuple[GradeRow, ...]:
    """Return the grades of the table, in the table's order."""
    rows = read_table("steels.csv")
    return tuple(GradeRow(row["grade"], row["standard"], row["description"]) for row in rows)


def steel_of_grade(grade: str) -> Steel:
    """Return a standard grade at the middle of its ranges.

    Parameters: grade : `1018`, `16MnCr5`; capitals, spaces and dashes do not matter.
    Returns: the steel, with its stated carbon range [wt%]; where the standard gives a cap only, the low end
    and the usual high are the assumptions stated in `data/steel_ranges.csv`.
    Raises: NotPossible for a grade that is not in the table.
    Source: `data/steels.csv`, standards named there (from memory).
    """
    wanted = _key(grade)
    for row in steel_grades():
        if _key(row.grade) == wanted:
            return _steel_of_row(row.grade)
    known = ", ".join(row.grade for row in steel_grades())
    raise NotPossible(
        "steel.grade",
        f"'{grade[:30]}' is not a grade known here",
        f"Known are {known}; or give the composition.",
    )


def steel_of_composition(composition_wt: dict[str, float], path: str = "steel.composition_wt") -> Steel:
    """Return a steel of a stated composition.

    Parameters: composition_wt : wt% by element symbol, each in `ranges.ELEMENT_WT`; elements not given are 0.
    path : the field's name for the error.
    Returns: the steel; its carbon is taken as exactly what was stated.
    Raises: NotPossible for an element that is not used here; OutOfRange for an amount.
    """
    for element, amount in composition_wt.items():
        if element not in ELEMENTS:
            advice = f"Use {', '.join(ELEMENTS)}, in wt%."
            raise NotPossible(f"{path}.{element[:20]}", "this element is not used here", advice)
        check(f"{path}.{element}", amount, ELEMENT_WT[element])
    composition = Composition(**composition_wt)
    return Steel(STATED, composition, composition.C, composition.C)


def mystery_steel(carbon_low_wt: float, carbon_high_wt: float) -> Steel:
    """Return unknown bar whose carbon lies in a range, the rest as usual in mild bar.

    Parameters: carbon_low_wt, carbon_high_wt : ends of the range [wt%], 0 to 2.
    Returns: the steel, carbon at mid-range.
    Raises: OutOfRange for an end; NotPossible if the ends are the wrong way round.
    Source: `data/steel_ranges.csv`, rows "mystery bar" (common practice, no source).
    """
    low = check("steel.carbon_low_wt", carbon_low_wt, CARBON_WT)
    high = check("steel.carbon_high_wt", carbon_high_wt, CARBON_WT)
    if low > high:
        raise NotPossible("steel.carbon_low_wt", "the low end lies above the high end", "Swap the two.")
    middle = {element: round((a + b) / 2.0, 5) for element, (a, b) in _ranges_of(MYSTERY).items()}
    middle["C"] = (low + high) / 2.0
    return Steel(MYSTERY, Composition(**middle), low, high)


def screened_carbon(
    quenched_scrap: QuenchedScrap | None,
    sparks: Sparks | None,
    broken_slip: BrokenSlip | None = None,
    file_as_bought: FileAsBought | None = None,
) -> tuple[float, float, str]:
    """Return what quick tests say of an unknown bar's carbon.

    Parameters: quenched_scrap : what a file does on a thin scrap quenched hot in water, None if not tried;
    sparks : what the grinder shows, None if not tried; broken_slip : how a thin slip so quenched gives way,
    None if not tried; file_as_bought : that a file skates on the bar as it came (a bite tells nothing).
    Returns: low and high [wt%], and the reason in words. Tests that agree narrow the range to what both
    allow; tests that contradict each other widen it to what either allows.
    Raises: NotPossible for a finding that is not in the table.
    Source: `data/screening.csv` (common practice, no source).
    """
    tried = [
        ("quenched_scrap", quenched_scrap),
        ("sparks", sparks),
        ("broken_slip", broken_slip),
        ("file_as_bought", file_as_bought),
    ]
    found = [_screening_row(test, finding) for test, finding in tried if finding is not None]
    if not found:
        low, high = _ranges_of(MYSTERY)["C"]
        return low, high, "no test was made, so the bar may be anything from soft to medium carbon"
    reason = "; ".join(row["reason"] for row in found)
    lows, highs = [float(row["low_wt"]) for row in found], [float(row["high_wt"]) for row in found]
    if max(lows) <= min(highs):
        return max(lows), min(highs), reason
    return min(lows), max(highs), f"{reason}; these do not agree, so try them again"


def _screening_row(test: str, finding: str) -> dict[str, str]:
    rows = {row["finding"]: row for row in read_table("screening.csv") if row["test"] == test}
    if finding not in rows:
        raise NotPossible(test, f"'{finding[:30]}' is not a finding of this test", f"Use {', '.join(rows)}.")
    return rows[finding]


def ac1_andrews_1965(composition: Composition) -> float:
    """Return the temperature at which austenite begins to form on heating, Ac1.

    Parameters: composition : [wt%], stated for C below 0.6. Carbon itself has no term.
    Returns: Ac1 [C].
    Source: Andrews, JISI 203 (1965) 721 (seen quoted; its As and W terms left out).
    """
    c = composition
    return 723.0 - 10.7 * c.Mn - 16.9 * c.Ni + 29.1 * c.Si + 16.9 * c.Cr


def ac3_andrews_1965(carbon_wt: Array, composition: Composition, long_form: bool = False) -> Array:
    """Return the temperature at which the last ferrite goes on heating, Ac3.

    Parameters: carbon_wt : any shape [wt%], stated for below 0.6; composition : the rest [wt%];
    long_form : with the terms for Mn, Cr, Cu, P and Al.
    Returns: Ac3 [C], shape of carbon_wt.
    Source: Andrews, JISI 203 (1965) 721 (short form seen quoted; the long form's signs from memory: one
    quotation seen has Cr, Cu and P the other way round).
    """
    c = composition
    short = 910.0 - 203.0 * np.sqrt(carbon_wt) - 15.2 * c.Ni + 44.7 * c.Si + 104.0 * c.V + 31.5 * c.Mo
    if not long_form:
        return np.asarray(short)
    return np.asarray(short - 30.0 * c.Mn - 11.0 * c.Cr - 20.0 * c.Cu + 700.0 * c.P + 400.0 * c.Al)


def ms_andrews_1965_linear(carbon_wt: Array, composition: Composition) -> Array:
    """Return the martensite start, Andrews' linear form; for cores, not for the case.

    Parameters: carbon_wt : any shape [wt%], below 0.6; composition : the rest [wt%].
    Returns: Ms [C], shape of carbon_wt.
    Source: Andrews, JISI 203 (1965) 721 (value from memory).
    """
    c = composition
    return np.asarray(539.0 - 423.0 * carbon_wt - 30.4 * c.Mn - 17.7 * c.Ni - 12.1 * c.Cr - 7.5 * c.Mo)


def ms_steven_haynes_1956(carbon_wt: Array, composition: Composition) -> Array:
    """Return the martensite start after Steven and Haynes.

    Parameters: carbon_wt : any shape [wt%], 0.1 to 0.55; composition : the rest [wt%].
    Returns: Ms [C], shape of carbon_wt.
    Source: Steven and Haynes, JISI 183 (1956) 349 (value from memory).
    """
    c = composition
    return np.asarray(561.0 - 474.0 * carbon_wt - 33.0 * c.Mn - 17.0 * c.Cr - 17.0 * c.Ni - 21.0 * c.Mo)


def bs_steven_haynes_1956(carbon_wt: Array, composition: Composition) -> Array:
    """Return the bainite start after Steven and Haynes.

    Parameters: carbon_wt : any shape [wt%], 0.1 to 0.55; composition : the rest [wt%].
    Returns: Bs [C], shape of carbon_wt.
    Source: Steven and Haynes, JISI 183 (1956) 349 (value from memory).
    """
    c = composition
    return np.asarray(830.0 - 270.0 * carbon_wt - 90.0 * c.Mn - 37.0 * c.Ni - 70.0 * c.Cr - 83.0 * c.Mo)


def ms_barbier_2014(carbon_wt: Array, composition: Composition) -> Array:
    """Return the martensite start after Barbier; bends with carbon, so that it holds in the case.

    Parameters: carbon_wt : any shape [wt%], to about 1.5; composition : the rest [wt%].
    Returns: Ms [C], shape of carbon_wt.
    Source: Barbier, Adv. Eng. Mater. 16 (2014) 122 (value from memory).
    """
    c = composition
    alloy = -34.4 * c.Mn - 13.7 * c.Si - 9.2 * c.Cr - 17.3 * c.Ni - 15.4 * c.Mo + 10.8 * c.V
    return np.asarray(545.0 - 601.2 * (1.0 - np.exp(-0.868 * carbon_wt)) + alloy)


def ms_van_bohemen_2012(carbon_wt: Array, composition: Composition) -> Array:
    """Return the martensite start after van Bohemen.

    Parameters: carbon_wt : any shape [wt%], 0.1 to 1.9; composition : the rest [wt%].
    Returns: Ms [C], shape of carbon_wt.
    Source: van Bohemen, Mater. Sci. Technol. 28 (2012) 487 (value from memory).
    """
    c = composition
    alloy = -31.0 * c.Mn - 13.0 * c.Si - 10.0 * c.Cr - 18.0 * c.Ni - 12.0 * c.Mo
    return np.asarray(565.0 - 600.0 * (1.0 - np.exp(-0.96 * carbon_wt)) + alloy)


def koistinen_rate_van_bohemen_2012(carbon_wt: Array, composition: Composition) -> Array:
    """Return the rate at which martensite forms below Ms, the exponent of Koistinen and Marburger.

    Parameters: carbon_wt : any shape [wt%], 0.1 to 1.9; composition : the rest [wt%].
    Returns: rate [1/K], shape of carbon_wt; to be used with `ms_van_bohemen_2012`.
    Source: van Bohemen, Mater. Sci. Technol. 28 (2012) 487 (value from memory).
    """
    c = composition
    alloy = -14e-5 * c.Mn - 21e-5 * c.Si - 11e-5 * c.Cr - 8e-5 * c.Ni - 5e-5 * c.Mo
    return np.asarray(0.0272 - 0.0198 * (1.0 - np.exp(-1.56 * carbon_wt)) + alloy)
