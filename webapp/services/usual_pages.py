"""The pages that a shop opens most, with its newest records in them."""

from __future__ import annotations

from sqlmodel import Session

from webapp.services.batch_rows import newest, row_id
from webapp.store.tables import Bar, Batch, Item, Part

ALWAYS = ("/", "/logbook", "/shop", "/plans", "/parts", "/forge")
OF_NEWEST = (
    (Batch, "/batches/{}"),
    (Item, "/items/{}"),
    (Item, "/items/{}/readings/new?kind=hardness"),
    (Bar, "/bars/{}"),
    (Part, "/plans/new?part={}"),  # last, as its sums take a second
)


def usual_pages(session: Session) -> list[str]:
    """Return the addresses, those first that are opened first."""
    found = [(address, newest(session, kind, 1)) for kind, address in OF_NEWEST]
    return [*ALWAYS, *(address.format(row_id(rows[0])) for address, rows in found if rows)]
