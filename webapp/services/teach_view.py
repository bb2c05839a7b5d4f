"""What is still unknown, and the coupon that would tell: the panel, from what the worker found."""

from __future__ import annotations

from dataclasses import dataclass, replace

from model.experiment import Weighed, Worth
from webapp.services.cautions import cautions_for
from webapp.services.coupon_reads import BREAK
from webapp.services.showing import Showing
from webapp.services.teach import Question
from webapp.services.teach_advice import LIMITS, advice_of
from webapp.services.teach_answer import Answer, OfferView
from webapp.services.teach_words import LEAST_CUT, capital, cut_of

NOTHING_TO_WEIGH = "None of the coupons that this shop could make can be worked out here."
REPEAT_TEACHES = 0.3  # of the best; a coupon like the last that teaches less is said to teach little


@dataclass(frozen=True)
class UnknownView:
    """One thing that is wanted: how well it is known, what would tell more, and how well it is known then."""

    name: str
    now: str
    floor: str
    best: OfferView | None
    then: str


@dataclass(frozen=True)
class TeachView:
    """The panel; `why_not` says in words why there is none, `is_working` that it is still worked out."""

    href: str
    back_href: str
    pack_words: str
    is_plan: bool
    is_working: bool = False
    why_not: str = ""
    trouble: str = ""
    leads: tuple[str, ...] = ()
    best: OfferView | None = None
    same_fire: OfferView | None = None
    nothing: tuple[str, ...] = ()
    unknown: tuple[UnknownView, ...] = ()
    known: tuple[UnknownView, ...] = ()
    others: tuple[OfferView, ...] = ()
    advice: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def empty_view(plan_id: int | None) -> TeachView:
    """Return a panel in which nothing stands yet."""
    if plan_id is None:
        return TeachView("/forge/teach", "/forge", "Put it into a batch", is_plan=False)
    plan = f"/plans/{plan_id}"
    return TeachView(f"{plan}/teach", plan, "Pack it beside the part", is_plan=True)


def view_teach(asked: Question, found: Weighed, showing: Showing) -> TeachView:
    """Return the panel of an answer."""
    if not found.worths:
        return replace(empty_view(asked.plan_id), why_not=NOTHING_TO_WEIGH)
    answer = Answer(asked, found, showing)
    every = range(len(asked.wanted))
    rows = [_unknown(answer, place) for place in every]
    best, leads = answer.best_for(answer.depths), _leads(asked)
    if not answer.tells(best, answer.depths):
        best, leads = answer.best_for(every), (*leads, _depth_is_known(answer))
    is_told = answer.tells(best, every)
    return replace(
        empty_view(asked.plan_id),
        leads=leads,
        best=answer.view(best, answer.most_moved(best, answer.depths)) if is_told else None,
        same_fire=_same_fire(answer) if asked.plan_id is not None else None,
        nothing=_nothing(answer, best),
        unknown=tuple(row for row in rows if row.best is not None),
        known=tuple(row for row in rows if row.best is None),
        others=answer.others(best),
        advice=advice_of(asked.things, found.luck),
        limits=LIMITS,
        cautions=tuple(dict.fromkeys((*cautions_for("drawn")[:1], *cautions_for("break")))),
    )


def _leads(asked: Question) -> tuple[str, ...]:
    if not asked.coupons:
        return ("Nothing is learnt here yet, so almost any coupon teaches; this is where to begin.",)
    return ("One coupon has spoken so far: much is still open.",) if asked.coupons == 1 else ()


def _depth_is_known(answer: Answer) -> str:
    """Return that no coupon helps the depth, with what is left of its doubt."""
    place = answer.depths[0]
    doubt = answer.found.doubts[place]
    name, floor = answer.asked.wanted[place].name, answer.half(place, doubt.floor)
    return (
        f"No coupon would make the {name} much surer: {answer.now(place)}, and {floor} would stay if all "
        "were learnt, as the luck of each fire. Of other things, this would teach most."
    )


def _unknown(answer: Answer, place: int) -> UnknownView:
    doubt, best = answer.found.doubts[place], answer.best_for([place])
    floor = ""
    if doubt.floor >= LEAST_CUT * doubt.half:
        floor = f"{answer.half(place, doubt.floor)} would stay if all were learnt"
    return UnknownView(
        capital(answer.asked.wanted[place].name),
        answer.now(place),
        floor,
        answer.view(best, [place]) if answer.tells(best, [place]) else None,
        answer.then(place, best),
    )


def _nothing(answer: Answer, best: Worth) -> tuple[str, ...]:
    """Return what would be a waste, where it truly would."""
    return tuple(filter(None, (_hardness_again(answer), _usual_again(answer, best))))


def _hardness_again(answer: Answer) -> str:
    """Return that a hardness alone says nothing of the depth, if so."""
    asked, place = answer.asked, answer.depths[0]
    alone = [
        offer
        for offer in answer.offers.values()
        if offer.pieces
        and offer.pieces[0].bath_id == asked.usual.bath_id
        and [read.kind for read in offer.reads] == ["hardness"]
    ]
    if not alone or any(answer.tells(answer.worths[offer.key], [place]) for offer in alone):
        return ""
    bath = asked.things.baths[asked.usual.bath_id].name
    one = "Another hardness reading" if asked.coupons else "A hardness reading alone"
    return f"{one} out of {bath} would teach nothing of the {asked.wanted[place].name}."


def _usual_again(answer: Answer, best: Worth) -> str:
    """Return that a coupon like the last would teach little, if so."""
    asked = answer.asked
    again = next(
        (one for one in answer.offers.values() if one.pieces == (asked.usual,) and one.reads == (BREAK,)),
        None,
    )
    if again is None or asked.coupons < 2 or again.key == best.trial:
        return ""
    worth = answer.worths[again.key]
    if worth.gain > REPEAT_TEACHES * best.gain:
        return ""
    return f"{answer.say(worth)}, would teach little: the shop has seen its like."


def _same_fire(answer: Answer) -> OfferView | None:
    """Return what a pin that is pulled tells of the very fire that it lies in, before it is over."""
    pulled = [
        worth
        for worth in answer.found.worths
        if len((offer := answer.offers[worth.trial]).pieces) == 1
        and offer.pieces[0].pull_s
        and offer.reads == (BREAK,)
    ]
    place = answer.depths[0]
    doubt = answer.found.doubts[place]
    best = min(pulled, key=lambda worth: worth.same_fire[place], default=None)
    if best is None or cut_of(doubt, best.same_fire[place]) < LEAST_CUT:
        return None
    then, now = answer.half(place, best.same_fire[place]), answer.half(place, doubt.half)
    effect = (
        f"while the box still burns, tells of this very fire: its depth is then known to give or take {then} "
        f"in place of {now}, in time to pull the box early or let it soak on"
    )
    return replace(answer.view(best, []), effects=(effect,))
