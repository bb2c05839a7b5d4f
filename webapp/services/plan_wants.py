"""Whether wanted depth, wanted hardness and a blow go together, and which plans of this shop come near."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
from sqlmodel import Session

from model.conversion import rockwell_c_continued
from model.planner import SHORTEST_SOAK_S
from model.process import Process, Temper
from model.stages import KeptStages
from model.tried_choices import Quenched, quench_choices, try_choices
from model.units import celsius_to_kelvin
from model.wants import LIKELY, NEAR_BEST, Met, Nearest, Tried, Wants, met_of, weigh
from webapp.forms.plans import PlanForm
from webapp.services.batch_rows import kept, row_id
from webapp.services.plan_more_figures import MetFigures, NearFigures, WantsFigures
from webapp.services.plan_rows import USUAL_REHEAT_K, USUAL_TEMPER_S, PlanRows, process_of
from webapp.services.plan_strength import angles_at_break, blow_of
from webapp.services.plan_sums import KEPT_ANSWERS, Believed, Settled, handy_soak
from webapp.store.tables import Bath

SHARES_OF_DEPTH: Final = (0.4, 0.55, 0.75, 1.0)  # cases tried, over the one that is wanted
FEW_SHARES: Final = (0.55, 1.0)  # the same for another bath and for the other way to the quench
TEMPERS_K: Final = tuple(celsius_to_kelvin(float(dial)) for dial in (150, 180, 205, 230, 255))
OTHER_BATHS: Final = 2
COSTS: Final = {"soak_s": 1, "temper_K": 1, "reheat_K": 2, "bath_id": 2}
SAME_SOAK_S: Final = 300.0
SAME_HEAT_K: Final = 3.0
KEPT_ROUTES: Final = 6  # sets of routes as quenched, and their carbon: of the last few plans


@dataclass(frozen=True)
class _Candidate:
    """A choice as the form has it, without its temper, and what it would do."""

    values: tuple[tuple[str, Any], ...]
    process: Process


@dataclass(frozen=True)
class _Others:
    """Other choices of the shop: how they meet the wants, what each changes, what the form would have."""

    tried: tuple[Tried, ...]
    changes: tuple[int, ...]
    values: Mapping[Tried, Mapping[str, Any]]

    def figures_of(self, near: Nearest) -> NearFigures:
        """Return one of them as figures."""
        return NearFigures(
            gives_way=near.gives_way or "", met=_met(near.tried.met), **self.values[near.tried]
        )


def wants_figures(
    session: Session, rows: PlanRows, form: PlanForm, found: Settled, believed: Believed, tries: bool
) -> WantsFigures | None:
    """Return whether what is wanted goes together; None where only a depth is wanted, or nothing hardens.

    tries : other choices of the shop too, where the plan misses a want
    """
    part = rows.part
    blow = blow_of(found.process.section, part.duties, part.length_m, found.goal.grinding_allowance_m)
    wants = Wants(found.goal, part.wanted_hardness_HRC, blow)
    if len(wants.asked) < 2 or found.drawn_face.hardness_HV is None:
        return None
    now = _present(wants, found)
    best_depth = found.best.odds_inside
    answer = weigh(wants, now, best_depth)
    others = _Others((), (), {})
    if answer.missed and tries:
        others = _others(session, rows, form, found, believed, wants)
        answer = weigh(wants, now, best_depth, others.tried, others.changes)
    return WantsFigures(
        asked=wants.asked,
        missed=answer.missed,
        they_fit=answer.they_fit,
        fewest_snap=_fewest_snap(now, others.tried, 0.0),
        fewest_snap_at_depth=_fewest_snap(now, others.tried, NEAR_BEST * min(LIKELY, best_depth)),
        now=_met(now),
        nearest=tuple(others.figures_of(one) for one in answer.nearest),
    )


def _fewest_snap(now: Met, tried: Sequence[Tried], least_depth: float) -> float:
    """Return the least odds of snapping among choices that come near the depth."""
    odds = [one.blow for one in (now, *(one.met for one in tried)) if one.depth >= least_depth]
    return 1.0 - max(odds, default=0.0)


def _present(wants: Wants, found: Settled) -> Met:
    """Return how this plan meets the wants, over all its draws."""
    face_HV = found.drawn_face.hardness_HV
    assert face_HV is not None  # asked before
    final_deg = None if wants.blow is None else angles_at_break(found, wants.blow)
    return met_of(wants, found.case_m, np.asarray(rockwell_c_continued(face_HV[:, 0])), final_deg)


def _others(
    session: Session, rows: PlanRows, form: PlanForm, found: Settled, believed: Believed, wants: Wants
) -> _Others:
    """Try the shop's other choices; one that changes nothing is left out."""
    baths = {row_id(bath): bath for bath in kept(session, Bath)} | {row_id(rows.bath): rows.bath}
    candidates = _candidates(rows, form, found, baths)
    tempers = tuple(Temper(kelvin, form.temper_s or USUAL_TEMPER_S) for kelvin in _tempers_K(form))
    tried = _tried(wants, tuple(one.process for one in candidates), tempers, believed)
    present = dict(form) | {"soak_s": found.soak_s}
    left, changes, values = [], [], {}
    for one in tried:
        choice = {**dict(candidates[one.route].values), "temper_K": tempers[one.temper].temperature_K}
        cost = sum(COSTS[name] for name in changed(present, choice))
        if cost:
            left.append(one)
            changes.append(cost)
            values[one] = {**choice, "bath": baths[choice["bath_id"]].name}
    return _Others(tuple(left), tuple(changes), values)


