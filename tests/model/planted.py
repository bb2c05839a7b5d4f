"""Coupons of an invented shop in which something stated went otherwise than told."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from zlib import crc32

import numpy as np

from model.arrow import Covariance
from model.belief import ShopBelief
from model.cause_changes import AS_TOLD, Version, Way, version_at, ways
from model.drawn_piece import DrawnPiece
from model.inputs import FITTED_INPUTS, LATENTS, links
from model.look import look
from model.priors import prior_for
from model.process import Process
from model.readings import DepthReading, HardnessReading, Observation
from tests.model.invented import InventedShop

KNOWN_TO_SD = 0.3  # what a shop with a shelf of coupons still doubts of each constant, in prior sds
TESTER = "rockwell:1"


def shelf_belief(shop: InventedShop, process: Process) -> ShopBelief:
    """Return what a shop that has read many coupons believes: near its truth, its fires still to come."""
    fitted = [name for name, row, _ in links(process).terms if row < FITTED_INPUTS]
    names = tuple(
        name for name in (*fitted, f"tester/{TESTER}") if not name.startswith(LATENTS) and "?" not in name
    )
    wrong = [np.random.default_rng([shop.seed, crc32(name.encode()), 2]).standard_normal() for name in names]
    mean = np.array([shop.coordinate(name) for name in names]) + KNOWN_TO_SD * np.array(wrong)
    return ShopBelief(names, mean, Covariance.whole(KNOWN_TO_SD**2 * np.eye(len(names))), 1.0, 20)


def way_called(name: str) -> Way:
    """Return a way of the table."""
    return next(way for way in ways() if way.name == name)


# the end of a way's range at which less is more: carbon held at the skin
STRONG_AT_LOW = ("surface_wt",)


def some_version(way: Way, seed: int, strong: bool = False) -> Version:
    """Return a way at a place of its range that no level need lie at; a strong one in its far third."""
    place = float(np.random.default_rng([seed, crc32(way.name.encode())]).uniform())
    if strong:
        name, low, high = way.changes[0]
        is_low = abs(low) > abs(high) or name in STRONG_AT_LOW
        place = place / 3.0 if is_low else 1.0 - place / 3.0
    return version_at(way, place, TESTER if way.cause == "tester_off" else "")


def read_off(
    shop: InventedShop, process: Process, version: Version = AS_TOLD, after: Any = "quench"
) -> list[Observation]:
    """Return a hardness and a depth on a break, as the shop would note them."""
    changed = version.of(process)
    assert changed is not None
    seen = look([changed], (shop.inputs(changed) + np.array(version.shifts))[None, None])[0]
    if version.softens_after:
        seen = replace(seen, hardness_HV=seen.tempered_HV)
    sd = prior_for(f"tester/{TESTER}").sd
    bias = np.array([shop.coordinate(f"tester/{TESTER}") * sd])
    truth = DrawnPiece(version, {process: seen}, {TESTER: bias})
    rng = np.random.default_rng([shop.seed, 3])
    found = []
    for key, asked in (
        ("hardness", HardnessReading("HRC", 60.0, TESTER, after=after)),
        ("depth", DepthReading("break", 0.5e-3)),
    ):
        shown = truth.shows(process, asked).value[0, 0] - asked.predicted(seen).value[0, 0]
        noted = asked.simulated(seen, shown if key == "hardness" else 0.0, rng)
        if isinstance(noted, DepthReading):
            noted = replace(noted, value_m=max(0.0, noted.value_m * (1.0 + version.depth_share)))
        found.append(Observation(key, process, noted, coupon="1"))
    return found
