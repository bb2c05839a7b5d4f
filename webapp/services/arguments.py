"""What this log says about the arguments: effects, batches on each side, what else differed, a fair trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any

from sqlmodel import Session, col, select

from model.argument_trial import Scatter
from model.arguments import Effect
from webapp.services.argument_book import BatchFacts, facts_of, on_sides
from webapp.services.argument_counts import CountView, SealView, view_counts, view_seals
from webapp.services.argument_differs import THINGS, Differs, what_differs
from webapp.services.argument_list import ARGUMENTS, BY_KEY, Argument
from webapp.services.argument_words import TAGS, EffectView, effect_of, trial_words, view_effect
from webapp.services.fitting import newest_summary
from webapp.services.observations import load_newest
from webapp.services.showing import Showing, plural
from webapp.services.whole_book import by_id
from webapp.store.tables import Bar, Bath, Change

MOST_LINKS, FEW_LINKS = 12, 5
NOTHING_YET = ("nothing to compare", "")
COUNTED = ("counted, no difference seen", "done")


@dataclass(frozen=True)
class WayView:
    """One way of doing it: its batches as links, and what is said for it."""

    way: str
    counted: str
    batches: tuple[tuple[int, str], ...]
    more: str
    said: str
    source: str


@dataclass(frozen=True)
class ArgumentView:
    """One argument as its card."""

    key: str
    question: str
    tag: str
    look: str
    nothing: str
    effects: tuple[EffectView, ...]
    counts: tuple[CountView, ...]
    ways: tuple[WayView, ...]
    differs: tuple[str, ...]
    trial: tuple[str, ...]
    how: str
    is_offered: bool
    caution: str
    reckoned: str


@dataclass(frozen=True)
class ArgumentsView:
    """The page: every argument, and how seals did."""

    cards: tuple[ArgumentView, ...]
    seals: tuple[SealView, ...]
    looks: int
    batches: int


@dataclass(frozen=True)
class _Book:
    """What the page is made from."""

    facts: tuple[BatchFacts, ...]
    effects: tuple[Effect, ...]
    scatter: Mapping[str, Scatter]
    is_asked: bool
    showing: Showing


def view_arguments(session: Session, showing: Showing) -> ArgumentsView:
    """Return what the logbook says of each argument; effects are those of the newest fit."""
    facts = _facts(session)
    newest = newest_summary(session)
    argued: Mapping[str, Any] = (newest.summary.get("argued") if newest else None) or {}
    effects = tuple(effect_of(one) for one in argued.get("effects", ()) if one["argument"] in BY_KEY)
    scatter = {key: Scatter(**one) for key, one in argued.get("scatter", {}).items()}
    book = _Book(facts, effects, scatter, bool(argued), showing)
    return ArgumentsView(
        cards=tuple(_card(argument, book) for argument in ARGUMENTS),
        seals=view_seals(facts),
        looks=len(effects),
        batches=len(facts),
    )


def _facts(session: Session) -> tuple[BatchFacts, ...]:
    """Return the facts of the batches that a fit learns from; kept until anything is saved."""
    last = session.exec(
        select(Change.id, Change.happened_at).order_by(col(Change.id).desc()).limit(1)
    ).first()
    key = (str(session.get_bind()), *(last or ()))
    with _reading:
        if key not in _KEPT_FACTS:
            facts = facts_of(load_newest(session), by_id(session, Bath), by_id(session, Bar))
            _KEPT_FACTS.clear()
            _KEPT_FACTS[key] = facts
        return _KEPT_FACTS[key]


_KEPT_FACTS: dict[tuple[object, ...], tuple[BatchFacts, ...]] = {}
_reading = Lock()


def _card(argument: Argument, book: _Book) -> ArgumentView:
    first, second = on_sides(book.facts, argument.key)
    differs = what_differs(argument, first, second, book.showing)
    instead = [one.instead for one in differs if one.is_always]
    own = [one for one in book.effects if one.argument == argument.key]
    effects = tuple(view_effect(one, argument, len(book.effects), instead, book.showing) for one in own)
    counts = view_counts(argument, book.facts, book.showing)
    most = MOST_LINKS if first and second else FEW_LINKS
    is_compared = bool(effects) or any(count.words for count in counts)
    tag, look = (effects[0].tag, effects[0].look) if effects else NOTHING_YET
    if not effects and is_compared:
        tag, look = next((TAGS[count.differs] for count in counts if count.differs), COUNTED)
    return ArgumentView(
        key=argument.key,
        question=argument.question,
        tag=tag,
        look=look,
        nothing="" if is_compared else _nothing(argument, first, second, book.is_asked),
        effects=effects,
        counts=counts,
        ways=tuple(_way(argument, side, on, most) for side, on in enumerate((first, second))),
        differs=(*(one.words for one in differs), *_doubts(argument, own, differs)),
        trial=_trial(argument, own, bool(instead), book),
        how=argument.how,
        is_offered=not argument.caution,
        caution=argument.caution,
        reckoned=argument.reckoned if effects else "",
    )


def _nothing(
    argument: Argument, first: Sequence[BatchFacts], second: Sequence[BatchFacts], is_asked: bool
) -> str:
    """Say why nothing can be compared."""
    counts = (len(first), len(second))
    if not any(counts):
        return "Nothing in the log says which way it was done."
    if all(counts) and not is_asked:
        return "Both ways are in the log; what their readings say is still to be worked out."
    if all(counts):
        return "Both ways are in the log, but nothing was read on both that would tell."
    side = 0 if counts[0] else 1
    every = "the one batch" if counts[side] == 1 else f"all {counts[side]} batches"
    return f"Nothing to compare: {argument.ways[side]} in {every}."


def _way(argument: Argument, side: int, on: Sequence[BatchFacts], most: int) -> WayView:
    shown = on[-most:]
    said, source = argument.said[side]
    return WayView(
        way=argument.ways[side],
        counted=plural(len(on), "batch", "batches"),
        batches=tuple((one.number, f"/batches/{one.batch_id}") for one in shown),
        more=f"and {len(on) - len(shown)} before them" if len(on) > len(shown) else "",
        said=said,
        source=source,
    )


def _doubts(argument: Argument, own: Sequence[Effect], differs: Sequence[Differs]) -> tuple[str, ...]:
    """Say whose own doubt makes most of the band, where it was not named already."""
    named = {one.key for one in differs}
    found = [
        key for effect in own for key in effect.mixed_with if key not in named and key not in argument.implied
    ]
    words = {key: f"the {THINGS[key]}" for key in THINGS} | {
        one.key: f"{one.ways[0]} or {one.ways[1]}" for one in ARGUMENTS
    }
    return tuple(
        f"much of the doubt is {words[key]}, which changed with it"
        for key in dict.fromkeys(found)
        if key in words
    )


def _trial(argument: Argument, own: Sequence[Effect], is_mixed: bool, book: _Book) -> tuple[str, ...]:
    """Say how often the trial must be run for each outcome; nothing of a trial that is not offered."""
    if argument.caution:
        return ()
    by_outcome = {effect.outcome: effect for effect in own}
    return tuple(
        trial_words(
            argument, outcome, by_outcome.get(outcome), book.scatter.get(outcome), is_mixed, book.showing
        )
        for outcome in argument.outcomes
    )
