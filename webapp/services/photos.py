"""Photos of a piece, a batch or what happened in it: kept, captioned, put in the bin and taken out again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session

from webapp.services.batch_rows import kept, row_id, take_back
from webapp.services.pictures import Picture
from webapp.store.errors import NotFound
from webapp.store.photo_files import keep_photo
from webapp.store.tables import Batch, Event, Item, Photo
from webapp.store.unit_of_work import UnitOfWork


@dataclass(frozen=True)
class Owner:
    """What a photo is of: one piece, or a batch, or one event of a batch."""

    item_id: int | None = None
    batch_id: int | None = None
    event_id: int | None = None

    @property
    def href(self) -> str:
        """Return the address of its page."""
        return f"/items/{self.item_id}" if self.item_id is not None else f"/batches/{self.batch_id}"


@dataclass(frozen=True)
class KeptPicture:
    """A picture whose files are on the disk."""

    sha256: str
    size_bytes: int
    width_px: int
    height_px: int


def keep_picture(data_folder: Path, picture: Picture) -> KeptPicture:
    """Write a picture to the disk, before any row speaks of it."""
    sha256 = keep_photo(data_folder, picture.jpeg, picture.small_jpeg)
    return KeptPicture(sha256, len(picture.jpeg), picture.width_px, picture.height_px)


def add_photos(
    work: UnitOfWork, owner: Owner, pictures: Sequence[KeptPicture], caption: str = ""
) -> list[Photo]:
    """Put photos of one thing in the logbook."""
    if owner.item_id is not None:
        work.get(Item, owner.item_id)
    if owner.batch_id is not None:
        work.get(Batch, owner.batch_id)
    if owner.event_id is not None and work.get(Event, owner.event_id).batch_id != owner.batch_id:
        raise NotFound("event", owner.event_id)
    return [work.add(Photo(**vars(owner), **vars(picture), caption=caption)) for picture in pictures]


def change_caption(work: UnitOfWork, photo_id: int, caption: str, version: int | None = None) -> Photo:
    """Write under a photo what it shows."""
    return work.change(work.get(Photo, photo_id), version, caption=caption)


def remove_photo(work: UnitOfWork, photo_id: int, version: int | None = None) -> Photo:
    """Put a photo in the bin; its files stay, so that it can be put back."""
    return work.remove(work.get(Photo, photo_id), version)


def put_back_photo(work: UnitOfWork, photo_id: int) -> Photo:
    """Take a photo out of the bin."""
    return take_back(work, Photo, photo_id)


def owner_of(photo: Photo) -> Owner:
    """Return what a photo is of."""
    return Owner(photo.item_id, photo.batch_id, photo.event_id)


def photos_of_batch(session: Session, batch_id: int) -> list[Photo]:
    """Return the photos of a batch itself, oldest first; those of its pieces stand with them."""
    return kept(session, Photo, Photo.batch_id == batch_id)


def small_src(photo: Photo) -> str:
    """Return the address of a photo's thumbnail."""
    return f"/photos/{photo.sha256}-small.jpg"


def href_of(photo: Photo) -> str:
    """Return the address of a photo's page."""
    return f"/photos/{row_id(photo)}"
