"""The sums of putting a piece right, kept by what they hang on: half a second to two for each piece."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

from model.narrowed import Taken, narrow
from model.outcome import Wanted
from model.process import Process
from model.remedies import advise, next_process
from model.remedy import Advice, BathChoice
from webapp.services.plan_sums import Believed

KEPT_ANSWERS = 32
_one_at_a_time = Lock()


@dataclass(frozen=True)
class PieceAsked:
    """All that the answer hangs on, but for what is believed."""

    process: Process
    readings: tuple[Taken, ...]
    wanted: Wanted
    baths: tuple[BathChoice, ...]
    temper_s: float
    reads_HRC: float | None = None


@dataclass(frozen=True)
class Worked:
    """The advice; `is_rough` says that the readings fit badly to what was noted, `used` how many counted."""

    advice: Advice
    is_rough: bool
    used: int


def work_out(asked: PieceAsked, believed: Believed) -> Worked:
    """Return what can be done with a piece, one answer at a time; raises `ModelError` for what cannot be."""
    with _one_at_a_time:
        return _worked_out(asked, believed)


@lru_cache(maxsize=KEPT_ANSWERS)
def _worked_out(asked: PieceAsked, believed: Believed) -> Worked:
    nexts = [next_process(asked.process, bath) for bath in asked.baths]
    narrowed = narrow(believed.belief, asked.readings, [asked.process, *nexts])
    advice = advise(asked.process, narrowed, asked.wanted, asked.baths, asked.temper_s, asked.reads_HRC)
    return Worked(advice, narrowed.widened, len(narrowed.used))
