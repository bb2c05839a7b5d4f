"""A page of tags for pieces out of the fire: number, code, words, at the sizes of the shop's labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from sqlmodel import Session, col, select

from webapp.forms.ask import Choice
from webapp.forms.labels import LabelForm
from webapp.services.batch_rows import get_row, kept, newest, row_id
from webapp.services.item_view import say_section
from webapp.services.label_layout import PAPER_MM, LabelSheet, lines_that_fit
from webapp.services.marking import view_mark
from webapp.services.run_sheet import CodeView, code_of
from webapp.services.sheets import NotAccepted
from webapp.services.shop_address import only_here
from webapp.services.shop_view import SHOP_ID
from webapp.services.showing import Showing
from webapp.services.step_rules import GIVEN_UP, MEASURED
from webapp.services.whole_book import grouped
from webapp.store.tables import Bar, Batch, Item, Shop
from webapp.store.unit_of_work import UnitOfWork

OPEN = "open"
SIZES = ("width", "height", "gap_across", "gap_down", "left", "top")
NEWEST = 40
PAD, LARGEST_CODE, LEAST_MODULE = 1.5, 26.0, 0.3
"""Edge kept free and largest code [mm]; smallest module that a phone reads off common paper, own choice."""
HEAD, BODY, PITCH = 4.6, 2.5, 3.1
"""Height of the number and of the words, and from line to line [mm]."""
MOST_CODE_SHARE = 0.48
TOO_SMALL = "The code is too small to be read on such a label: take a larger one, or leave the code out."


@dataclass(frozen=True)
class LabelView:
    """One tag: its corner and size [mm], what stands on it, and its code with the code's size."""

    x: float
    y: float
    head: str
    lines: tuple[str, ...]
    code: CodeView | None
    text_x: float
    address: str


@dataclass(frozen=True)
class LabelPagesView:
    """The pages of tags, and what to know before printing them."""

    paper: str
    wide: float
    high: float
    label_wide: float
    label_high: float
    code_size: float
    pages: tuple[tuple[LabelView, ...], ...]
    warnings: tuple[str, ...]


def which_choices(session: Session) -> dict[str, tuple[Choice, ...]]:
    """Return the batches whose pieces can be tagged, the newest first."""
    batches = newest(session, Batch, NEWEST)
    one_each = (Choice(str(batch.id), f"Batch {batch.number}") for batch in batches)
    return {"which": (Choice(OPEN, "All batches not finished"), *one_each)}


def label_values(session: Session, batch_id: int | None) -> dict[str, Any]:
    """Return what the form of tags offers: the sheet used last."""
    sheet, with_code = _kept_sheet(session)
    sizes = {f"{name}_m": getattr(sheet, name) / 1000.0 for name in SIZES}
    which = OPEN if batch_id is None else str(batch_id)
    return sizes | {"paper": sheet.paper, "which": which, "with_code": with_code}


def keep_labels(work: UnitOfWork, form: LabelForm) -> str:
    """Remember a sheet of labels; return the address of its tags, or raise `NotAccepted`."""
    sizes = {name: round(1000.0 * getattr(form, f"{name}_m"), 3) for name in SIZES}
    sheet = LabelSheet(paper=form.paper, **sizes)
    _refuse_misfit(sheet, form.skip)
    shop = work.get(Shop, SHOP_ID)
    work.change(shop, label_sheet=asdict(sheet) | {"with_code": form.with_code})
    return f"/labels/sheet?which={form.which}&skip={form.skip}"


def _refuse_misfit(sheet: LabelSheet, skip: int) -> None:
    wide, high = PAPER_MM[sheet.paper]
    if not sheet.columns:
        raise NotAccepted({"width_m": f"With its margins it is wider than {wide:g} mm of paper."})
    if not sheet.rows:
        raise NotAccepted({"height_m": f"With its margins it is higher than {high:g} mm of paper."})
    if skip >= sheet.on_a_page:
        words = f"One such sheet has {sheet.on_a_page} labels. Skip fewer, or take a new sheet."
        raise NotAccepted({"skip": words})


