"""How the doubt narrowed fire by fire, of the standard job and of each thing learnt.

Worked out in the compute worker with the fit; it reads no logbook.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from math import log
from typing import Any

from model.doubt_course import Moment, standard_job_course
from model.learnt import Band, parameter_rows
from model.process import Process
from model.readings import Observation

STORED_AS = {"activity": "richness"}  # as `readouts` stores it
BY_FACTOR = ("transfer", "lag", "bath", "retained", "hardenability")


def course_readouts(
    observations: Sequence[Observation], moments: Sequence[Moment], jobs: Sequence[Process]
) -> dict[str, Any]:
    """Return the moments, the standard job of the mix used most at each, and what doubt each row had left."""
    if not moments:
        return {}
    used = Counter(one.process.keys.mix for one in observations)
    job = max(jobs, key=lambda one: used[one.keys.mix], default=None)
    return {
        "moments": [{"fires": one.fires, "coupons": one.coupons} for one in moments],
        "mix": job.keys.mix if job else "",
        "standard": [asdict(band) for band in standard_job_course(moments, job)] if job else [],
        "left": _left(observations, moments, jobs),
    }


def _left(
    observations: Sequence[Observation], moments: Sequence[Moment], jobs: Sequence[Process]
) -> list[dict[str, Any]]:
    """Return the share of the books' doubt that was left of each row at each moment."""
    courses = [parameter_rows(observations, moment.belief, jobs) for moment in moments]
    by_key: dict[tuple[str, str], list[float]] = {}
    for rows in courses:
        for row in rows:
            left = _width(row.now, row.kind) / _width(row.books, row.kind)
            by_key.setdefault((row.kind, row.of), []).append(round(left, 4))
    return [
        {"kind": STORED_AS.get(kind, kind), "of": of, "shares": shares}
        for (kind, of), shares in by_key.items()
        if len(shares) == len(moments)
    ]


def _width(band: Band, kind: str) -> float:
    return log(band.high / band.low) if kind in BY_FACTOR else band.high - band.low
