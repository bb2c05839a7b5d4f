"""Verdicts as two tables: how honest the bands are, overall and by mix, and how good rules of thumb are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from model.rule_fits import RULES
from tests.honesty.figures import SHARES, Figures, figures_of, misses
from tests.honesty.trial import Verdict

TARGETS = ("rim", "HV550", "HRC")
ALL = "all"
BANDS = (
    "world", "heat known by", "batches", "of", "mix", "shops (jobs)",
    "inside " + " / ".join(f"{100 * share:.0f}" for share in SHARES),
    "mean place", "band over median (pooled)", "rms error", "not met",
)  # fmt: skip
RULES_HEAD = ("heat known by", "batches", "mix", "fit, rms mm", *(f"{rule.name}" for rule in RULES), "ratio")


def tables(rows: Sequence[Verdict]) -> Iterator[str]:
    """Return both tables, line by line."""
    yield from _table(BANDS, (_band_cells(some, mix) for _, mix, some in cells_of(rows)))
    yield ""
    rim = (one for one in cells_of(rows) if one[0] == "rim")
    yield from _table(RULES_HEAD, (_rule_cells(some, mix) for _, mix, some in rim))


def cells_of(rows: Sequence[Verdict]) -> Iterator[tuple[str, str, list[Verdict]]]:
    """Return the verdicts of each number of batches, target and mix; `all` mixes first."""
    for batches in sorted({row.batches for row in rows}):
        for target in TARGETS:
            own = [row for row in rows if (row.batches, row.target) == (batches, target)]
            for mix in (ALL, *sorted({row.mix for row in own})):
                yield target, mix, [row for row in own if mix in (ALL, row.mix)]


def _table(head: Sequence[str], lines: Iterable[Sequence[str]]) -> Iterator[str]:
    yield f"| {' | '.join(head)} |"
    yield "|---" * len(head) + "|"
    for cells in lines:
        yield f"| {' | '.join(cells)} |"


def _band_cells(rows: Sequence[Verdict], mix: str) -> tuple[str, ...]:
    first, found = rows[0], figures_of(rows)
    unmet = misses(found, first.heat, first.batches, first.target) if mix == ALL else []
    is_depth = first.target == "rim"
    return (
        first.world, first.heat.partition(":")[0], str(first.batches), first.target, mix,
        f"{found.shops} ({found.jobs})",
        f"{' / '.join(f'{one:.0f}' for one in found.inside)} (±{found.chance:.0f})", f"{found.rank:.2f}",
        f"{found.width_percent:.0f} ({found.pooled_width_percent:.0f}) %" if is_depth else "-",
        f"{found.rms:.2g}", "; ".join(unmet) or ("-" if mix != ALL else "all met"),
    )  # fmt: skip


def _rule_cells(rows: Sequence[Verdict], mix: str) -> tuple[str, ...]:
    found = figures_of(rows)
    rules = (_rule(found, place) for place in range(len(RULES)))
    heat, batches = rows[0].heat.partition(":")[0], str(rows[0].batches)
    ours = f"{found.rms:.3f}, band {found.width_percent:.0f} %"
    return heat, batches, mix, ours, *rules, f"{found.ratio:.2f}"


def _rule(found: Figures, place: int) -> str:
    width = found.rules_width_percent[place]
    return f"{found.rules_rms[place]:.3f}" + (f", band {width:.0f} %" if width == width else "")
