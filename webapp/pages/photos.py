"""Photos of a piece, of a batch or of what happened in it: sent, looked at, captioned, removed, put back."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import FileResponse, Response

from webapp.dependencies import Context, CurrentShop, RawForm, Reading, RecordId, Saver, Saving, ShopUnits
from webapp.forms.kit import FormState, form_of, read_form
from webapp.forms.photos import CaptionForm
from webapp.pages.answers import page, saved
from webapp.pages.saving import HERE, Save, answer_button, answer_form
from webapp.pages.sheets import Conflict, form_id_of, version_of
from webapp.pages.uploads import Sent, SentForm, shown_name
from webapp.services import photos
from webapp.services.photo_view import is_shown, view_album, view_photo
from webapp.services.photos import KeptPicture, Owner, keep_picture
from webapp.services.pictures import NotAPhoto, prepare
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.store.errors import NotFound
from webapp.store.photo_files import photo_file
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
MOST_AT_ONCE = 12
# the address names what is in the picture, so what a browser once has never changes
KEEP_FOR_GOOD = "private, max-age=31536000, immutable"
NONE_PICKED = "No photo was picked. Take one, or choose some from the tablet."
TOO_MANY = f"More than {MOST_AT_ONCE} photos were sent at once. Send them in smaller lots."


@router.post("/items/{item_id}/photos")
def answer_item_photos(
    request: Request,
    item_id: RecordId,
    sent: SentForm,
    context: Context,
    session: Reading,
    shop: CurrentShop,
    save: Saving,
) -> Response:
    """Keep photos of a piece."""
    return _answer_photos(request, Owner(item_id=item_id), sent, context, session, shop, save)


@router.post("/batches/{batch_id}/photos")
def answer_batch_photos(
    request: Request,
    batch_id: RecordId,
    sent: SentForm,
    context: Context,
    session: Reading,
    shop: CurrentShop,
    save: Saving,
) -> Response:
    """Keep photos of a batch."""
    return _answer_photos(request, Owner(batch_id=batch_id), sent, context, session, shop, save)


@router.post("/batches/{batch_id}/events/{event_id}/photos")
def answer_event_photos(
    request: Request,
    batch_id: RecordId,
    event_id: RecordId,
    sent: SentForm,
    context: Context,
    session: Reading,
    shop: CurrentShop,
    save: Saving,
) -> Response:
    """Keep photos of something that happened in a batch."""
    owner = Owner(batch_id=batch_id, event_id=event_id)
    return _answer_photos(request, owner, sent, context, session, shop, save)


def _answer_photos(
    request: Request,
    owner: Owner,
    sent: Sent,
    context: Context,
    session: Session,
    shop: ShopView,
    saver: Saver,
) -> Response:
    """Keep the photos that can be kept, and say of each other one why not."""
    album = view_album(session, owner, showing_of(shop))
    pictures, refused = _sort(context, sent)
    if pictures:
        with saver(form_id_of(sent.raw)) as work:
            photos.add_photos(work, owner, pictures)
            work.answered_at(owner.href)
    if not refused:
        return saved(request, owner.href)
    view = replace(album, refused=refused, kept=len(pictures), back_href=owner.href)
    return page(request, "pages/photos_refused.html", view, 422, here=HERE)


def _sort(context: Context, sent: Sent) -> tuple[list[KeptPicture], tuple[str, ...]]:
    """Write what can be kept to the disk; return it, and what is wrong with the rest."""
    if not sent.files:
        return [], (NONE_PICKED,)
    if len(sent.files) > MOST_AT_ONCE:
        return [], (TOO_MANY,)
    pictures, refused = [], []
    for file in sent.files:
        try:
            picture = prepare(file.file, file.size or 0)
        except NotAPhoto as problem:
            refused.append(f"{shown_name(file)}: {problem}")
        else:
            pictures.append(keep_picture(context.settings.data_folder, picture))
    return pictures, tuple(refused)


@router.get("/photos/{sha256}-small.jpg")
def show_small_picture(sha256: str, context: Context, session: Reading) -> Response:
    """Answer with the thumbnail of a photo."""
    return _picture(context, session, sha256, small=True)


@router.get("/photos/{sha256}.jpg")
def show_picture(sha256: str, context: Context, session: Reading) -> Response:
    """Answer with the picture of a photo."""
    return _picture(context, session, sha256)


def _picture(context: Context, session: Session, sha256: str, small: bool = False) -> Response:
    if not is_shown(session, sha256):
        raise NotFound("photo", 0)
    file = photo_file(context.settings.data_folder, sha256, small)
    return FileResponse(file, media_type="image/jpeg", headers={"Cache-Control": KEEP_FOR_GOOD})


def _show(
    request: Request,
    session: Session,
    shop: ShopView,
    photo_id: int,
    state: FormState[CaptionForm],
    status: int = 200,
    conflict: Conflict | None = None,
) -> Response:
    view = view_photo(session, photo_id, showing_of(shop))
    return page(request, "pages/photo.html", view, status, here=HERE, state=state, conflict=conflict)


@router.get("/photos/{photo_id}")
def show_photo(
    request: Request, photo_id: RecordId, session: Reading, shop: CurrentShop, units: ShopUnits
) -> Response:
    """Show one photo."""
    view = view_photo(session, photo_id, showing_of(shop))
    state = form_of(CaptionForm, {"caption": view.caption}, units, version=view.version)
    return _show(request, session, shop, photo_id, state)


@router.post("/photos/{photo_id}")
def answer_caption(
    request: Request,
    photo_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Write under a photo what it shows."""
    state = read_form(CaptionForm, raw, units)

    def act(work: UnitOfWork, form: CaptionForm) -> str:
        return photos.href_of(photos.change_caption(work, photo_id, form.caption, state.version))

    def show(again: FormState[CaptionForm], status: int, conflict: Conflict | None) -> Response:
        return _show(request, session, shop, photo_id, again, status, conflict)

    return answer_form(Save(request, save, show, f"photo-{photo_id}"), state, act)


@router.post("/photos/{photo_id}/remove")
def answer_remove(request: Request, photo_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a photo in the bin."""

    def act(work: UnitOfWork) -> str:
        return photos.owner_of(photos.remove_photo(work, photo_id, version_of(raw))).href

    return answer_button(request, save, raw, act, "The photo was removed.", f"/photos/{photo_id}/put-back")


@router.post("/photos/{photo_id}/put-back")
def answer_put_back(request: Request, photo_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a photo out of the bin."""

    def act(work: UnitOfWork) -> str:
        return photos.owner_of(photos.put_back_photo(work, photo_id)).href

    return answer_button(request, save, raw, act)
