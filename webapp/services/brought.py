"""The tables that were brought in, as their page lists them; what a table may be headed with."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from webapp.forms.ask import Units
from webapp.services.bring_in_look import Looked, headings_of
from webapp.services.old_columns import OWN_LINE, Headings
from webapp.services.sheet_text import MOST_BYTES, MOST_ROWS
from webapp.services.showing import Showing, plural
from webapp.services.table_text import shielded, table_text
from webapp.store.tables import BroughtIn

LISTED = 20
TEMPLATE_UNITS = ("temperature_K", "reheat_K", "temper_K", "size_m", "depth_m")
REASON = "reason"


@dataclass(frozen=True)
class BroughtView:
    """One table that was brought in."""

    id: int
    version: int
    file_name: str
    what: str
    day: str
    is_out: bool


@dataclass(frozen=True)
class BringInStart:
    """The page where a table is sent."""

    brought: tuple[BroughtView, ...]
    known: tuple[str, ...]
    refused: str = ""
    most: str = f"{MOST_BYTES // 1024**2} MB and {MOST_ROWS:,} rows"


def view_start(session: Session, showing: Showing, refused: str = "") -> BringInStart:
    """Return the page where a table is sent, with those that were brought in, newest first."""
    rows = session.exec(select(BroughtIn).order_by(col(BroughtIn.id).desc()).limit(LISTED))
    return BringInStart(
        tuple(
            BroughtView(
                row.id or 0,
                row.version,
                row.file_name,
                plural(len(row.batch_ids), "batch", "batches"),
                showing.day(row.created_at),
                row.deleted_at is not None,
            )
            for row in rows
        ),
        tuple(headings_of(session).labels.values()),
        refused,
    )


def template_csv(session: Session, units: Units) -> str:
    """Return an empty table with every heading that is understood, in the shop's units."""
    known = headings_of(session)
    return table_text([_with_unit(field, known, units) for field in known.labels], ())


def _with_unit(field: str, known: Headings, units: Units) -> str:
    label = known.labels[field]
    if field in known.own:
        unit = known.own[field].unit
        named = f"{OWN_LINE}{label}" if known.words[label.casefold()] != field else label
        return f"{named} ({unit})" if unit else named
    if field not in TEMPLATE_UNITS:
        return label
    shop: Mapping[bool, str] = {True: units.temperature, False: units.length}
    return f"{label} ({shop[field.endswith('_K')]})"


def refused_csv(looked: Looked) -> str:
    """Return the rows that cannot be kept, each with its reasons, to put right and send again."""
    reasons: dict[int, list[str]] = {}
    for problem in looked.problems:
        heading = f"{problem.heading}: " if problem.heading else ""
        reasons.setdefault(problem.row, []).append(heading + problem.words)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    headings: Sequence[str] = [*(shielded(text) for text in looked.sheet.headings), REASON]
    writer.writerow(headings)
    for row in looked.sheet.rows:
        if row.number in reasons:
            cells = [*row.cells, " / ".join(reasons[row.number])]
            writer.writerow([shielded(cell) for cell in cells])
    return out.getvalue()
