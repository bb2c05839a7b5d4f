"""What case is left on each face of a piece that was ground, by what came off and what is forecast."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from model.conversion import rockwell_c_continued
from model.errors import ModelError
from model.forecast import Forecast, forecast
from model.planner import Goal
from webapp.forms.numbers import amount
from webapp.forms.parts import DEFINITIONS
from webapp.services.batch_rows import BatchRows, get_row, load_batch, row_id
from webapp.services.fitting import current_belief
from webapp.services.plan_face import at_depths
from webapp.services.plan_rows import goal_of
from webapp.services.plan_sums import BY_CARBON, case_of
from webapp.services.processes import NotYet, process_of_item
from webapp.services.showing import Showing
from webapp.services.whole_book import by_id
from webapp.services.words import label_of, length_text, range_text
from webapp.store.tables import Bar, Bath, Item, Part

Array = NDArray[np.float64]

DRAWS = 100
RIM = Goal("rim", 0.0, 0.0)
BAND = (0.05, 0.5, 0.95)
FACES = (("off_a_m", "One face"), ("off_b_m", "The other face"))


@dataclass(frozen=True)
class FaceView:
    """One ground face in words."""

    face: str
    off: str
    left: str
    band: str
    skin: str


@dataclass(frozen=True)
class CaseLeftView:
    """The faces of a ground piece; `why_not` says what is missing where nothing can be said."""

    item_href: str
    counted: str
    faces: tuple[FaceView, ...]
    why_not: str = ""


def ground_off(rows: BatchRows, item: Item) -> dict[str, float]:
    """Return what came off the faces of a piece by its newest size reading after grinding [m]."""
    sizes = [row for row in rows.readings.get(row_id(item), []) if row.kind == "size"]
    ground = [row.details for row in sizes if row.details.get("when") == "after_grinding"]
    if not ground:
        return {}
    return {name: float(ground[-1][name]) for name, _ in FACES if ground[-1].get(name) is not None}


def view_case_left(session: Session, item_id: int, now: datetime, showing: Showing) -> CaseLeftView:
    """Return the case left on each face of a piece."""
    item = get_row(session, Item, item_id)
    rows = load_batch(session, item.batch_id)
    off = ground_off(rows, item)
    href = f"/items/{item_id}"
    if not off:
        return CaseLeftView(href, "", (), "Note its size after grinding, and what came off each face.")
    bar = session.get(Bar, item.bar_id)
    if bar is None:
        return CaseLeftView(href, "", (), "Its bar is not known any more.")
    process = process_of_item(rows, item, bar, by_id(session, Bath), now)
    if isinstance(process, NotYet):
        return CaseLeftView(href, "", (), f"Nothing can be worked out: {process.why}.")
    part = session.get(Part, item.part_id) if item.part_id else None
    definition = part.depth_definition if part else "rim"
    try:
        constants = current_belief(session, process.keys.fire).belief.constants(process, DRAWS)
        found = forecast(process, constants)
    except ModelError as problem:
        return CaseLeftView(href, "", (), f"Nothing can be worked out: {problem}")
    depth_m = _whole_case(part, found, constants.rim_carbon_wt)
    faces = tuple(_face(words, off[name], found, depth_m, showing) for name, words in FACES if name in off)
    return CaseLeftView(href, label_of(DEFINITIONS, definition).lower(), faces)


def _whole_case(part: Part | None, found: Forecast, rim_wt: Array) -> Array:
    """Return the case depth before grinding as the part counts it, (draws,) [m]; below 0 where there is none.

    A coupon's is the rim seen on a break, and so is that of a piece whose hardness is not worked out.
    """
    goal = RIM if part is None else goal_of(part)
    if found.hardness_HV is None and goal.definition not in BY_CARBON:
        goal = RIM
    return case_of(goal, found, rim_wt) + goal.grinding_allowance_m


def _face(words: str, off_m: float, found: Forecast, depth_m: Array, showing: Showing) -> FaceView:
    low, middle, high = (max(float(end), 0.0) for end in np.quantile(depth_m - off_m, BAND))
    left = length_text(showing, middle) if middle > 0.0 else "none"
    return FaceView(
        face=words,
        off=f"{length_text(showing, off_m)} off",
        left=left,
        band=f"nine in ten: {range_text(showing, low, high)}",
        skin=_skin(off_m, found),
    )


def _skin(off_m: float, found: Forecast) -> str:
    """Return the hardness of the ground face; nothing is said of one that was not quenched."""
    if found.hardness_HV is None:
        return ""
    hardness = at_depths(np.array([off_m]), found.depth_m, found.hardness_HV)[:, 0]
    low, middle, high = (float(rockwell_c_continued(end)) for end in np.quantile(hardness, BAND))
    whole = [amount(round(end), "", "number") for end in (low, middle, high)]
    return f"skin about {whole[1]} HRC ({whole[0]} to {whole[2]})" if middle >= 20.0 else "skin soft"
