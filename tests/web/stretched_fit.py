"""A fit of a large book out of the demo's: what one fire alone touches comes again for each copy of a fire.

It is a belief that could be: given what all fires share, fires know nothing of one another, so two copies
hang together through the shared coordinates alone. Its size is that of a true one, and so is its summary's.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from sqlalchemy import Connection

from model.arrow import Covariance, Layout
from model.belief import ShopBelief
from model.inputs import LATENTS
from model.stored_belief import read_belief

LEARNT_BLOCKS = 62  # blocks whose readings the fit has learnt from, about a thousand batches
BY_READING = ("predictions", "rules")


def stretch_fit(connection: Connection, blocks: int, spans: dict[str, int]) -> None:
    """Let the stored fit have learnt from the newest blocks of a book instead of from the demo."""
    row = connection.exec_driver_sql("SELECT id, belief, summary FROM fit ORDER BY id DESC LIMIT 1").one()
    belief, summary = read_belief(json.loads(row.belief)), json.loads(row.summary)
    copies = range(max(0, blocks - LEARNT_BLOCKS), blocks)
    stretched = stretched_belief(belief, copies, spans["fire"])
    told = stretched_summary(summary, copies, spans) | {"coupons": stretched.coupons}
    connection.exec_driver_sql(
        "UPDATE fit SET belief = ?, summary = ?, reading_ids = ? WHERE id = ?",
        (
            json.dumps(stretched.to_dict()),
            json.dumps(told),
            json.dumps([int(key) for key in told["used"]]),
            row.id,
        ),
    )


def stretched_belief(belief: ShopBelief, copies: range, fires: int) -> ShopBelief:
    """Return a belief whose fires are there once a copy."""
    own = np.array([name.startswith(LATENTS) for name in belief.names])
    shared_at, own_at = np.flatnonzero(~own), np.flatnonzero(own)
    names = [belief.names[at] for at in shared_at]
    names += [_later(belief.names[at], copy * fires) for copy in copies for at in own_at]
    order = np.concatenate([shared_at, *([own_at] * len(copies))])
    whole, many = belief.covariance.full(), len(copies)
    shared = whole[np.ix_(shared_at, shared_at)]
    lean = np.linalg.solve(shared, whole[np.ix_(shared_at, own_at)])
    rest = whole[np.ix_(own_at, own_at)] - lean.T @ shared @ lean
    own = len(shared_at) + np.arange(many * len(own_at)).reshape(many, -1)
    layout = Layout(len(names), np.arange(len(shared_at)), own)
    covariance = Covariance(layout, shared, np.tile(-lean.T, (many, 1, 1)), np.tile(rest, (many, 1, 1)))
    books = np.broadcast_to(belief.books, belief.mean.shape)[order]
    coupons = belief.coupons * many
    return ShopBelief(tuple(names), belief.mean[order], covariance, belief.spread, coupons, None, books)


def _later(name: str, more: int) -> str:
    kind, _, of = name.partition("/")
    fire, bar, rest = of.partition("|")
    return f"{kind}/{int(fire) + more}{bar}{rest}"


def stretched_summary(summary: dict[str, Any], copies: range, spans: dict[str, int]) -> dict[str, Any]:
    """Return what a fit says, once a copy where it speaks of one reading or one fire."""
    made = dict(summary)
    for name in BY_READING:
        made[name] = _again(summary[name], "key", copies, spans["reading"])
    made["fires"] = _again(summary["fires"], "fire", copies, spans["fire"])
    made["used"] = [str(int(key) + copy * spans["reading"]) for copy in copies for key in summary["used"]]
    made["left_out"] = {
        str(int(key) + copy * spans["reading"]): why
        for copy in copies
        for key, why in summary["left_out"].items()
    }
    return made


def _again(rows: list[dict[str, Any]], key: str, copies: range, span: int) -> list[dict[str, Any]]:
    return [row | {key: str(int(row[key]) + copy * span)} for copy in copies for row in rows]
