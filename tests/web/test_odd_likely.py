"""What the readings of an odd fire point to: the tester, the heat, one box's seal, a tired pack."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from webapp.services.forge_charts import FitRows
from webapp.services.odd_fires import view_odd
from webapp.services.odd_likely import Likely, likely_causes
from webapp.store.tables import Batch, Event, Item, Reading

NOW = datetime(2026, 4, 3, tzinfo=UTC)
DAY = date(2026, 3, 1)


def book(
    *scored: tuple[int, int, str, float], mixes: dict[int, int] | None = None, **fires: float
) -> tuple[dict[str, Any], FitRows]:
    """Return a summary and its rows: (fire, batch, kind of reading, score) each, and a score a fire."""
    readings = {
        key: Reading(id=key, item_id=batch, kind=kind, measured_at=NOW)
        for key, (_, batch, kind, _) in enumerate(scored, start=1)
    }
    batches = {
        batch: Batch(
            id=batch, number=batch, state="measured", fire_id=fire, box_id=1,
            mix_id=(mixes or {}).get(batch, 1), day=DAY + timedelta(days=fire),
        )
        for fire, batch, _, _ in scored
    }  # fmt: skip
    items = {
        batch: Item(id=batch, batch_id=batch, kind="coupon", name="pin", bar_id=1, shape="rod", size_m=0.01)
        for batch in batches
    }
    summary = {
        "predictions": [{"key": str(key), "score": one[3]} for key, one in enumerate(scored, start=1)],
        "fires": [{"fire": name.removeprefix("f"), "score": score} for name, score in fires.items()],
    }
    return summary, FitRows(readings, items, batches)


def likely(how: str, *scored: tuple[int, int, str, float], **more: Any) -> Likely | None:
    events = more.pop("events", [])
    summary, rows = book(*scored, **more)
    return likely_causes({1: how}, summary, rows, events).get(1)


def test_depths_that_fit_beside_hardness_that_does_not_point_to_the_tester() -> None:
    found = likely("shallow", (1, 1, "depth", 0.3), (1, 1, "hardness", -4.0))
    assert found is not None
    assert "tester" in found.words
    assert likely("shallow", (1, 1, "depth", -3.0), (1, 1, "hardness", -4.0)) is None
    assert likely("shallow", (1, 1, "hardness", -4.0)) is None


def test_two_boxes_off_alike_point_to_the_heat_and_one_of_two_to_its_own_seal() -> None:
    heat = likely("shallow", (1, 1, "depth", -3.0), (1, 2, "depth", -2.5))
    assert heat is not None
    assert "the heat or the time, not a seal" in heat.words
    seal = likely("shallow", (1, 1, "depth", -3.0), (1, 2, "depth", 0.4))
    assert seal is not None
    assert "Only the box of batch 1" in seal.words
    assert seal.reason == "its seal leaked"
    deep = likely("deep", (1, 1, "depth", 3.0), (1, 2, "depth", 0.4))
    assert deep is not None
    assert "seal" not in deep.reason
    assert likely("shallow", (1, 1, "depth", -3.0), (1, 2, "depth", -1.2)) is None


def test_a_cracked_seal_that_was_noted_comes_first() -> None:
    event = Event(batch_id=1, kind="seal cracked", happened_at=NOW)
    found = likely("shallow", (1, 1, "depth", -3.0), (1, 2, "depth", -3.0), events=[event])
    assert found is not None
    assert found.reason == "the seal cracked"
    assert likely("deep", (1, 1, "depth", 3.0), events=[event]) is None


@pytest.mark.parametrize(
    ("scores", "is_tired"),
    [((-3.0, -1.5, -1.2), True), ((-3.0, 0.5, -1.2), False), ((-2.6, -0.1, -0.2), False)],
)
def test_a_tin_whose_newest_fires_all_lean_shallow_is_worn_out(
    scores: tuple[float, ...], is_tired: bool
) -> None:
    """Fire 1 is the odd one; fires -1 and 0 came before it from the same tin."""
    scored = [(1, 1, "depth", -3.0), (0, 2, "depth", -1.0), (-1, 3, "depth", -1.0)]
    summary, rows = book(*scored)
    names = ("1", "0", "-1")
    summary["fires"] = [{"fire": name, "score": score} for name, score in zip(names, scores, strict=True)]
    found = likely_causes({1: "shallow"}, summary, rows, [])
    assert (1 in found) == is_tired
    # other tins say nothing of this one
    summary, rows = book(*scored, mixes={2: 2, 3: 2})
    summary["fires"] = [{"fire": name, "score": score} for name, score in zip(names, scores, strict=True)]
    assert likely_causes({1: "shallow"}, summary, rows, []) == {}


def test_the_reason_is_offered_where_the_batch_is_set_aside_and_nothing_is_set_aside_by_itself() -> None:
    _, rows = book((1, 1, "depth", -3.0))
    (fire,) = view_odd({1: "shallow"}, list(rows.batches.values()), [], {1: Likely("Look there.", "a slip")})
    assert fire.likely == "Look there."
    assert fire.batches[0].aside_href == "/batches/1/set-aside?why=a+slip"
    (fire,) = view_odd({1: "shallow"}, list(rows.batches.values()), [])
    assert fire.batches[0].aside_href == "/batches/1/set-aside"
    assert fire.likely == ""
    assert all(not batch.left_out_why for batch in rows.batches.values())
