"""What a shop can read off a coupon, each reading as the sums take it before it is taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from model.readings import DepthReading, FilesReading, HardnessReading, TraverseReading
from model.sight import Reading
from webapp.services.observations import ONE_FILE_HRC, TESTER_KINDS, USUAL_FILE_HRC
from webapp.store.tables import Instrument

TRAVERSE_M = (0.1e-3, 0.2e-3, 0.35e-3, 0.5e-3, 0.65e-3, 0.8e-3, 1.0e-3, 1.3e-3)
USUAL_FILES_HRC = (40.0, 45.0, 50.0, 55.0, 60.0, 65.0)
MOST_TESTERS = 3
ANY_HRC, ANY_HV, ANY_DEPTH_m = 60.0, 700.0, 0.5e-3  # their values do not count: nothing was read yet
# Which tells most of a skin, for the one reading that is offered beside a break.
BEST_FIRST = ("rockwell", "vickers", "file_set", "one_file")


@dataclass(frozen=True)
class Read:
    """One kind of reading; the tester's id where it is of hardness, 0 for an eye."""

    kind: Literal["break", "etch", "hardness", "traverse"]
    tester_id: int = 0


BREAK, ETCH = Read("break"), Read("etch")


def reads_of(testers: Mapping[int, Instrument]) -> tuple[tuple[Read, ...], ...]:
    """Return the readings that one coupon may be given, alone and together."""
    own = [key for key, row in testers.items() if row.method != "lab"]
    by_rank = sorted(own, key=lambda key: BEST_FIRST.index(testers[key].method))[:MOST_TESTERS]
    traverses = [Read("traverse", key) for key, row in testers.items() if row.method in ("vickers", "lab")]
    hardness = [Read("hardness", key) for key in by_rank]
    beside = [(BREAK, hardness[0])] if hardness else []
    return (
        (BREAK,),
        (ETCH,),
        *((one,) for one in hardness),
        *beside,
        *((BREAK, one) for one in traverses[:1]),
    )


def outcomes_of(read: Read, testers: Mapping[int, Instrument]) -> tuple[Reading, ...]:
    """Return everything that a reading may say, one value where it says a number."""
    if read.kind in ("break", "etch"):
        return (DepthReading("etch" if read.kind == "etch" else "break", ANY_DEPTH_m),)
    row = testers[read.tester_id]
    key = f"{TESTER_KINDS.get(row.method, 'rockwell')}:{row.id}"
    if read.kind == "traverse":
        return (TraverseReading(TRAVERSE_M, (ANY_HV,) * len(TRAVERSE_M), key),)
    if row.method == "vickers":
        return (HardnessReading("HV", ANY_HV, key),)
    if row.method == "rockwell":
        return (HardnessReading("HRC", ANY_HRC, key, sd=row.spread),)
    return _files(row, key)


def _files(row: Instrument, key: str) -> tuple[Reading, ...]:
    """Return what a file or a set of them may say."""
    files = sorted(float(one) for one in row.settings.get("files_HRC") or ())
    if row.method == "one_file":
        at = (files or [USUAL_FILE_HRC])[0]
        ends = [tuple(None if end is None else at + end for end in pair) for pair in ONE_FILE_HRC.values()]
        return tuple(FilesReading(low, high, key) for low, high in ends)
    edges = (None, *(files or USUAL_FILES_HRC), None)
    return tuple(FilesReading(low, high, key) for low, high in pairwise(edges))
