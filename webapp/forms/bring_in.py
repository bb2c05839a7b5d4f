"""How a table that is brought in is to be read, as its page asks and its address keeps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, cast
from urllib.parse import urlencode

LONGEST = 200
MOST_ASKED = 400
ORDERS = (("day", "the day first: 31/3/2025"), ("month", "the month first: 3/31/2025"))
SURE = (("about", "about right"), ("sure", "sure, noted at the time"))


@dataclass(frozen=True)
class BringInAsked:
    """What was picked; empty is for the page to find out.

    columns : field by the place of its column; usual : value by field, for rows that do not say;
    meant : value by field and word of the file
    """

    file_name: str = ""
    order: str = ""
    sure: Literal["about", "sure"] = "about"
    columns: Mapping[int, str] = field(default_factory=dict)
    usual: Mapping[str, str] = field(default_factory=dict)
    meant: Mapping[tuple[str, str], str] = field(default_factory=dict)


def asked_of(pairs: Iterable[tuple[str, str]]) -> BringInAsked:
    """Return what an address asks; what makes no sense in it is left out."""
    told = {name[:LONGEST]: value[:LONGEST] for name, value in list(pairs)[:MOST_ASKED]}
    columns = {
        int(n[2:]): v for n, v in told.items() if n.startswith("c.") and n[2:4].isascii() and n[2:].isdigit()
    }
    meant = {}
    for name, value in told.items():
        of, _, word = name.removeprefix("m.").partition(".")
        if name.startswith("m.") and word and value:
            meant[of, word] = value
    return BringInAsked(
        file_name=told.get("file", ""),
        order=told.get("order", "") if told.get("order") in dict(ORDERS) else "",
        sure=cast(Literal["about", "sure"], told["sure"]) if told.get("sure") in dict(SURE) else "about",
        columns=columns,
        usual={n[2:]: v for n, v in told.items() if n.startswith("u.") and v},
        meant=meant,
    )


def query_of(asked: BringInAsked) -> str:
    """Return what is asked as an address keeps it."""
    pairs = {"file": asked.file_name, "order": asked.order, "sure": asked.sure}
    pairs |= {f"c.{place}": name for place, name in asked.columns.items()}
    pairs |= {f"u.{name}": value for name, value in asked.usual.items()}
    pairs |= {f"m.{name}.{word}": value for (name, word), value in asked.meant.items()}
    return urlencode(pairs)
