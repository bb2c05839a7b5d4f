"""Which cause of an odd fire its own readings point to: tester, heat, one box's seal, or a tired pack."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import fmean
from typing import Any

from webapp.services.forge_charts import FitRows
from webapp.services.showing import plural
from webapp.store.tables import Batch, Event

OFF = 1.5  # sds from what the others foretell beyond which the mean of some readings is off; own choice
FITS = 1.0  # and within which it fits
TIRED_FIRES = 3
DEPTHS = ("depth", "traverse")
HARDNESS = ("hardness", "files", "one_file")
SEAL_EVENT = "seal cracked"


@dataclass(frozen=True)
class Likely:
    """A cause that the readings point to, why they do, and the reason offered for setting the fire aside."""

    words: str
    reason: str


@dataclass(frozen=True)
class _Marks:
    """How far off the readings of a fire are: those of depth and of hardness, and the depths of each box."""

    depth: float | None
    hardness: float | None
    boxes: Mapping[int, float]


def likely_causes(
    odd: Mapping[int, str], summary: Mapping[str, Any], rows: FitRows, events: Sequence[Event]
) -> dict[int, Likely]:
    """Return what the readings of each odd fire point to, by the fire's id; nothing where they do not."""
    scores = _scores_by_fire(summary["predictions"], rows)
    cracked = {event.batch_id for event in events if event.kind == SEAL_EVENT}
    whole = {str(one["fire"]): float(one["score"]) for one in summary["fires"]}
    tins = _fires_of_tins(rows)
    found = {}
    for fire_id, how in odd.items():
        own = [batch for batch in rows.batches.values() if batch.fire_id == fire_id]
        marks = _marks(scores.get(fire_id, ()))
        likely = _by_readings(how, marks, own, cracked) or _tired_pack(how, fire_id, whole, tins)
        if likely is not None:
            found[fire_id] = likely
    return found


def _scores_by_fire(
    predictions: Iterable[Mapping[str, Any]], rows: FitRows
) -> dict[int, list[tuple[int, str, float]]]:
    """Return the batch, kind and score of every reading, by fire."""
    found: defaultdict[int, list[tuple[int, str, float]]] = defaultdict(list)
    for one in predictions:
        reading = rows.readings.get(int(one["key"]))
        item = rows.items.get(reading.item_id) if reading is not None else None
        batch = rows.batches.get(item.batch_id) if item is not None else None
        if reading is not None and batch is not None:
            found[batch.fire_id].append((batch.id or 0, reading.kind, float(one["score"])))
    return dict(found)


def _marks(scores: Iterable[tuple[int, str, float]]) -> _Marks:
    by_kind: defaultdict[str, list[float]] = defaultdict(list)
    boxes: defaultdict[int, list[float]] = defaultdict(list)
    for batch_id, kind, score in scores:
        by_kind["depth" if kind in DEPTHS else "hardness" if kind in HARDNESS else ""].append(score)
        if kind in DEPTHS:
            boxes[batch_id].append(score)
    depth, hardness = (fmean(by_kind[kind]) if by_kind[kind] else None for kind in ("depth", "hardness"))
    return _Marks(depth, hardness, {batch_id: fmean(found) for batch_id, found in boxes.items()})


def _by_readings(how: str, marks: _Marks, own: Sequence[Batch], cracked: set[int]) -> Likely | None:
    seals = [batch.number for batch in own if batch.id in cracked]
    if how == "shallow" and seals:
        return Likely(
            f"You noted a cracked seal on batch {seals[0]}: that is the likeliest.", "the seal cracked"
        )
    if _is_only_hardness(marks):
        return Likely(
            "Its depths fit and only the hardness is off: look at the tester, the skin that was read, "
            "or the quench, before the fire.",
            "the hardness was misread",
        )
    return _by_boxes(how, marks.boxes, own)


def _is_only_hardness(marks: _Marks) -> bool:
    if marks.depth is None or marks.hardness is None:
        return False
    return abs(marks.depth) <= FITS and abs(marks.hardness) >= OFF


def _by_boxes(how: str, boxes: Mapping[int, float], own: Sequence[Batch]) -> Likely | None:
    """Return what several boxes in one fire tell: they share its heat, and nothing else."""
    side = {"shallow": -1.0, "deep": 1.0}.get(how)
    if side is None or len(boxes) < 2:
        return None
    off = [batch for batch in own if side * boxes.get(batch.id or 0, 0.0) >= OFF]
    fit = [batch for batch in own if abs(boxes.get(batch.id or 0, OFF)) <= FITS]
    if len(off) == len(boxes):
        return Likely(
            f"All {len(boxes)} boxes in it are off the same way: that is the heat or the time, not a seal.",
            "the fire was not as hot or as long as noted",
        )
    if len(off) == 1 and len(off) + len(fit) == len(boxes):
        cause = "its seal or its pack" if side < 0 else "its pack"
        return Likely(
            f"Only the box of batch {off[0].number} is off and the others in the fire fit: that is {cause}, "
            "not the heat.",
            "its seal leaked" if side < 0 else "its pack was richer than its mix says",
        )
    return None


def _fires_of_tins(rows: FitRows) -> list[Mapping[int, date]]:
    """Return the fires of each tin, with their days."""
    fires: defaultdict[int, dict[int, date]] = defaultdict(dict)
    for batch in rows.batches.values():
        fires[batch.mix_id][batch.fire_id] = batch.day
    return list(fires.values())


def _tired_pack(
    how: str, fire_id: int, scores: Mapping[str, float], tins: Sequence[Mapping[int, date]]
) -> Likely | None:
    """Return that a tin is worn out, where its newest fires up to this one all lean to the shallow side."""
    if how != "shallow":
        return None
    for days in tins:
        if fire_id not in days:
            continue
        so_far = sorted((day, fire) for fire, day in days.items() if day <= days[fire_id])[-TIRED_FIRES:]
        leaning = [scores.get(str(fire), 0.0) for _, fire in so_far]
        if len(leaning) == TIRED_FIRES and max(leaning) < 0.0 and fmean(leaning) <= -OFF:
            return Likely(
                f"The last {plural(TIRED_FIRES, 'fire')} from this tin all came out shallower: "
                "its charcoal or carbonate may be spent.",
                "the pack was spent",
            )
    return None
