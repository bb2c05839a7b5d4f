"""Everything one running app holds; made by the factory, handed to whoever needs it, never global."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.asked_sums import AskedSums
from webapp.clock import Clock
from webapp.copy_keeper import CopyKeeper
from webapp.fit_keeper import FitKeeper
from webapp.gate.door import Door
from webapp.settings import Settings
from webapp.store.engine import Store
from webapp.worker import Worker


@dataclass(frozen=True)
class AppContext:
    """Settings, logbook, compute worker, clock, keepers of fit and copies, other sums, and the door."""

    settings: Settings
    store: Store
    worker: Worker
    clock: Clock
    fit_keeper: FitKeeper
    sums: AskedSums
    copy_keeper: CopyKeeper
    door: Door
