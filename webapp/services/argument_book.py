"""The batches of the logbook as arguments see them: on which side, with what else, and what came of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from webapp.services.argument_list import BY_KEY
from webapp.services.argument_sides import FIRST, SECOND, seal_of, sides_of_batch, sides_of_item
from webapp.services.batch_rows import BatchRows, row_id
from webapp.services.bow_history import bow_of
from webapp.services.step_rules import GIVEN_UP
from webapp.store.tables import Bar, Bath, Item, Reading

LOOKED_FOR = ("cracks", "chips")


@dataclass(frozen=True)
class PieceFacts:
    """What came of some pieces: sides, cracks looked for and found, bows [m], what a temper added [HRC].

    `part` is alike for pieces that may be held against one another: same part, shape and size.
    """

    sides: Mapping[str, int]
    part: str
    cracked: bool | None
    bows_m: tuple[float, ...]
    softened_HRC: float | None


@dataclass(frozen=True)
class BatchFacts:
    """One box in one fire: its number, which sides it has pieces on, what it ran with, what came of it.

    `leaked` is None for a box that has not come out. `ran_with` names its box, mix, heat, bath and bars.
    """

    batch_id: int
    number: int
    sides: Mapping[str, frozenset[int]]
    ran_with: Mapping[str, str]
    hours: float | None
    heat_K: float | None
    seal: str
    leaked: bool | None
    pieces: tuple[PieceFacts, ...] = field(default=())

    def is_on(self, argument: str, side: int) -> bool:
        """Tell whether the batch has something on a side of an argument."""
        return side in self.sides.get(argument, ())


def facts_of(
    book: Iterable[BatchRows], baths: Mapping[int, Bath], bars: Mapping[int, Bar]
) -> tuple[BatchFacts, ...]:
    """Return every batch that went into a fire and was not set aside, oldest first."""
    return tuple(_facts(rows, baths, bars) for rows in book if _counts(rows))


def _counts(rows: BatchRows) -> bool:
    """Tell whether a batch may speak: its box went in, and nobody set it aside."""
    went_in = any(step.kind in ("box_in", "soak") for step in rows.steps)
    return went_in and rows.batch.state != GIVEN_UP and not rows.batch.left_out_why


def _facts(rows: BatchRows, baths: Mapping[int, Bath], bars: Mapping[int, Bar]) -> BatchFacts:
    soak = next((step for step in rows.steps if step.kind == "soak"), None)
    is_out = any(step.kind in ("box_out", "reheat", "quench") for step in rows.steps)
    by_item = [(item, sides_of_item(rows, item, baths)) for item in rows.items if not item.left_out_why]
    pieces = tuple(_piece(item, rows.readings.get(row_id(item), ()), sides) for item, sides in by_item)
    return BatchFacts(
        batch_id=row_id(rows.batch),
        number=rows.batch.number,
        sides=_all_sides([sides_of_batch(rows), *(piece.sides for piece in pieces)]),
        ran_with=_ran_with(rows, baths, bars),
        hours=soak.seconds / 3600.0 if soak and soak.seconds else None,
        heat_K=soak.temperature_K if soak else None,
        seal=seal_of(rows),
        leaked=any(event.kind == "seal cracked" for event in rows.events) if is_out else None,
        pieces=pieces,
    )


def _all_sides(found: Sequence[Mapping[str, int]]) -> dict[str, frozenset[int]]:
    return {key: frozenset(sides[key] for sides in found if key in sides) for key in BY_KEY}


def _ran_with(rows: BatchRows, baths: Mapping[int, Bath], bars: Mapping[int, Bar]) -> dict[str, str]:
    bath = next((baths[step.bath_id] for step in rows.steps if step.bath_id), None)
    cut_from = sorted({bars[item.bar_id].name for item in rows.items if not item.left_out_why})
    return {
        "box": rows.box.name,
        "mix": rows.mix.name,
        "heat": rows.heat.name,
        "bath": bath.name if bath else "",
        "bar": " and ".join(cut_from),
    }


def _piece(item: Item, readings: Sequence[Reading], sides: Mapping[str, int]) -> PieceFacts:
    first_life = [row for row in readings if row.life == 1 and not row.left_out_why]
    looked = [bool(row.details.get("seen")) for row in first_life if row.kind in LOOKED_FOR]
    bows = (bow_of(row) for row in first_life if row.kind == "size")
    return PieceFacts(
        sides=sides,
        part=f"{item.shape} {1e3 * item.size_m:.1f} {item.part_id or 0}",
        cracked=any(looked) if looked else None,
        bows_m=tuple(bow for bow in bows if bow is not None),
        softened_HRC=_softened(first_life),
    )


def _softened(readings: Sequence[Reading]) -> float | None:
    """Return what a temper took off one piece, read before and after on one tester; None where it was not."""
    read: dict[tuple[str, int | None], list[float]] = {}
    for row in readings:
        if row.kind == "hardness" and row.unit == "HRC" and row.value is not None:
            read.setdefault((row.after, row.instrument_id), []).append(row.value)
    pairs = [
        (values, read[("temper_1", tester)])
        for (after, tester), values in read.items()
        if after == "quench" and ("temper_1", tester) in read
    ]
    if not pairs:
        return None
    before, after_temper = pairs[0]
    return sum(after_temper) / len(after_temper) - sum(before) / len(before)


def leaks(facts: Sequence[BatchFacts]) -> tuple[int, int]:
    """Return how many seals leaked of how many boxes that came out."""
    known = [one.leaked for one in facts if one.leaked is not None]
    return sum(known), len(known)


def leaks_by_seal(facts: Sequence[BatchFacts]) -> dict[str, tuple[int, int]]:
    """Return leaks and boxes by what they were closed with, the commonest first."""
    order = [seal for seal, _ in Counter(one.seal for one in facts).most_common()]
    return {seal: leaks([one for one in facts if one.seal == seal]) for seal in order}


def pieces_on(facts: Sequence[BatchFacts], argument: str, side: int) -> list[PieceFacts]:
    """Return the pieces on one side of an argument."""
    return [piece for one in facts for piece in one.pieces if piece.sides.get(argument) == side]


def on_sides(
    facts: Sequence[BatchFacts], argument: str
) -> tuple[tuple[BatchFacts, ...], tuple[BatchFacts, ...]]:
    """Return the batches on each side; one with pieces on both stands on both."""
    first, second = (tuple(one for one in facts if one.is_on(argument, side)) for side in (FIRST, SECOND))
    return first, second
