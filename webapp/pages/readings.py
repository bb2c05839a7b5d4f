"""Readings of a part or coupon: the first view, one form a kind, and putting one right."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from webapp.dependencies import RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.answers import first
from webapp.forms.kit import Form, FormState, Units, blank_form, form_of, read_form
from webapp.forms.readings import READING_FORMS, FirstReadingForm, ReadingForm, scale_taken
from webapp.pages.saving import FormPage, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import version_of
from webapp.services import readings
from webapp.services.cautions import cautions_for
from webapp.services.choices import reading_choices
from webapp.services.item_entries import ItemHead, item_head
from webapp.services.next_piece import NextPiece, next_after
from webapp.services.reading_entries import first_entries, reading_entry, reading_for_edit
from webapp.services.reading_words import KIND_WORDS
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
FIRST = "first"
BROKEN = (FIRST, "depth", "bend")
SEEN_BY_EYE = (FIRST, "depth")
KindName = Annotated[str, Query(pattern="^(" + "|".join([FIRST, *READING_FORMS]) + ")$")]


def form_for(kind: str) -> type[ReadingForm]:
    """Return the form of a kind of reading; the first view asks for the likeliest two."""
    return READING_FORMS.get(kind, FirstReadingForm)


def new_page(item_id: int, head: ItemHead, kind: str, following: NextPiece | None) -> FormPage:
    """Return the words of the page of a new reading, and the piece to go on with."""
    here = f"/items/{item_id}/readings/new"
    others = tuple(
        (KIND_WORDS[other], f"{here}?kind={other}")
        for other in READING_FORMS
        if other != kind and (other != "size" or head.kind == "part")
    )
    if kind in SEEN_BY_EYE:
        others = (("Measure it on a photo", f"/items/{item_id}#photos-title"), *others)
    return FormPage(
        title="Add a reading" if kind == FIRST else KIND_WORDS[kind],
        over=head.words,
        lead="Either of these is enough; what you leave empty is not kept." if kind == FIRST else "",
        action=f"{here}?kind={kind}",
        draft=f"item-{item_id}-reading-{kind}",
        back_href=f"/items/{item_id}",
        go="Save the reading",
        cautions=cautions_for("break") if kind in BROKEN else (),
        more=others,
        more_words="Something else was measured",
        then_words=f"Save, then measure {following.words}" if following else "",
    )


@router.get("/items/{item_id}/readings/new")
def show_new(
    request: Request, item_id: RecordId, session: Reading, units: ShopUnits, kind: KindName = FIRST
) -> Response:
    """Show the form of a new reading."""
    offered = readings.offered_for(session, item_id, kind)
    state = blank_form(form_for(kind), units, offered).with_choices(reading_choices(session, kind))
    view = new_page(item_id, item_head(session, item_id), kind, next_after(session, item_id))
    return show_form(request, view, state)


@router.post("/items/{item_id}/readings/new")
def answer_new(
    request: Request,
    item_id: RecordId,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
    kind: KindName = FIRST,
) -> Response:
    """Save a new reading."""
    model: type[Form] = form_for(kind)
    state = read_form(model, scale_taken(raw), units).with_choices(reading_choices(session, kind))
    following = next_after(session, item_id)

    def act(work: UnitOfWork, form: Form) -> str:
        readings.add_readings(work, item_id, _entries(kind, form, state, units))
        return following.href if following and first(raw, "then") == "next" else f"/items/{item_id}"

    view = new_page(item_id, item_head(session, item_id), kind, following)
    return answer_form(on_page(request, save, view), state, act)


def _entries(kind: str, form: Form, state: FormState[Any], units: Units) -> list[readings.ReadingEntry]:
    """Return what a form of one kind, or the first view, holds."""
    if isinstance(form, FirstReadingForm):
        return first_entries(form, state.typed)
    if isinstance(form, ReadingForm):
        return [reading_entry(kind, form, state.typed, units.length)]
    raise TypeError(f"{type(form).__name__} holds no reading")


def edit_page(reading_id: int, kind: str, item_href: str) -> FormPage:
    """Return the words of the page that puts a reading right."""
    href = f"/readings/{reading_id}"
    return FormPage(f"Correct: {KIND_WORDS[kind].lower()}", href, f"reading-{reading_id}", item_href)


@router.get("/readings/{reading_id}")
def show_edit(request: Request, reading_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form that puts a reading right."""
    known = reading_for_edit(session, reading_id)
    form = READING_FORMS[known.kind]
    state = form_of(form, known.values, units, typed=known.typed, version=known.version)
    view = edit_page(reading_id, known.kind, known.item_href)
    return show_form(request, view, state.with_choices(reading_choices(session, known.kind)))


@router.post("/readings/{reading_id}")
def answer_edit(
    request: Request, reading_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Put a reading right."""
    known = reading_for_edit(session, reading_id)
    model = READING_FORMS[known.kind]
    state = read_form(model, scale_taken(raw), units).with_choices(reading_choices(session, known.kind))

    def act(work: UnitOfWork, form: ReadingForm) -> str:
        entry = reading_entry(known.kind, form, state.typed, units.length)
        readings.change_reading(work, reading_id, entry, state.version)
        return known.item_href

    view = edit_page(reading_id, known.kind, known.item_href)
    return answer_form(on_page(request, save, view), state, act)


@router.post("/readings/{reading_id}/remove")
def answer_remove(
    request: Request, reading_id: RecordId, raw: RawForm, session: Reading, save: Saving
) -> Response:
    """Put a reading in the bin."""
    item_href = reading_for_edit(session, reading_id).item_href

    def act(work: UnitOfWork) -> str:
        readings.remove_reading(work, reading_id, version_of(raw))
        return item_href

    undo = f"/readings/{reading_id}/put-back"
    return answer_button(request, save, raw, act, "The reading was removed.", undo)


@router.post("/readings/{reading_id}/put-back")
def answer_put_back(request: Request, reading_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a reading out of the bin."""

    def act(work: UnitOfWork) -> str:
        return f"/items/{readings.put_back_reading(work, reading_id).item_id}"

    return answer_button(request, save, raw, act)
