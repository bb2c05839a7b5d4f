"""What is stirred into the charcoal: how much carbonate it amounts to, and what must never go in."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from model.diffusivity import GAS_CONSTANT
from model.errors import NotPossible
from model.ranges import Range, check
from model.tables import read_table

# IUPAC standard atomic weights, abridged [g/mol] (value from memory).
ATOMIC_WEIGHTS = {"H": 1.008, "C": 12.011, "O": 15.999, "Na": 22.990, "Ca": 40.078, "Ba": 137.327}

ATMOSPHERE_Pa = 101325.0
SUBSTANCE_PERCENT = Range(
    0.0, 90.0, "%", "Count the substance by weight of the whole mix; 10 to 20 % of carbonate is plenty."
)

_BARIUM = re.compile(r"barium|witherit|baryt|barite|\bba\s*co\s*3|\bbao\b|\bba\s*\(?\s*oh")
_CYANIDE = re.compile(
    r"cyan[io]|prussiat|prussian|\b(?:na|k)\s*cn\b|\bk\s*[34]\s*\[?\s*fe\b|zyan|blutlaugensalz|cianur|prusiat"
)
_LAUNDRY = re.compile(r"laundry|detergent|washing[ -]?powder|soap|bleach|borax|perborate")

BARIUM_STOP = (
    "Stop: barium compounds are poisonous when swallowed, about a gram can kill, and the dust and the spent "
    "pack keep the poison. No plan is made for a pack with barium in it. Use soda ash or chalk."
)
CYANIDE_STOP = (
    "Stop: cyanides, and prussiates once they are hot or meet acid, give poisons that kill in minutes. "
    "No plan is made for a pack with any of them in it. Use soda ash or chalk."
)


@dataclass(frozen=True)
class Substance:
    """Something stirred in: its name, the carbonate it leaves, that carbonate's share of it, and a note."""

    name: str
    carbonate: str
    carbonate_share: float
    note: str


def molar_mass(formula: str) -> float:
    """Return the molar mass [g/mol] of a formula without brackets, as `Na2CO3`; Raises: KeyError."""
    parts = re.findall(r"([A-Z][a-z]?)([0-9]*)", formula)
    return sum(ATOMIC_WEIGHTS[element] * int(count or 1) for element, count in parts)


def _substance_of_row(row: dict[str, str]) -> Substance:
    share = 0.0
    if row["formula"]:
        weighed = int(row["units"]) * molar_mass(row["formula"])
        share = float(row["purity"]) * molar_mass(row["carbonate"]) / weighed
    return Substance(row["substance"], row["carbonate"], share, row["note"])


@cache
def substances() -> tuple[Substance, ...]:
    """Return what may be stirred in, in the table's order."""
    return tuple(_substance_of_row(row) for row in read_table("substances.csv"))


def safety_stop(text: str) -> str | None:
    """Return why a typed substance must not be used at all, None if nothing in its name says so.

    Parameters: text : any name or note, any capitals; `BaCO3`, `witherite`, `yellow prussiate`, `NaCN`.
    Returns: a reason fit to show, or None. It reads names; it cannot know what is in a bag.
    Source: toxicity of soluble barium and of cyanides (memory; safety notes of the design).
    """
    plain = unicodedata.normalize("NFKC", text).casefold()
    if _BARIUM.search(plain):
        return BARIUM_STOP
    return CYANIDE_STOP if _CYANIDE.search(plain) else None


def substance_of(name: str, path: str = "mix.substance") -> Substance:
    """Return a substance of the table by its name.

    Parameters: name : as in the table, capitals do not matter. path : the field's name for the error.
    Raises: NotPossible for poisons (with the stop's words), laundry powder, and names not in the table.
    """
    stop = safety_stop(name)
    if stop:
        raise NotPossible(path, f"'{name[:30]}' is not used here", stop)
    plain = " ".join(name.casefold().split())
    for substance in substances():
        if substance.name == plain:
            return substance
    if _LAUNDRY.search(plain):
        raise NotPossible(
            path,
            f"'{name[:30]}' is not soda: it is soap, bleach, sulphates and scent with some soda among them",
            "The rest fumes, and brings sulphur and borates to the steel. Use soda ash or washing soda.",
        )
    known = ", ".join(substance.name for substance in substances())
    raise NotPossible(path, f"'{name[:30]}' is not a substance known here", f"Known are {known}.")


def carbonate_percent_of(substance: str, substance_percent: float) -> float:
    """Return the carbonate that a substance amounts to.

    Parameters: substance : a name of the table; substance_percent : its weight in the mix [%], 0 to 90.
    Returns: carbonate [% by weight], against the same weight of mix as it was weighed out.
    Raises: NotPossible for a substance that is refused or unknown; OutOfRange for the percent.
    Source: molar masses (exact); shell taken as 95 % carbonate (memory).
    """
    share = substance_of(substance).carbonate_share
    return share * check("mix.substance_percent", substance_percent, SUBSTANCE_PERCENT)


def gas_litres_per_100_g(carbonate: str, temperature_K: float = 1198.15) -> float:
    """Return the gas that 100 g of a carbonate can make with charcoal: CO3 -> CO2 -> 2 CO, at 1 atm.

    Parameters: carbonate : formula with one CO3, as `CaCO3`; temperature_K : [K], 925 C if not given.
    Returns: volume [L], ideal gas, as hot as the box. It must find a way out: a box needs a vent.
    Source: stoichiometry (exact).
    """
    moles = 2.0 * 100.0 / molar_mass(carbonate)
    return 1000.0 * moles * GAS_CONSTANT * temperature_K / ATMOSPHERE_Pa
