"""Changes of a shop that have a day: from then on what was learnt of the things they touch counts less.

A change loosens a constant: new = keeps * old + a step of its own, so that what the coupons before it
taught is still worth something, and the coupons after it may say otherwise. What a change does not touch
stays as sure as it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final

from model.tables import read_table

Term = tuple[str, int, float]
"""A coordinate, the local input that it reaches, and by how much."""

LINK: Final = "change"
MOST_KEPT: Final = 256  # changes of one shop that are asked for again and again


@dataclass(frozen=True)
class Loosened:
    """One constant loosened by one dated change.

    change : the logbook's own key of the change
    constant : `temperature_bias`, `lag/shop`, `lag/box`, `ln_transfer/mix`, `bath`, `oven` or `tester`
    thing : the logbook's own number of the thing, "" for every thing of that constant
    keeps : how much of the old value goes on, 0 to 1
    width : sd of the step, in the constant's own unit (ln for factors), 0 or more; None for what makes the
        new value as wide as the books have it
    """

    change: str
    constant: str
    thing: str
    keeps: float = 1.0
    width: float | None = 0.0

    @property
    def coordinate(self) -> str:
        """Name of the step's own coordinate."""
        return f"{LINK}/{self.change}|{self.constant}"

    def touches(self, name: str) -> bool:
        """Tell whether a coordinate, such as `temperature_bias/thermocouple:3`, is what it loosens."""
        kind, _, number = name.replace("/", ":").rpartition(":")
        constant = self.constant.replace("/", ":")
        is_constant = name == self.constant or kind == constant or kind.startswith(f"{constant}:")
        return is_constant and self.thing in ("", number)


@dataclass(frozen=True)
class Touch:
    """One row of the table: a constant that a kind of change touches, and by how much.

    of : `thing` where it touches the thing changed alone, `all` for every thing of that constant
    """

    kind: str
    constant: str
    of: str
    keeps: float
    width: float | None
    unit: str
    source: str
    reason: str


@cache
def touches_of() -> dict[str, tuple[Touch, ...]]:
    """Return what each kind of change touches, by kind."""
    rows = [
        Touch(
            kind=row["kind"],
            constant=row["constant"],
            of=row["of"],
            keeps=float(row["keeps"]),
            width=float(row["width"]) if row["width"] else None,
            unit=row["unit"],
            source=row["source"],
            reason=row["reason"],
        )
        for row in read_table("dated_changes.csv")
    ]
    return {
        kind: tuple(row for row in rows if row.kind == kind) for kind in dict.fromkeys(r.kind for r in rows)
    }


@lru_cache(maxsize=MOST_KEPT)
def loosened_by(change: str, kind: str, thing: str) -> tuple[Loosened, ...]:
    """Return the constants that a change loosens.

    change : its key; kind : a kind of the table, KeyError for another; thing : number of what was changed
    """
    return tuple(
        Loosened(change, row.constant, thing if row.of == "thing" else "", row.keeps, row.width)
        for row in touches_of()[kind]
    )


def since(terms: tuple[Term, ...], loosened: tuple[Loosened, ...]) -> tuple[Term, ...]:
    """Return the terms of a process as they are after some changes, given in the order of their days.

    terms : as the books have them; loosened : those that came before the process
    Returns the same terms where nothing touches them; else each with its steps.
    """
    if not loosened:
        return terms
    return tuple(one for term in terms for one in _since(term, loosened))


def _since(term: Term, loosened: tuple[Loosened, ...]) -> list[Term]:
    name, row, books_sd = term
    chain = [term]
    for one in loosened:
        if not one.touches(name):
            continue
        width = books_sd * (1.0 - one.keeps**2) ** 0.5 if one.width is None else one.width
        chain = [(old, at, sd * one.keeps) for old, at, sd in chain if one.keeps > 0.0]
        chain += [(one.coordinate, row, width)] if width > 0.0 else []
    return chain