@dataclass(frozen=True)
class _Press:
    """What every tag of a page shares: its sheet, how large codes are [mm], the address they begin with."""

    sheet: LabelSheet
    code_size: float
    base: str
    is_demo: bool
    showing: Showing


def view_labels(
    session: Session, which: str, skip: int, base: str, is_demo: bool, showing: Showing
) -> LabelPagesView:
    """Return the tags of some pieces on the shop's label sheet; base : the address that codes begin with."""
    sheet, with_code = _kept_sheet(session)
    largest = min(sheet.height - 2 * PAD, MOST_CODE_SHARE * sheet.width, LARGEST_CODE)
    press = _Press(sheet, largest if with_code else 0.0, base, is_demo, showing)
    bars = {bar.id: bar.name for bar in session.exec(select(Bar))}
    pages: dict[int, list[LabelView]] = {}
    first = min(max(skip, 0), sheet.on_a_page - 1)
    for place, (batch, item) in enumerate(_pieces(session, which), start=first):
        label = _label(press, place, batch, item, bars.get(item.bar_id, ""))
        pages.setdefault(sheet.corner(place)[0], []).append(label)
    found = tuple(tuple(labels) for labels in pages.values())
    return LabelPagesView(
        sheet.paper,
        *PAPER_MM[sheet.paper],
        sheet.width,
        sheet.height,
        press.code_size,
        found,
        _warnings(found, press.code_size, base),
    )


def _label(press: _Press, place: int, batch: Batch, item: Item, bar: str) -> LabelView:
    sheet = press.sheet
    _, x, y = sheet.corner(place)
    address = f"{press.base}/items/{item.id}"
    text_x = PAD + (press.code_size + PAD if press.code_size else 0.0)
    wide, high = sheet.width - text_x - PAD, sheet.height - 2 * PAD - HEAD
    lines = lines_that_fit(_words(item, batch, bar, press), wide, high, BODY, PITCH)
    code = code_of(address) if press.code_size else None
    return LabelView(x, y, f"{batch.number} {item.mark}", tuple(lines), code, text_x, address)


def _kept_sheet(session: Session) -> tuple[LabelSheet, bool]:
    """Return the sheet that was used last, the usual one at first, and whether codes were on it."""
    shop = session.get(Shop, SHOP_ID)
    told = shop.label_sheet if shop else {}
    sheet = LabelSheet(**{name: told.get(name, usual) for name, usual in asdict(LabelSheet()).items()})
    return sheet, bool(told.get("with_code", True))


def _warnings(pages: Sequence[Sequence[LabelView]], code_size: float, base: str) -> tuple[str, ...]:
    if not pages:
        return ("There is nothing to tag: no piece lies in these batches.",)
    codes = [label.code for labels in pages for label in labels if label.code is not None]
    if not codes:
        return ()
    is_small = any(code_size / code.size < LEAST_MODULE for code in codes)
    return tuple(words for words in (TOO_SMALL if is_small else "", only_here(base)) if words)


def _pieces(session: Session, which: str) -> list[tuple[Batch, Item]]:
    """Return the pieces of a batch, or of all that are not finished, in the order of their batches."""
    if which == OPEN:
        batches = kept(session, Batch, col(Batch.state).not_in((MEASURED, GIVEN_UP)))
    else:
        batches = [get_row(session, Batch, int(which))]
    packed = grouped(
        kept(session, Item, col(Item.batch_id).in_([row_id(batch) for batch in batches])),
        lambda item: item.batch_id,
    )
    return [(batch, item) for batch in batches for item in packed[row_id(batch)]]


def _words(item: Item, batch: Batch, bar: str, press: _Press) -> tuple[str, ...]:
    """Return what stands under the number, the most telling first; p42 is its number in the logbook."""
    mark = view_mark(item)
    how_many = f" × {item.count}" if item.count > 1 else ""
    return (
        f"{item.name}{how_many} (p{item.id})",
        f"{say_section(item, press.showing)}, {bar}",
        mark.words if mark else "",
        press.showing.day(batch.day),
        "invented demo" if press.is_demo else "",
    )
