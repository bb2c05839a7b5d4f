"""Giving a batch up, and setting a batch, a piece or a reading aside: each with its reason."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from webapp.dependencies import RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import blank_form, read_form
from webapp.forms.readings import SetAsideForm
from webapp.forms.steps import GiveUpForm
from webapp.pages.batch_page import with_version
from webapp.pages.saving import FormPage, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import version_of
from webapp.services import leave_out, steps
from webapp.services.leave_out import LeftOut
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
LONGEST_REASON = 200
FORGE = "forge"


def give_up_page(batch_id: int) -> FormPage:
    """Return the words of the page that ends a batch early."""
    href = f"/batches/{batch_id}"
    return FormPage(
        title="Give this batch up",
        lead="What was noted so far stays in the logbook. A failed batch teaches too, with its reason.",
        action=f"{href}/give-up",
        draft=f"batch-{batch_id}-give-up",
        back_href=href,
        go="Give it up",
    )


@router.get("/batches/{batch_id}/give-up")
def show_give_up(request: Request, batch_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Ask why a batch is given up."""
    version = leave_out.find(session, "batches", batch_id).version
    return show_form(request, give_up_page(batch_id), with_version(blank_form(GiveUpForm, units), version))


@router.post("/batches/{batch_id}/give-up")
def answer_give_up(
    request: Request, batch_id: RecordId, raw: RawForm, units: ShopUnits, save: Saving
) -> Response:
    """End a batch early."""
    state = read_form(GiveUpForm, raw, units)

    def act(work: UnitOfWork, form: GiveUpForm) -> str:
        steps.give_up(work, batch_id, form.why, state.version)
        return f"/batches/{batch_id}"

    return answer_form(on_page(request, save, give_up_page(batch_id)), state, act)


def aside_page(family: str, found: LeftOut, to: str = "") -> FormPage:
    """Return the words of the page that sets something aside; `to` is the page that asked."""
    return FormPage(
        title=f"Set aside: {found.words}",
        lead="It stays in the logbook, but your forge is not judged by it. It can be counted again later.",
        action=f"/{family}/{found.record_id}/set-aside{_asked_by(to)}",
        draft=f"{family}-{found.record_id}-set-aside",
        back_href=_answer_to(to, found),
        go="Set it aside",
    )


def _asked_by(to: str) -> str:
    return f"?to={FORGE}" if to == FORGE else ""


def _answer_to(to: str, found: LeftOut) -> str:
    """Return the page to come back to: the forge's where it asked, else the record's own."""
    return f"/{FORGE}" if to == FORGE else found.href


def known_family(family: str) -> str:
    """Return the family, or say that there is no such page."""
    if family not in leave_out.FAMILIES:
        raise HTTPException(404)
    return family


@router.get("/{family}/{record_id}/set-aside")
def show_set_aside(
    request: Request,
    family: str,
    record_id: RecordId,
    session: Reading,
    units: ShopUnits,
    why: str = "",
    to: str = "",
) -> Response:
    """Ask why something is set aside; `why` is offered as the reason and may be changed."""
    found = leave_out.find(session, known_family(family), record_id)
    offered = {"why": why[:LONGEST_REASON]} if why.isprintable() else {}
    state = with_version(blank_form(SetAsideForm, units, offered), found.version)
    return show_form(request, aside_page(family, found, to), state)


@router.post("/{family}/{record_id}/set-aside")
def answer_set_aside(
    request: Request,
    family: str,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
    to: str = "",
) -> Response:
    """Set something aside; the page it leads to offers to count it again."""
    found = leave_out.find(session, known_family(family), record_id)
    state = read_form(SetAsideForm, raw, units)

    def act(work: UnitOfWork, form: SetAsideForm) -> str:
        leave_out.set_aside(work, family, record_id, form.why, state.version)
        return _answer_to(to, found)

    undo = f"/{family}/{record_id}/take-in{_asked_by(to)}"
    page = on_page(request, save, aside_page(family, found, to))
    return answer_form(page, state, act, f"{found.words} is set aside.", undo)


@router.post("/{family}/{record_id}/take-in")
def answer_take_in(
    request: Request,
    family: str,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    save: Saving,
    to: str = "",
) -> Response:
    """Count something again."""
    found = leave_out.find(session, known_family(family), record_id)

    def act(work: UnitOfWork) -> str:
        leave_out.take_in(work, family, record_id, version_of(raw))
        return _answer_to(to, found)

    return answer_button(request, save, raw, act)
