"""What the store refuses, and why; `str()` of each is fit to show to a user.

StoreError
├── CannotOpen        the data folder or the logbook in it cannot be used
│   ├── FolderInUse       another casewright has the folder open
│   ├── LogbookNewer      the logbook was written by a newer casewright
│   └── MigrationFailed   bringing the logbook up to date failed; it is as it was
├── CannotSave        disk full, folder read-only, another save hangs: nothing was changed
├── Refused           the record breaks a rule of the logbook (a CHECK, a reference, a duplicate)
├── NotFound          no such record, or it is in the bin
├── ChangedMeanwhile  somebody else changed the record since the form was opened
├── AlreadySaved      this form was answered before; `location` is where that answer led
└── CopyFailed        a copy of the logbook could not be made or did not check out
"""

from __future__ import annotations

from typing import Any


class StoreError(Exception):
    """Base of every refusal of the store."""


class CannotOpen(StoreError):
    """The data folder or the logbook in it cannot be used."""


class FolderInUse(CannotOpen):
    """Another casewright has the data folder open."""


class LogbookNewer(CannotOpen):
    """The logbook was written by a newer casewright."""


class MigrationFailed(CannotOpen):
    """Bringing the logbook up to date failed; the logbook is as it was."""


class CannotSave(StoreError):
    """The logbook cannot be written now; nothing was changed."""


class Refused(StoreError):
    """The record breaks a rule of the logbook."""


class CopyFailed(StoreError):
    """A copy of the logbook could not be made or did not check out."""


class NotFound(StoreError):
    """No such record, or it is in the bin."""

    def __init__(self, table: str, record_id: int) -> None:
        """Keep the pieces for the page that says so."""
        self.table, self.record_id = table, record_id
        super().__init__(f"There is no {table} number {record_id} in this logbook, or it was removed.")


class ChangedMeanwhile(StoreError):
    """Somebody else changed the record since the form was opened.

    `current` holds every field as it now stands in the logbook, `mine` the fields the form would set.
    """

    def __init__(self, table: str, record_id: int, current: dict[str, Any], mine: dict[str, Any]) -> None:
        """Keep both versions, so that a page can show them side by side."""
        self.table, self.record_id = table, record_id
        self.current, self.mine = current, mine
        super().__init__(
            f"This {table} was changed meanwhile, perhaps on another tablet. Nothing was overwritten."
        )


class AlreadySaved(StoreError):
    """The form was answered before; `location` is where that answer led."""

    def __init__(self, location: str) -> None:
        """Keep where the first answer led."""
        self.location = location
        super().__init__("This form was saved already; it was not saved twice.")
