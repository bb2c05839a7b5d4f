"""Whether the logbook holds news for the fit: the mark of all that it tells, and which saves may move it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from hashlib import sha256

from sqlmodel import Session, col, func, select

from model import MODEL_VERSION
from webapp.services.observations import Told
from webapp.services.timed_warm_ups import TIMED
from webapp.store.tables import Batch, Change, Event, Fire, Fit, HeatNote, Item, Record, Step

NEVER_TOLD = (
    "plan", "plansupplies", "prices", "partprice", "gasweighing", "photo", "broughtin", "reminder", "ownline",
)  # fmt: skip
"""Tables of which nothing reaches a fit."""
OF_A_FIRE: dict[str, type[Record]] = {
    "fire": Fire, "batch": Batch, "item": Item, "step": Step, "event": Event, "heatnote": HeatNote,
}  # fmt: skip
NEW_ONES = ("bar", "part")  # nothing that was read is of a new one yet
MOST_LOOKED_THROUGH = 100  # saved records; after more of them the whole book is read again


@dataclass(frozen=True)
class Standing:
    """The newest fit: what it learnt from, and whether it is the careful one."""

    fingerprint: str
    is_careful: bool


@dataclass(frozen=True)
class News:
    """What is known of what the logbook tells a fit, without all that it tells.

    fires : those of which anything was read, whether it can be told or not
    until : the last line of the change record that it knows of, 0 for none
    newest : the fit that stands, None for none
    """

    fingerprint: str
    is_empty: bool
    fires: frozenset[int]
    until: int
    newest: Standing | None

    @property
    def is_fitted(self) -> bool:
        """Tell whether the fit that stands knows all of this."""
        return self.newest is not None and self.newest.fingerprint == self.fingerprint

    @property
    def asks_for_a_fit(self) -> bool:
        """Tell whether there is anything to fit anew."""
        return not self.is_fitted and not (self.newest is None and self.is_empty)

    def fitted(self, fingerprint: str, is_careful: bool) -> News:
        """Return what is known once a fit stands; what it learnt from may have been read after this."""
        return replace(self, fingerprint=fingerprint, newest=Standing(fingerprint, is_careful))


def news_of(session: Session, told: Told) -> News:
    """Return what is to be known of what a logbook told, and of the fit that stands."""
    is_empty = not (told.observations or told.checks)
    return News(fingerprint_of(told), is_empty, told.fires, newest_change(session), _standing(session))


def fingerprint_of(told: Told) -> str:
    """Return what tells one set of readings, and what is asked of it, from another that needs its own fit."""
    changes = [job.keys.loosened for job in told.jobs]  # a change that no fire ran with yet is news as well
    mark = sha256()
    # one by one: their words in one piece would take fifty megabytes in an old logbook
    for one in (MODEL_VERSION, *told.observations, *told.checks, told.sides, changes):
        mark.update(f"{one!r}\n".encode())
    return mark.hexdigest()


def newest_change(session: Session) -> int:
    """Return the number of the last line of the change record, which every save of a record adds to."""
    return session.exec(select(func.max(Change.id))).one() or 0


def may_tell_more(session: Session, news: News) -> bool:
    """Tell whether a fit might be told something else by now, from the few records that were saved since.

    A yes may be wrong and costs a look. A no may be too (a fire from which a piece went into another, the
    load of a box that nothing was read of): who goes by it must look again in the end.
    """
    if newest_change(session) < news.until:  # all was taken out
        return True
    query = select(Change.table_name, Change.record_id, Change.action).where(col(Change.id) > news.until)
    saved = session.exec(query.distinct().limit(MOST_LOOKED_THROUGH + 1)).all()
    return len(saved) > MOST_LOOKED_THROUGH or any(_bears_on(session, news, *one) for one in saved)


def _standing(session: Session) -> Standing | None:
    columns = select(Fit.fingerprint, func.json_extract(Fit.summary, "$.careful"))
    query = columns.where(Fit.model_version == MODEL_VERSION).order_by(col(Fit.id).desc()).limit(1)
    found = session.exec(query).first()
    return Standing(found[0], bool(found[1])) if found else None


def _bears_on(session: Session, news: News, table: str, record_id: int, action: str) -> bool:
    if table in NEVER_TOLD or (table in NEW_ONES and action == "added"):
        return False
    if table == "batch" and action in ("removed", "put back"):
        return True
    row = session.get(OF_A_FIRE[table], record_id) if table in OF_A_FIRE else None
    if row is None or (isinstance(row, Step) and row.kind in TIMED):
        return True
    return _fire_of(session, row) in news.fires


def _fire_of(session: Session, row: Record | None) -> int | None:
    """Return the fire that a record of one is of, in the bin or not."""
    if row is None:
        return None
    if isinstance(row, Fire):
        return row.id
    if isinstance(row, Batch | HeatNote):
        return row.fire_id
    if isinstance(row, Step) and row.item_id is not None:
        return _fire_of(session, session.get(Item, row.item_id))
    return _fire_of(session, session.get(Batch, row.batch_id))  # type: ignore[attr-defined]
