"""A reading that a program sends: by the form of its kind, so that it is held to the same and kept alike."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager

from sqlmodel import Session

from webapp.forms.json_error import ErrorItem, Refused
from webapp.forms.kit import Units, read_form
from webapp.forms.logbook_output import SavedReadingAnswer
from webapp.forms.reading_input import AnyReadingInput, DepthInput, HardnessInput, TraverseInput
from webapp.forms.readings import READING_FORMS
from webapp.services.batch_rows import get_row, row_id
from webapp.services.choices import reading_choices
from webapp.services.reading_entries import reading_entry
from webapp.services.readings import ReadingEntry, add_readings, usual_after_of
from webapp.services.step_rules import StepRefused
from webapp.store.errors import AlreadySaved, NotFound
from webapp.store.tables import Item
from webapp.store.unit_of_work import UnitOfWork

PAGE = re.compile(r"/items/(\d+)#reading-(\d+)")
IN_MM = Units(temperature="C", length="mm", mass="g", zone="UTC")
ADVICE = "Correct this field and send it again under the same key."
OTHER_KEY = "Take a fresh key for each reading, and send the same one only to try the same reading again."
Save = Callable[[str | None], AbstractContextManager[UnitOfWork]]
SentReading = HardnessInput | DepthInput | TraverseInput


def save_reading(
    session: Session, save: Save, coupon_id: int, sent: SentReading, key: str
) -> SavedReadingAnswer:
    """Keep one reading of a coupon under a one-use key; the same key again is answered as the first time."""
    item = get_row(session, Item, coupon_id)
    if item.kind != "coupon":
        raise NotFound("coupon", coupon_id)
    entry = _entry(sent, usual_after_of(session, coupon_id))
    _check_tester(session, sent, entry)
    try:
        with save(key) as work:
            (row,) = add_readings(work, coupon_id, [entry])
            page = f"/items/{coupon_id}#reading-{row_id(row)}"
            work.answered_at(page)
    except StepRefused as problem:
        raise _refused(sent, {problem.field: problem.message}) from None
    except AlreadySaved as problem:
        page = problem.location
    return _answer(coupon_id, page)


def _entry(sent: SentReading, usual_after: str) -> ReadingEntry:
    state = read_form(READING_FORMS[sent.kind], {"after": usual_after, **sent.raw()}, IN_MM)
    if state.value is None:
        raise _refused(sent, state.errors)
    try:
        return reading_entry(sent.kind, state.value, state.typed, IN_MM.length)
    except StepRefused as problem:
        raise _refused(sent, {problem.field: problem.message}) from None


def _check_tester(session: Session, sent: SentReading, entry: ReadingEntry) -> None:
    """Refuse a tester that the form of this reading would not offer."""
    offered = reading_choices(session, sent.kind)["instrument_id"]
    if entry.instrument_id is not None and str(entry.instrument_id) not in {one.value for one in offered}:
        have = ", ".join(f"{one.value} ({one.label})" for one in offered) or "none"
        words = f"{entry.instrument_id} is no tester of the shop for this. It has: {have}."
        raise _refused(sent, {"instrument_id": words})


def _refused(sent: AnyReadingInput, errors: Mapping[str, str]) -> Refused:
    named = {sent.ours.get(field, field): words for field, words in errors.items()}
    return Refused([ErrorItem(path=path, what=words, advice=ADVICE) for path, words in named.items()])


def _answer(coupon_id: int, page: str) -> SavedReadingAnswer:
    told = PAGE.fullmatch(page)
    if told is None or int(told[1]) != coupon_id:
        what = "this key was used for something else"
        raise Refused([ErrorItem(path="Idempotency-Key", what=what, advice=OTHER_KEY)])
    return SavedReadingAnswer(coupon_id=coupon_id, reading_id=int(told[2]), page=page)
