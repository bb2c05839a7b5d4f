"""The belief without one fire, by which it is foretold; kept, as two panels of a piece ask at once."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from threading import Lock
from typing import Final

from sqlmodel import Session, col

from model.belief import ShopBelief
from model.fire_left_out import without_fire
from model.readings import Observation
from webapp.services.batch_rows import kept, load_batch, row_id
from webapp.services.fitting import CurrentBelief
from webapp.services.observations import told_of_batch
from webapp.services.plan_sums import Believed
from webapp.store.tables import Batch

KEPT_BELIEFS: Final = 8
_taking_out = Lock()


def readings_of_fire(
    session: Session, batch: Batch, belief: CurrentBelief, now: datetime
) -> tuple[Observation, ...]:
    """Return the readings of a batch's fire that the fit has learnt from."""
    learnt = set(belief.summary.get("used", ()))
    batches = kept(session, Batch, col(Batch.fire_id) == batch.fire_id)
    told = (
        one
        for other in batches
        for one in told_of_batch(session, load_batch(session, row_id(other)), now).values()
    )
    return tuple(one for one in told if isinstance(one, Observation) and one.key in learnt)


def apart_from_fire(believed: Believed, fire: str, of_fire: tuple[Observation, ...]) -> ShopBelief:
    """Return a belief without what the readings of one fire taught it; one sum for all who ask at once."""
    with _taking_out:
        return _apart(believed, fire, of_fire)


@lru_cache(maxsize=KEPT_BELIEFS)
def _apart(believed: Believed, fire: str, of_fire: tuple[Observation, ...]) -> ShopBelief:
    return without_fire(believed.belief, fire, of_fire)
