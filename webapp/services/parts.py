"""Parts: what the shop makes, what case it wants, and what came of it so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from webapp.forms.ask import Choice
from webapp.forms.numbers import amount
from webapp.forms.own_lines import but_own, own_answers
from webapp.forms.parts import (
    DEFINITIONS,
    DUTIES,
    SHAPES,
    SOFT_AREAS,
    SOFT_KEPT,
    PartForm,
    section_thickness,
)
from webapp.services.bars import bar_choices, bar_warnings
from webapp.services.batch_rows import get_row, kept, last_of, row_id
from webapp.services.bow_history import BowView, view_bows
from webapp.services.duty_advice import (
    MOST_GROUND_SHARE,
    CaseAdvice,
    advise_case,
    deepest_case,
)
from webapp.services.own_lines import merged
from webapp.services.plan_no_case import soak_in_words
from webapp.services.proved_jobs import proved_job
from webapp.services.sheets import CardView as CardView
from webapp.services.sheets import (
    Line,
    NotAccepted,
    Removal,
    SheetKind,
    card_of,
    get_from_sheet,
    own_lines_of,
    with_own,
)
from webapp.services.showing import Showing
from webapp.services.step_rules import STATE_WORDS
from webapp.services.words import label_of, labels_of, length_text, range_text, sizes_text
from webapp.store.errors import NotFound
from webapp.store.tables import Bar, Batch, Item, OwnLine, Part, Plan
from webapp.store.unit_of_work import UnitOfWork

SIZE_WORDS = {"plate": "thick", "rod": "round", "tube": "outside"}


@dataclass(frozen=True)
class Link:
    """A line that leads on to a plan or a batch."""

    words: str
    more: str
    href: str


@dataclass(frozen=True)
class AdviceView:
    """What case is usual for a part, and why."""

    window: str
    hardness: str
    reasons: tuple[str, ...]
    source: str


@dataclass(frozen=True)
class PartView:
    """A part on its own page."""

    card: CardView
    plan_href: str
    advice: AdviceView
    plans: tuple[Link, ...]
    batches: tuple[Link, ...]
    bows: tuple[BowView, ...]
    proved: str = ""


@dataclass(frozen=True)
class PartsView:
    """The list of parts; `has_bars` is false while there is nothing to make them from."""

    cards: tuple[CardView, ...]
    has_bars: bool


def part_fields(form: PartForm) -> dict[str, Any]:
    """Return the row's fields of a part form; blank depths take what is usual."""
    fields = but_own(form)
    if not form.soft_area:
        fields["soft_kept"] = ""  # a picked button cannot be let go of
    if form.wanted_depth_low_m is None:
        advice = advise_case(form.thickness_m, form.duties)
        fields["wanted_depth_low_m"] = advice.depth_low_m
        fields["wanted_depth_high_m"] = advice.depth_high_m
    return fields


def part_values(part: Part) -> dict[str, Any]:
    """Return a part's fields as its form takes them; depths that were advised stay blank."""
    values = {name: getattr(part, name) for name in PartForm.model_fields}
    advice = advise_case(section_thickness(part.size_m, part.bore_m), part.duties)
    as_advised = (advice.depth_low_m, advice.depth_high_m)
    if "wanted_depth_low_m" not in part.typed and as_advised == (
        part.wanted_depth_low_m,
        part.wanted_depth_high_m,
    ):
        values["wanted_depth_low_m"] = values["wanted_depth_high_m"] = None
    return values


def part_lines(part: Part, showing: Showing) -> tuple[Line, ...]:
    """Return what a part's card says, but for its bar."""
    depth = range_text(showing, part.wanted_depth_low_m, part.wanted_depth_high_m)
    lines = [
        Line("Section", _section_text(part, showing)),
        Line("Must stand", labels_of(DUTIES, part.duties).lower()),
        Line("Case", f"{depth}, {label_of(DEFINITIONS, part.depth_definition).lower()}"),
    ]
    if part.grind_m > 0:
        lines.append(Line("To grind off", f"{length_text(showing, part.grind_m)} each face"))
    if part.soft_area:
        kept_soft = label_of(SOFT_KEPT, part.soft_kept).lower()
        lines.append(Line("Stays soft", f"{label_of(SOFT_AREAS, part.soft_area).lower()}: {kept_soft}"))
    if part.wanted_hardness_HRC is not None:
        lines.append(Line("Skin", f"{amount(part.wanted_hardness_HRC, '', 'number')} HRC"))
    return tuple(lines)


def part_warnings(part: Part) -> tuple[str, ...]:
    """Return what a part's page warns of: a case too deep for the section, too much to grind away."""
    thickness_m = section_thickness(part.size_m, part.bore_m)
    found = []
    if part.wanted_depth_high_m + part.grind_m > deepest_case(thickness_m, part.duties) * 1.001:
        found.append("The case is deep for this section: little tough core is left. It may snap.")
    if part.grind_m > MOST_GROUND_SHARE * part.wanted_depth_low_m:
        found.append("Much of the case is ground away, and it is the hardest of it. Machine closer first.")
    return tuple(found)


def view_parts(session: Session, showing: Showing) -> PartsView:
    """Return all parts with their bars."""
    bars = {row_id(bar): bar for bar in session.exec(select(Bar))}
    own = own_lines_of(session, PARTS)
    cards = tuple(_part_card(session, part, bars, own, showing) for part in kept(session, Part))
    return PartsView(cards, any(bar.deleted_at is None for bar in bars.values()))


