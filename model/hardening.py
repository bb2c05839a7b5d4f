"""From the carbon at the quench to structure and hardness, for all members at once."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.as_quenched import AsQuenched
from model.baths import BathKind, Baths
from model.cooling_table import TableCooling
from model.course import hot_steps
from model.errors import NotPossible
from model.finish import Finish, finish_of
from model.hardness import (
    ferrite_pearlite_vickers_maynier_1978,
    temper_parameter,
    tempered_vickers,
    true_temper_K,
)
from model.kept_coolings import KEPT_TABLES, Asked
from model.members import Members
from model.process import Process, Quench
from model.quenched_part import HotPart, quench_part, structure_after
from model.structure import Hot, hot_phases
from model.transformation import Products

Array = NDArray[np.float64]

UNHARDENED_COOLING_K_PER_H: Final = 300.0
"""Cooling rate that stands for the bar's last slow cooling [K/h]; common practice, no source."""


@dataclass(frozen=True)
class Hardened:
    """Structure and hardness of all members; arrays are (M, n), shares by weight summing to 1.

    carbon_in_austenite_wt : dissolved in the fire [wt%]; carbon_left_wt : in what is left for martensite
    ferrite : of the heat and of the quench; of work quenched from below Ac1 it is ferrite and pearlite
    tempered_HV : the final hardness: nan where the temper is not modelled, as quenched without one
    film_s : (M,) how long the vapour film holds on the face [s], 0 where there is none or it is not computed
    """

    carbon_in_austenite_wt: Array
    carbon_left_wt: Array
    retained_austenite: Array
    martensite: Array
    ferrite: Array
    pearlite: Array
    bainite: Array
    carbide: Array
    as_quenched_HV: Array
    tempered_HV: Array
    film_s: Array

    @property
    def pearlite_bainite_ferrite(self) -> Array:
        """Share of all that did not harden but was or could have been austenite, (M, n) [-]."""
        return self.ferrite + self.pearlite + self.bainite


@dataclass(frozen=True)
class AsHardened:
    """What a quench left: shares and hardness as `Hardened` has them."""

    hot: Hot
    carbon_left_wt: Array
    retained: Array
    martensite: Array
    ferrite: Array
    pearlite: Array
    bainite: Array
    hardness_HV: Array
    film_s: Array


def quench_temperature_K(members: Members) -> Array:
    """Temperature at the end of the last hot step, (M,) [K]."""
    last = [hot_steps(process)[-1].history.temperature_K[-1] for process in members.processes]
    return members.spread(last) + members.constants.temperature_bias_K


def phases_of(members: Members, carbon_wt: Array, temperature_K: Array) -> Hot:
    """Return what the members' steel is made of at a temperature.

    members : the members; carbon_wt : (M, n) total carbon [wt%]; temperature_K : (M,) [K]
    Returns `Hot` of shape (M, n). Source: `structure.hot_phases`.
    """
    return hot_phases(carbon_wt, temperature_K[:, None], members.composition, members.alloy_factor[:, None])


def harden(members: Members, depth_m: Array, carbon_wt: Array) -> Hardened:
    """Structure and hardness after the last quench and its tempers.

    members : processes that all end in a quench, with cold and tempers or without
    depth_m : (1 or M, n) from the outer face [m]; carbon_wt : (M, n) total carbon at the quench [wt%]
    Returns `Hardened`.
    Raises NotPossible as `finish_of` and `quench_part`, and for a process without a quench.
    Source: `quenched_part`; the temper as in `hardness`.
    """
    return with_tempers(members, hardened_as_quenched(members, depth_m, carbon_wt), carbon_wt)


def harden_quickly(members: Members, depth_m: Array, carbon_wt: Array) -> Hardened:
    """Structure and hardness as `harden`, with coolings read off tables: for thousands of members.

    Parameters, returns, raises as `harden`. Source: `kept_coolings`; a test says how near it comes.
    """
    finishes = _finishes(members)
    part = hot_part(members, depth_m, carbon_wt)
    read = _coolings(members, finishes, depth_m)
    lowest_K = members.spread([finish.cold_K for finish in finishes])
    hot, products, shares = structure_after(
        part, read.seconds, read.temperature_K, read.rate_K_per_s, lowest_K
    )
    left = _as_quenched(hot, products, shares, read.film_s)
    return with_tempers(members, left, carbon_wt)


def _coolings(members: Members, finishes: list[Finish], depth_m: Array) -> TableCooling:
    """Return the coolings of all members, each process off its own table."""
    constants = members.constants
    asked = [asked_of(*both) for both in zip(members.processes, finishes, strict=True)]
    tables = KEPT_TABLES.of(one for one in asked if one is not None)
    pieces = []
    for place, one in enumerate(asked):
        assert one is not None  # held by `_finishes`
        table, rows = tables[one], members.rows_of(place)
        own_m = depth_m[rows][:1] if len(depth_m) > 1 else depth_m
        severity, breakdown_K = constants.bath_severity[rows], constants.film_breakdown_K[rows]
        pieces.append(table.read(severity, constants.temperature_bias_K[rows], breakdown_K, own_m))
    return TableCooling(
        **{
            field.name: np.concatenate([getattr(one, field.name) for one in pieces])
            for field in fields(TableCooling)
        }
    )


