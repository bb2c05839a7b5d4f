"""The coupon that would teach most: asked of the worker, and worded for This forge and for a plan."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Final

from sqlmodel import Session

from model import MODEL_VERSION
from model.belief import ShopBelief
from model.errors import ModelError
from model.experiment import Trial
from model.process import Process
from webapp.services.batch_rows import get_row
from webapp.services.coupon_asked import CouponAsked
from webapp.services.coupon_offers import Offer, forge_offers, plan_offers, usual_coupon
from webapp.services.coupon_shop import Piece, ShopThings, things_of
from webapp.services.coupon_trials import trial_of
from webapp.services.fitting import current_belief
from webapp.services.plan_no_case import is_no_case
from webapp.services.plan_sums import Believed
from webapp.services.sheets import NotAccepted
from webapp.services.teach_wants import Wanted, forge_wants, plan_asked
from webapp.store.errors import NotFound
from webapp.store.tables import Plan

JOB: Final = "webapp.services.teach_job:run_weigh"
NO_COUPON_HERE = "This plan packs nothing, so nothing can lie beside it."
NO_LONGER = "Something this plan was made with is no longer in the shop. Plan it again first."
NOT_OFFERED = (
    "No coupon is offered beside this plan: its box does not fit the forge, or its mix may not be used. "
    "Plan it again with others first."
)


@dataclass(frozen=True)
class Question:
    """What is asked of the worker, and what its answer is about.

    usual : the coupon that the words take for granted; plan_id : of the plan, None for the forge
    """

    things: ShopThings
    wanted: tuple[Wanted, ...]
    offers: tuple[Offer, ...]
    trials: tuple[Trial, ...]
    belief: ShopBelief
    usual: CouponAsked
    plan_id: int | None = None
    coupons: int = 0

    @property
    def mark(self) -> str:
        """What tells this question from another."""
        wants = tuple(one.want for one in self.wanted)
        content = (MODEL_VERSION, Believed.of(self.belief).fingerprint, wants, self.trials)
        return sha256(repr(content).encode()).hexdigest()


def ask_of_forge(session: Session) -> Question | str:
    """Return the question of This forge, or why there is none to ask."""
    things = things_of(session)
    if things.lacking:
        return _lacking(things)
    return _question(session, things, forge_wants(things), forge_offers(things), usual_coupon(things))


def ask_of_plan(session: Session, plan_id: int) -> Question | str:
    """Return the question of a saved plan, or why there is none to ask."""
    plan = get_row(session, Plan, plan_id)
    if plan.soak_s <= 0.0 or is_no_case(plan.result):
        return NO_COUPON_HERE
    things = things_of(session)
    if things.lacking:
        return _lacking(things)
    try:
        asked = plan_asked(session, plan)
    except NotAccepted as problem:
        return problem.stop or NO_LONGER
    except (NotFound, ModelError):
        return NO_LONGER
    if not things.hold(asked.coupon.mix_id, asked.coupon.box_id):
        return NOT_OFFERED
    own = Piece(asked.coupon.bar_id, asked.coupon.shape, asked.coupon.size_m)
    is_own = asked.is_solid and own.bar_id in things.bars
    sections = tuple(dict.fromkeys((*([own] if is_own else []), *things.sections)))
    offers = plan_offers(things, asked.coupon, sections)
    return _question(session, things, asked.wants, offers, asked.coupon, asked.process, plan_id)


def _question(
    session: Session,
    things: ShopThings,
    wanted: tuple[Wanted, ...],
    offers: tuple[Offer, ...],
    usual: CouponAsked,
    planned: Process | None = None,
    plan_id: int | None = None,
) -> Question:
    known = current_belief(session)
    trials = tuple(trial_of(offer, things, planned) for offer in offers)
    return Question(things, wanted, offers, trials, known.belief, usual, plan_id, known.coupons)


def _lacking(things: ShopThings) -> str:
    return f"A coupon needs {', '.join(things.lacking)} first: write it down on the Shop page."


def told_to_worker(asked: Question) -> tuple[Any, ...]:
    """Return the mark of a question, the worker's function and its arguments."""
    wants = tuple(one.want for one in asked.wanted)
    return asked.mark, JOB, wants, asked.trials, asked.belief.to_dict()
