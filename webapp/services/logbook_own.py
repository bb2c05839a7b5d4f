"""The shop's own lines as filters of the logbook: what is noted to each, to pick from."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from sqlalchemy import String, cast, func
from sqlmodel import Session, col, select

from webapp.forms.ask import Choice
from webapp.forms.own_lines import YES_NO, YES_OR_NO
from webapp.services.batch_rows import kept, row_id
from webapp.services.choices import PickView
from webapp.store.tables import Batch, Item, OwnLine

MOST_OFFERED = 40
"""Answers of one line in its list; words that are never twice the same are found by the search."""
BEARERS: dict[str, type[Batch] | type[Item]] = {"batch": Batch, "piece": Item}


def own_picks(session: Session, asked: Collection[tuple[int, str]]) -> tuple[PickView, ...]:
    """Return a list to pick from for each line of batches and pieces that has answers."""
    lines = [line for line in kept(session, OwnLine) if line.about in BEARERS]
    picked = dict(asked)
    noted = _noted(session, lines)
    picks = []
    for line in lines:
        number = row_id(line)
        choices = _choices(line, [*noted.get(number, ()), *([picked[number]] if number in picked else [])])
        if choices:
            here = f"{number}:{picked[number]}" if number in picked else ""
            picks.append(PickView(f"own-{number}", line.label, choices, here))
    return tuple(picks)


def _choices(line: OwnLine, noted: Iterable[str]) -> tuple[Choice, ...]:
    listed = YES_OR_NO if line.kind == YES_NO else line.choices
    answers = [*listed, *sorted(set(noted) - set(listed), key=_place)]
    unit = f" {line.unit}" if line.unit else ""
    return tuple(
        Choice(f"{line.id}:{one}", f"{one.removesuffix('.0') if unit else one}{unit}") for one in answers
    )


def _place(answer: str) -> tuple[float, str]:
    """Return where an answer stands in its list: numbers by size, then words by their letters."""
    try:
        return float(answer), ""
    except ValueError:
        return float("inf"), answer.casefold()


def _noted(session: Session, lines: Iterable[OwnLine]) -> dict[int, list[str]]:
    """Return the answers that are noted most often, by line; those of a list are known without."""
    noted: dict[int, list[str]] = {}
    for about in {line.about for line in lines if line.kind not in (YES_NO, "choice")}:
        kind = BEARERS[about]
        said = func.json_each(col(kind.own_lines)).table_valued("key", "value")
        words = cast(said.c.value, String)
        query = (
            select(cast(said.c.key, String), words)
            .select_from(kind)
            .join(said, col(kind.id).is_not(None))
            .where(col(kind.deleted_at).is_(None), cast(col(kind.own_lines), String) != "{}")
            .group_by(said.c.key, words)
            .order_by(func.count().desc())
        )
        for key, answer in session.execute(query):
            found = noted.setdefault(int(key), [])
            if len(found) < MOST_OFFERED:
                found.append(answer)
    return noted