def asked_of(process: Process, finish: Finish) -> Asked | None:
    """Return which cooling table a process needs, None where it is not quenched."""
    if finish.quench is None:
        return None
    start_K, quench = hot_steps(process)[-1].history.temperature_K[-1], finish.quench
    composition = process.steel.composition
    return Asked(composition, process.section, bath_kind(quench), start_K, quench.seconds_to_bath)


def _finishes(members: Members) -> list[Finish]:
    """Return what follows the last heat of each process, which must be a quench."""
    finishes = [finish_of(process) for process in members.processes]
    if any(finish.quench is None for finish in finishes):
        raise NotPossible("quench", "the work was not quenched", "Add a quench.")
    return finishes


def baths_of(members: Members, finishes: list[Finish]) -> Baths:
    """Return the bath of every member, with the shop's own severity.

    members : processes that all end in a quench; finishes : of each process
    Raises NotPossible for a medium or an agitation that is not known.
    """
    quenches = [finish.quench for finish in finishes if finish.quench is not None]
    kinds, constants = [bath_kind(quench) for quench in quenches], members.constants
    return Baths.of(kinds, constants.bath_severity, members.row, constants.film_breakdown_K)


def bath_kind(quench: Quench) -> BathKind:
    """Return the bath of a quench; one whose size is not said does not warm."""
    return BathKind(
        medium=quench.medium,
        bath_K=quench.bath_K,
        agitation=quench.agitation,
        salt_percent=quench.salt_percent or None,
        litres=np.inf if quench.litres is None else quench.litres,
        work_kg=quench.work_kg or 0.0,
    )


def hot_part(members: Members, depth_m: Array, carbon_wt: Array) -> HotPart:
    """Return the members as they leave the fire; parameters as `harden`."""
    constants = members.constants
    several = len(members.processes) > 1
    places = members.row.tolist() if several else [0]
    return HotPart(
        sections=[members.processes[place].section for place in places],
        depth_m=depth_m,
        carbon_wt=carbon_wt,
        temperature_K=quench_temperature_K(members),
        composition=members.composition,
        alloy_factor=members.alloy_factor,
        grain_number=constants.grain_number,
        retained_factor=constants.retained_austenite_factor,
        martensite_shift_HV=constants.martensite_shift_HV,
        time_factors=(1.0, constants.pearlite_time, constants.bainite_time),
    )


def hardened_as_quenched(members: Members, depth_m: Array, carbon_wt: Array) -> AsHardened:
    """Return what the quench itself leaves; parameters, raises and source as `harden`."""
    finishes = _finishes(members)
    seconds = [finish.quench.seconds_to_bath for finish in finishes if finish.quench is not None]
    lowest_K = members.spread([finish.cold_K for finish in finishes])
    part = hot_part(members, depth_m, carbon_wt)
    found = quench_part(part, baths_of(members, finishes), members.spread(seconds), lowest_K)
    return _as_quenched(found.hot, found.products, found.structure, found.cooling.film_s)


def _as_quenched(hot: Hot, products: Products, shares: AsQuenched, film_s: Array) -> AsHardened:
    return AsHardened(
        hot=hot,
        carbon_left_wt=products.carbon_left_wt,
        retained=shares.retained,
        martensite=shares.martensite,
        ferrite=shares.ferrite,
        pearlite=shares.pearlite,
        bainite=shares.bainite,
        hardness_HV=shares.hardness_HV,
        film_s=film_s,
    )


def with_tempers(members: Members, left: AsHardened, carbon_wt: Array) -> Hardened:
    """Return the work after its tempers, of which what was never austenite is as the bar was.

    members : as `harden` takes them; left : what their quench left; carbon_wt : (M, n) total carbon [wt%]
    Returns `Hardened`. Source: the temper as in `hardness`.
    """
    finishes = _finishes(members)
    hot = left.hot
    soft_HV = ferrite_pearlite_vickers_maynier_1978(
        members.composition, carbon_wt, UNHARDENED_COOLING_K_PER_H
    )
    as_quenched = np.where(hot.ferrite >= 1.0, soft_HV, left.hardness_HV)
    return Hardened(
        carbon_in_austenite_wt=hot.austenite_carbon_wt,
        carbon_left_wt=left.carbon_left_wt,
        retained_austenite=left.retained,
        martensite=left.martensite,
        ferrite=left.ferrite,
        pearlite=left.pearlite,
        bainite=left.bainite,
        carbide=hot.carbide,
        as_quenched_HV=as_quenched,
        tempered_HV=_tempered(members, finishes, as_quenched, left.carbon_left_wt, left.martensite),
        film_s=left.film_s,
    )


def _tempered(
    members: Members, finishes: list[Finish], as_quenched: Array, carbon_wt: Array, martensite: Array
) -> Array:
    """Return the hardness after the tempers; nan where they are not modelled."""
    constants = members.constants
    parameter = np.zeros(len(members.row))
    for place, finish in enumerate(finishes):
        rows = members.rows_of(place)
        if finish.temper_modelled:
            offset_K = constants.oven_offset_K[rows]
            parameter[rows] = temper_parameter(
                [(true_temper_K(dial_K, offset_K), seconds) for dial_K, seconds in finish.tempers]
            )
        elif finish.tempers:
            parameter[rows] = np.nan
    left = np.flatnonzero(parameter)  # nan among them
    after = as_quenched.copy()
    own, factor = parameter[left, None], constants.temper_loss_factor[left, None]
    after[left] = tempered_vickers(as_quenched[left], carbon_wt[left], martensite[left], own, factor)
    return after
