"""What this forge is: what its coupons have taught, how well the fit foretells them, and what stands out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlmodel import Session, col, select

from model.belief import handbook_belief
from model.process import Process
from webapp.charts import Chart
from webapp.services.batch_rows import kept, row_id
from webapp.services.drift_offer import DriftOffer, drift_offers
from webapp.services.fitting import FitSummary, newest_summary
from webapp.services.forge_charts import MOST_SHOWN, FitRows, charts_of, newest_told
from webapp.services.forge_coupons import CouponRow, coupon_rows
from webapp.services.forge_course import course_chart, funnels
from webapp.services.forge_epochs import change_days
from webapp.services.forge_miss_charts import miss_charts
from webapp.services.forge_misses import misses_of
from webapp.services.forge_rows import RowGroup, name_of, names_of, view_groups
from webapp.services.forge_rules import RulesView, view_rules
from webapp.services.odd_fires import OddFire, odd_fires, view_odd
from webapp.services.odd_likely import likely_causes
from webapp.services.reading_words import KIND_WORDS, say_reading
from webapp.services.readouts import readouts
from webapp.services.shop_jobs import shop_jobs
from webapp.services.showing import Showing
from webapp.services.whole_book import grouped
from webapp.store.tables import Batch, Event, Item, Reading

SAME_PERCENT = 1
STANDARD_JOB = (
    "Judged by one job: a rod of 1018, 12 mm (0.47 in) thick, four hours at 925 °C (1697 °F) by your "
    "own way of telling heat, the clock started at heat. Slower means less deep. Give or take holds nine "
    "times in ten."
)

QUICK_IS_OFF = (
    "a depth by them is good, but a hardness may read too soft at its soft end, by a third of its band."
)


@dataclass(frozen=True)
class Pace:
    """How fast this forge carburizes with one mix, in words."""

    mix: str
    words: str
    give_or_take: str
    taught_by: str


@dataclass(frozen=True)
class Unused:
    """A reason, and the readings that were not used for it."""

    why: str
    readings: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ForgeView:
    """The page of this forge."""

    headline: str
    learnt_from: str
    within_doubt: bool
    standard_job: str
    coupons: int
    settled: bool
    how_fitted: str
    paces: tuple[Pace, ...]
    groups: tuple[RowGroup, ...]
    drifts: tuple[DriftOffer, ...]
    odd: tuple[OddFire, ...]
    charts: tuple[Chart, ...]
    narrowed: Chart | None
    coupon_rows: tuple[CouponRow, ...]
    rules: RulesView | None
    depth_misses: tuple[Chart, ...]
    hardness_misses: tuple[Chart, ...]
    unused: tuple[Unused, ...]
    made: str
    older: int = 0


def view_forge(session: Session, showing: Showing) -> ForgeView:
    """Return what this forge has taught so far, or what the books alone say."""
    row = newest_summary(session)
    summary = told_of_forge(session, row)
    coupons = int(summary["coupons"])
    names = names_of(session)
    paces = _paces(summary["standard"], names) if coupons else ()
    odd = odd_fires(summary)
    rows = _rows_of(session, row)
    events = _events(session, odd, rows)
    misses = misses_of(summary["predictions"], rows, names, odd, showing)
    return ForgeView(
        headline=_headline(summary["standard"], coupons),
        learnt_from=f"Learnt from {'1 coupon' if coupons == 1 else f'{coupons} coupons'}." if coupons else "",
        within_doubt=bool(coupons and summary["standard"]) and _is_within_doubt(summary["standard"][0]),
        standard_job=STANDARD_JOB if summary["standard"] else "",
        coupons=coupons,
        settled=bool(summary["settled"]),
        how_fitted=_how_fitted(summary) if coupons else "",
        paces=paces,
        groups=view_groups(
            summary["rows"], names, showing, _pieces(rows), funnels(summary), change_days(session)
        ),
        drifts=drift_offers(session, showing),
        odd=view_odd(odd, list(rows.batches.values()), events, likely_causes(odd, summary, rows, events)),
        charts=charts_of(summary["predictions"], rows, odd, showing),
        narrowed=course_chart(summary, names["mix"]),
        coupon_rows=coupon_rows(summary["predictions"], rows, names, odd, showing),
        rules=view_rules(summary.get("rules", ()), misses, len(summary["fires"]), showing),
        depth_misses=miss_charts(misses, "depth"),
        hardness_misses=miss_charts(misses, "hardness"),
        unused=_unused(summary["left_out"], rows, showing),
        made=showing.moment(row.created_at) if row is not None else "",
        older=_older(summary, rows) if row is not None and len(rows.readings) >= MOST_SHOWN else 0,
    )


def told_of_forge(session: Session, row: FitSummary | None) -> Mapping[str, Any]:
    """Return what the newest fit says of this shop, or the books where there is none."""
    return row.summary if row is not None else _books_alone(shop_jobs(session))


@lru_cache(maxsize=4)
def _books_alone(jobs: tuple[Process, ...]) -> Mapping[str, Any]:
    """Return what the books alone say of a shop, in the shape of a fit's summary."""
    empty: dict[str, Any] = {"predictions": (), "fires": (), "left_out": {}, "settled": True, "coupons": 0}
    return empty | readouts((), handbook_belief(), jobs)


