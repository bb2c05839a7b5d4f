"""On which side of each argument a batch and its pieces stand, by what the logbook holds of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from model.argument_columns import outcome_of
from model.energizers import carbonate_percent_of
from model.readings import Observation
from webapp.services.argument_list import ARGUMENTS
from webapp.services.batch_rows import BatchRows, own_steps, row_id
from webapp.services.box_rows import fill_of
from webapp.store.tables import Bath, Item, Mix, Step

FIRST, SECOND = 0, 1
CLAYS = ("fireclay", "air-drying clay")
PLAIN_PERCENT = 2.0  # less does next to nothing; common practice, no source
MUCH_PERCENT = 8.0
FRESH_SHARE = 0.95
STRONG_PERCENT = 8.0
SIDE_OF_FILL = {"filled": FIRST, "gap": SECOND}
SIDE_OF_MOTION = {"up_and_down": FIRST, "side_to_side": SECOND}
OF_ONE_PIECE = ("cool", "motion", "brine", "temper")
"""Arguments on which pieces of one box may stand apart; the others are those of the box."""


def sides_of_batch(rows: BatchRows) -> dict[str, int]:
    """Return the sides of a box: what it was filled and closed with; an argument on neither is left out."""
    noted = _settings(rows.steps, "box_in")
    carbonate = carbonate_percent_of(rows.mix.substance, rows.mix.substance_percent)
    sides: dict[str, int | None] = {
        "fill": SIDE_OF_FILL.get(fill_of(rows.box, rows.steps)),
        "seal": side_of_seal(seal_of(rows)),
        "charcoal": SECOND if rows.mix.charcoal == "briquettes" else FIRST,
        "carbonate": FIRST if carbonate < PLAIN_PERCENT else SECOND,
        "much": None if carbonate < PLAIN_PERCENT else FIRST if carbonate <= MUCH_PERCENT else SECOND,
        "reused": side_of_pack(rows.mix),
        "oil": SECOND if noted.get("extra") == "engine_oil" else FIRST,
    }
    return {key: side for key, side in sides.items() if side is not None}


def seal_of(rows: BatchRows) -> str:
    """Return what a box was closed with that time: as noted when it went in, else as it always is."""
    return str(_settings(rows.steps, "box_in").get("seal") or rows.box.seal)


def side_of_seal(seal: str) -> int | None:
    """Return clay or mortar; a lid alone is neither."""
    return FIRST if seal in CLAYS else SECOND if seal == "refractory mortar" else None


def side_of_pack(mix: Mix) -> int:
    """Return fresh, or used before."""
    return FIRST if mix.fresh_share >= FRESH_SHARE else SECOND


def sides_of_item(rows: BatchRows, item: Item, baths: Mapping[int, Bath]) -> dict[str, int]:
    """Return the sides of a piece as it came of its batch, those of its box too."""
    steps = own_steps(rows, item) or rows.steps
    quench = next((step for step in steps if step.kind == "quench"), None)
    if quench is None:
        return sides_of_batch(rows)
    bath = baths.get(quench.bath_id or 0)
    sides: dict[str, int | None] = {
        "cool": SECOND if _left_hot(steps, rows.steps) else FIRST,
        "motion": SIDE_OF_MOTION.get(str(quench.settings.get("motion"))),
        "brine": _side_of_brine(bath),
        "temper": SECOND if any(step.kind == "temper" for step in steps) else FIRST,
    }
    return sides_of_batch(rows) | {key: side for key, side in sides.items() if side is not None}


def sides_of_readings(
    rows: BatchRows, told: Mapping[int, Observation | str], baths: Mapping[int, Bath]
) -> dict[str, dict[str, int]]:
    """Return the side of each reading by argument and the reading's key: only those of its own outcomes.

    told : what each reading of the batch tells, by its id
    What was read in a later life of a piece stands on no side: it was put right since.
    """
    sides: dict[str, dict[str, int]] = {}
    for item in rows.items:
        first_life = [row_id(row) for row in rows.readings.get(row_id(item), []) if row.life == 1]
        outcomes = {key: outcome_of(one) for key in first_life if isinstance(one := told[key], Observation)}
        own = sides_of_item(rows, item, baths) if outcomes else {}
        for argument in ARGUMENTS:
            if argument.key in own:
                keys = (str(key) for key, outcome in outcomes.items() if outcome in argument.outcomes)
                sides.setdefault(argument.key, {}).update(dict.fromkeys(keys, own[argument.key]))
    return sides


def sides_together(batches: Iterable[Mapping[str, Mapping[str, int]]]) -> dict[str, dict[str, int]]:
    """Return the sides of the readings of many batches, by argument in the order of their list."""
    sides: dict[str, dict[str, int]] = {argument.key: {} for argument in ARGUMENTS}
    for own in batches:
        for key, side_of in own.items():
            sides[key].update(side_of)
    return {key: side_of for key, side_of in sides.items() if side_of}


def _settings(steps: Iterable[Step], kind: str) -> dict[str, Any]:
    return next((step.settings for step in steps if step.kind == kind), {})


def _left_hot(steps: Iterable[Step], batch_steps: Iterable[Step]) -> bool:
    """Tell whether a piece went from the box into the bath; one that stayed with the box as the box did."""
    for known in (steps, batch_steps):
        out = next((step for step in known if step.kind in ("drawn", "box_out")), None)
        then = out.settings.get("then", "slow_cool") if out else "with_box"
        if then != "with_box":
            return then in ("quench", "straight_to_bath")
    return False


def _side_of_brine(bath: Bath | None) -> int | None:
    if bath is None or bath.medium != "brine" or bath.salt_percent is None:
        return None
    return SECOND if bath.salt_percent >= STRONG_PERCENT else FIRST