_stages = KeptStages(KEPT_ROUTES)


@lru_cache(maxsize=KEPT_ANSWERS)
def _tried(
    wants: Wants, routes: tuple[Process, ...], tempers: tuple[Temper, ...], believed: Believed
) -> tuple[Tried, ...]:
    return try_choices(wants, _quenched(routes, believed), tempers)


@lru_cache(maxsize=KEPT_ROUTES)
def _quenched(routes: tuple[Process, ...], believed: Believed) -> tuple[Quenched, ...]:
    return quench_choices(routes, believed.belief, stages=_stages)


def _candidates(rows: PlanRows, form: PlanForm, found: Settled, baths: dict[int, Bath]) -> list[_Candidate]:
    """Return the choices to try: other soaks; and with few soaks the other way and other baths."""
    other_way = USUAL_REHEAT_K if form.reheat_K is None else None
    others = [one for one in baths.values() if one.id != rows.bath.id and one.medium != "air"][:OTHER_BATHS]
    values = [
        *(_values(form, soak_s) for soak_s in _soaks_s(found, SHARES_OF_DEPTH)),
        *(_values(form, soak_s, reheat_K=other_way) for soak_s in _soaks_s(found, FEW_SHARES)),
        *(
            _values(form, soak_s, bath_id=row_id(bath))
            for bath in others
            for soak_s in _soaks_s(found, FEW_SHARES)
        ),
    ]
    made = []
    for one in values:
        # every temper is tried on all of them, so theirs is one that the plan's own does not change
        asked = form.model_copy(update={**one, "temper_K": TEMPERS_K[0], "temper_s": USUAL_TEMPER_S})
        process = process_of(replace(rows, bath=baths[one["bath_id"]]), asked)
        made.append(_Candidate(tuple(one.items()), process))
    return made


def _values(form: PlanForm, soak_s: float, **others: Any) -> dict[str, Any]:
    return {"soak_s": soak_s, "reheat_K": form.reheat_K, "bath_id": form.bath_id, **others}


def _soaks_s(found: Settled, shares: Sequence[float]) -> list[float]:
    """Return the soaks that give these shares of the wanted case, each once: depth grows as its root."""
    soaks = (max(handy_soak(share**2 * found.best.soak_s), SHORTEST_SOAK_S) for share in shares)
    return list(dict.fromkeys(soaks))


def _tempers_K(form: PlanForm) -> list[float]:
    """Return the tempers to try, with the plan's own in place of one that is all but the same."""
    own_K = form.temper_K
    if own_K is None:
        return list(TEMPERS_K)
    return sorted([own_K, *(kelvin for kelvin in TEMPERS_K if abs(kelvin - own_K) > SAME_HEAT_K)])


def changed(present: dict[str, Any], choice: dict[str, Any]) -> tuple[str, ...]:
    """Return the fields in which a choice differs from what the form has."""
    near = {"soak_s": SAME_SOAK_S, "temper_K": SAME_HEAT_K, "reheat_K": SAME_HEAT_K, "bath_id": 0.5}
    found = []
    for name, within in near.items():
        old, new = present[name], choice[name]
        is_same = old is new if old is None or new is None else abs(old - new) < within
        found += [] if is_same else [name]
    return tuple(found)


def _met(met: Met) -> MetFigures:
    return MetFigures(met.depth, met.hardness, met.blow, met.depth_m, met.skin_HRC)
