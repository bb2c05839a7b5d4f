"""Photos as pages show them: small beside what they are of, and one on a page of its own."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session, col, select

from webapp.services.batch_rows import get_row, kept
from webapp.services.events import EVENT_WORDS
from webapp.services.photos import Owner, href_of, owner_of, small_src
from webapp.services.showing import Showing, plural
from webapp.store.tables import Batch, Event, Item, Photo, Reading


@dataclass(frozen=True)
class PhotoView:
    """A photo as it lies beside others."""

    href: str
    small_src: str
    words: str
    caption: str
    width_px: int
    height_px: int


@dataclass(frozen=True)
class AlbumView:
    """The photos of one thing, and where new ones are sent."""

    photos: tuple[PhotoView, ...]
    action: str
    count: str
    refused: tuple[str, ...] = ()
    kept: int = 0
    back_href: str = ""


@dataclass(frozen=True)
class PhotoPageView:
    """One photo with its page."""

    photo_id: int
    version: int
    src: str
    alt: str
    caption: str
    taken_in: str
    width_px: int
    height_px: int
    of_words: str
    of_href: str
    is_of_piece: bool
    measured: str

    @property
    def href(self) -> str:
        """Return the address of its page."""
        return f"/photos/{self.photo_id}"


def view_album(session: Session, owner: Owner, showing: Showing) -> AlbumView:
    """Return the photos of a piece, or of a batch and every piece in it, oldest first."""
    found = kept(session, Photo, *_of(owner))
    marks = _marks(session, found) if owner.batch_id is not None else {}
    photos = tuple(_view(photo, marks.get(photo.item_id or 0, ""), showing) for photo in found)
    return AlbumView(photos, f"{owner.href}/photos", plural(len(photos), "photo") if photos else "")


def _of(owner: Owner) -> tuple[object, ...]:
    if owner.item_id is not None:
        return (Photo.item_id == owner.item_id,)
    items = select(Item.id).where(Item.batch_id == owner.batch_id, col(Item.deleted_at).is_(None))
    return ((col(Photo.batch_id) == owner.batch_id) | col(Photo.item_id).in_(items),)


def _marks(session: Session, photos: list[Photo]) -> dict[int, str]:
    ids = {photo.item_id for photo in photos if photo.item_id is not None}
    return {item.id or 0: item.mark for item in session.exec(select(Item).where(col(Item.id).in_(ids)))}


def _view(photo: Photo, mark: str, showing: Showing) -> PhotoView:
    said = [f"piece {mark}" if mark else "", photo.caption or f"photo of {showing.moment(photo.created_at)}"]
    return PhotoView(
        href=href_of(photo),
        small_src=small_src(photo),
        words=": ".join(word for word in said if word),
        caption=photo.caption,
        width_px=photo.width_px,
        height_px=photo.height_px,
    )


def view_photo(session: Session, photo_id: int, showing: Showing) -> PhotoPageView:
    """Return the page of one photo."""
    photo = get_row(session, Photo, photo_id)
    owner = owner_of(photo)
    added = showing.moment(photo.created_at)
    return PhotoPageView(
        photo_id=photo_id,
        version=photo.version,
        src=f"/photos/{photo.sha256}.jpg",
        alt=photo.caption or f"photo added {added}",
        caption=photo.caption,
        taken_in=f"added {added}",
        width_px=photo.width_px,
        height_px=photo.height_px,
        of_words=_of_words(session, owner),
        of_href=owner.href,
        is_of_piece=owner.item_id is not None,
        measured=_measured(session, photo, showing),
    )


def _of_words(session: Session, owner: Owner) -> str:
    """Return what a photo is of, as in Batch 3, A standard pin."""
    if owner.item_id is None:
        event = session.get(Event, owner.event_id) if owner.event_id else None
        happened = f", {EVENT_WORDS.get(event.kind, event.kind).lower()}" if event else ""
        return f"Batch {get_row(session, Batch, owner.batch_id or 0).number}{happened}"
    item = get_row(session, Item, owner.item_id)
    batch = get_row(session, Batch, item.batch_id)
    return f"Batch {batch.number}, {item.mark} {item.name}"


def _measured(session: Session, photo: Photo, showing: Showing) -> str:
    """Return the depth that was measured on a photo, while that reading stands."""
    reading = session.get(Reading, photo.reading_id) if photo.reading_id else None
    if reading is None or reading.deleted_at is not None:
        return ""
    return showing.length(reading.value)


def is_shown(session: Session, sha256: str) -> bool:
    """Tell whether a photo that is not in the bin has this picture."""
    query = select(Photo.id).where(Photo.sha256 == sha256, col(Photo.deleted_at).is_(None)).limit(1)
    return session.exec(query).first() is not None