def view_part(session: Session, part_id: int, showing: Showing) -> PartView:
    """Return a part with its plans and batches."""
    part = get_row(session, Part, part_id)
    bar = session.get(Bar, part.bar_id)
    bars = {} if bar is None else {part.bar_id: bar}
    return PartView(
        _part_card(session, part, bars, own_lines_of(session, PARTS), showing),
        f"/plans/new?part={part_id}",
        advice_view(advise_case(section_thickness(part.size_m, part.bore_m), part.duties), showing),
        _plan_links(session, part_id, showing),
        _batch_links(session, part_id, showing),
        view_bows(session, part.shape, showing),
        _proved(session, part),
    )


def _proved(session: Session, part: Part) -> str:
    """Return which batches proved a part's job; empty for one that did not come right twice."""
    job = proved_job(session, part)
    return ", ".join(f"batch {run.rows.batch.number}" for run in job.right) if job else ""


def advice_view(advice: CaseAdvice, showing: Showing) -> AdviceView:
    """Return the usual case as a page shows it."""
    return AdviceView(
        range_text(showing, advice.depth_low_m, advice.depth_high_m),
        f"{amount(advice.hardness_HRC, '', 'number')} HRC",
        advice.reasons,
        advice.source,
    )


def part_choices(session: Session) -> Mapping[str, tuple[Choice, ...]]:
    """Return the bars a part can be made from."""
    return {"bar_id": bar_choices(session)}


def part_defaults(session: Session) -> Mapping[str, Any]:
    """Return what a new part's form offers: the bar used last, or the first of the rack."""
    last = last_of(session, Part)
    offered = [choice.value for choice in bar_choices(session)]
    used = str(last.bar_id) if last else ""
    bar = used if used in offered else next(iter(offered), "")
    return {**PARTS.defaults, "bar_id": bar}


def add_part(work: UnitOfWork, form: PartForm, typed: Mapping[str, str]) -> str:
    """Save a new part; return its page."""
    _check_bar(work.session, form)
    own = merged({}, own_answers(form))
    row = work.add(Part(**part_fields(form), own_lines=own, typed=dict(typed)))
    location = PARTS.href(row_id(row))
    work.answered_at(location)
    return location


def change_part(
    work: UnitOfWork, part_id: int, form: PartForm, typed: Mapping[str, str], version: int | None
) -> str:
    """Save what was changed on a part, unless it moved on since; return its page."""
    _check_bar(work.session, form)
    row = work.get(Part, part_id)
    work.change(row, version=version, **with_own(row, part_fields(form), form, typed))
    location = PARTS.href(part_id)
    work.answered_at(location)
    return location


def remove_part(work: UnitOfWork, part_id: int, version: int | None) -> Removal:
    """Put a part in the bin; its plans and batches stay."""
    part = work.remove(get_from_sheet(work.session, PARTS, part_id), version=version)
    work.answered_at(PARTS.base)
    return Removal(f"{part.name} was removed.", PARTS.base, f"{PARTS.href(part_id)}/put-back")


def _check_bar(session: Session, form: PartForm) -> None:
    try:
        get_row(session, Bar, form.bar_id)
    except NotFound:
        raise NotAccepted({"bar_id": "This bar is not in the rack any more. Pick another."}) from None


def _part_card(
    session: Session, part: Part, bars: dict[int, Bar], own: Sequence[OwnLine], showing: Showing
) -> CardView:
    card = card_of(session, part, PARTS, showing, own)
    bar = bars.get(part.bar_id)
    if bar is None:
        return card
    lines = (Line("Made from", f"{bar.name} ({bar.grade or 'mystery bar'})"), *card.lines)
    return CardView(
        card.record_id,
        card.name,
        lines,
        card.note,
        card.version,
        card.href,
        is_assumed=card.is_assumed,
        warnings=(*bar_warnings(bar), *card.warnings),
    )


def _section_text(part: Part, showing: Showing) -> str:
    size = length_text(showing, part.size_m)
    text = f"{label_of(SHAPES, part.shape).lower()}, {size} {SIZE_WORDS[part.shape]}"
    if part.shape == "rod":
        text = f"round, {size}"
    if part.bore_m is not None:
        text += f", {length_text(showing, part.bore_m)} bore{' filled with pack' if part.bore_packed else ''}"
    return text if part.length_m is None else f"{text}, {sizes_text(showing, (part.length_m,))} long"


def _plan_links(session: Session, part_id: int, showing: Showing) -> tuple[Link, ...]:
    plans = kept(session, Plan, Plan.part_id == part_id)
    return tuple(
        Link(
            soak_in_words(plan, showing),
            f"planned {showing.day(plan.created_at)}",
            f"/plans/{plan.id}",
        )
        for plan in reversed(plans)
    )


def _batch_links(session: Session, part_id: int, showing: Showing) -> tuple[Link, ...]:
    held = select(Item.batch_id).where(Item.part_id == part_id, col(Item.deleted_at).is_(None))
    planned = select(Plan.id).where(Plan.part_id == part_id)
    belongs = col(Batch.id).in_(held) | col(Batch.plan_id).in_(planned)
    batches = kept(session, Batch, belongs)
    return tuple(
        Link(
            f"Batch {batch.number}",
            f"{showing.day(batch.day)}, {STATE_WORDS.get(batch.state, batch.state)}",
            f"/batches/{batch.id}",
        )
        for batch in reversed(batches)
    )


PARTS = SheetKind(
    key="parts",
    title="Parts",
    one="part",
    teach="A part says what the case must be: from it the app plans the heat and the hours.",
    row=Part,
    form=PartForm,
    fields_of=part_fields,
    values_of=part_values,
    lines_of=part_lines,
    base="/parts",
    defaults={"shape": "rod", "duties": ["wear"]},
    choices_of=part_choices,
    warnings_of=part_warnings,
    about="part",
)