def _how_fitted(summary: Mapping[str, Any]) -> str:
    """Word which fit stands, where it is not the careful one."""
    diagnostics = summary.get("diagnostics", {})
    if diagnostics.get("method") == "slow":
        return ""
    if diagnostics.get("r_hat"):
        return f"The careful sums came to no rest on these coupons, so the quick ones stand: {QUICK_IS_OFF}"
    if summary.get("careful"):
        return f"This logbook is too large for the careful sums, so the quick ones stand: {QUICK_IS_OFF}"
    return f"These are the quick sums: {QUICK_IS_OFF} The careful ones follow by themselves."


def _headline(standard: Sequence[Mapping[str, Any]], coupons: int) -> str:
    if not standard:
        return "Nothing is known of this forge yet."
    unsure = f"{_doubt_percent(standard[0])}\u00a0%"
    if not coupons:
        return f"Nothing is learnt of your forge yet: plans go by the books, and are unsure by {unsure}."
    return f"Your forge carburizes {_pace_words(standard[0])}; still unsure by {unsure}."


def _pace_words(ratio: Mapping[str, Any]) -> str:
    percent = round(100 * (ratio["median"] - 1.0))
    if abs(percent) < SAME_PERCENT:
        return "as fast as the books say"
    return f"{abs(percent)}\u00a0% {'faster' if percent > 0 else 'slower'} than the books say"


def _doubt_percent(ratio: Mapping[str, Any]) -> int:
    """Return half the width of the band, in percent of its middle."""
    return round(50.0 * float((ratio["high"] - ratio["low"]) / ratio["median"]))


def _is_within_doubt(ratio: Mapping[str, Any]) -> bool:
    return SAME_PERCENT <= round(100.0 * abs(float(ratio["median"]) - 1.0)) <= _doubt_percent(ratio)


def _paces(standard: Sequence[Mapping[str, Any]], names: Mapping[str, Mapping[int, str]]) -> tuple[Pace, ...]:
    found = []
    for one in standard:
        mix = name_of("transfer", one["mix"], names)
        if mix is not None:
            counted = "1 coupon" if one["coupons"] == 1 else f"{one['coupons']} coupons"
            taught = counted if one["coupons"] else "no coupon yet"
            found.append(Pace(mix, _pace_words(one), f"give or take {_doubt_percent(one)}\u00a0%", taught))
    return tuple(found)


def _rows_of(session: Session, fit: FitSummary | None) -> FitRows:
    """Return the readings that a fit speaks of, with their items and batches, in one query a table."""
    if fit is None:
        return FitRows({}, {}, {})
    readings = kept(session, Reading, col(Reading.id).in_(newest_told(fit.summary)))
    held = {row.item_id for row in readings}
    items = {row_id(row): row for row in session.exec(select(Item).where(col(Item.id).in_(held)))}
    lay_in = {row.batch_id for row in items.values()}
    batches = {row_id(row): row for row in session.exec(select(Batch).where(col(Batch.id).in_(lay_in)))}
    return FitRows({row_id(row): row for row in readings}, items, batches)


def _older(summary: Mapping[str, Any], rows: FitRows) -> int:
    """Return how many readings the fit speaks of that the page does not show."""
    return max(len(summary.get("used", ())) + len(summary["left_out"]) - len(rows.readings), 0)


def _pieces(rows: FitRows) -> dict[str, tuple[str, str]]:
    """Return words and page of each piece by the key that the fit knows it by."""
    return {
        str(key): (
            f"{rows.batches[item.batch_id].number} {item.mark} {item.name}".replace("  ", " "),
            f"/items/{key}",
        )
        for key, item in rows.items.items()
    }


def _events(session: Session, odd: Mapping[int, str], rows: FitRows) -> list[Event]:
    batch_ids = [key for key, batch in rows.batches.items() if batch.fire_id in odd]
    return kept(session, Event, col(Event.batch_id).in_(batch_ids)) if batch_ids else []


def _unused(left_out: Mapping[str, str], rows: FitRows, showing: Showing) -> tuple[Unused, ...]:
    """Return the readings not used by their reason, the commonest reason last: it is the least news."""
    by_reason = grouped(left_out.items(), lambda pair: pair[1])
    found = []
    for why, pairs in sorted(by_reason.items(), key=lambda pair: len(pair[1])):
        lines = [_line(rows, int(key), showing) for key, _ in pairs if int(key) in rows.readings]
        if lines:
            found.append(Unused(why, tuple(lines)))
    return tuple(found)


def _line(rows: FitRows, reading_id: int, showing: Showing) -> tuple[str, str]:
    reading = rows.readings[reading_id]
    item = rows.items[reading.item_id]
    number = rows.batches[item.batch_id].number
    kind = KIND_WORDS[reading.kind].lower()
    words = f"{number} {item.mark} {item.name}: {kind}, {say_reading(reading, showing)}"
    return words.replace("  ", " "), f"/items/{item.id}"
