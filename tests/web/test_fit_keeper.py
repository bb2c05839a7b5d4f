"""The keeper of the fit outlives whatever goes wrong in one fit, and says so."""

from __future__ import annotations

import threading

import pytest

from tests.conftest import FixedClock
from webapp import fit_keeper
from webapp.fit_keeper import FitKeeper
from webapp.store.engine import Store
from webapp.worker import Worker

PATIENCE_S = 20.0


def test_the_keeper_fits_again_after_a_fit_that_broke(
    store: Store, clock: FixedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[str] = []
    once, again = threading.Event(), threading.Event()

    def tell(*_: object) -> object:
        tried.append(keeper.state.trouble)
        (once if len(tried) == 1 else again).set()
        raise ValueError("a slip in a number")

    monkeypatch.setattr(fit_keeper, "tell", tell)
    worker = Worker()
    keeper = FitKeeper(store, worker, clock)
    keeper.start()
    try:
        assert once.wait(PATIENCE_S)
        store.changed.set()
        assert again.wait(PATIENCE_S)
    finally:
        worker.close()
        keeper.close()
    assert keeper.state.trouble == "a slip in a number"
    assert tried[1] == "a slip in a number"
