"""Everything one running app holds; made by the factory, handed to whoever needs it, never global."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.asked_sums import AskedSums
from webapp.clock import Clock
from webapp.fit_keeper import FitKeeper
from webapp.settings import Settings
from webapp.store.engine import Store
from webapp.worker import Worker


@dataclass(frozen=True)
class AppContext:
    """The settings, the open logbook, the compute worker, the clock, the keeper of the fit, other sums."""

    settings: Settings
    store: Store
    worker: Worker
    clock: Clock
    fit_keeper: FitKeeper
    sums: AskedSums
