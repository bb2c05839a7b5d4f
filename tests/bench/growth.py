"""How a fit grows with its book: `python -m tests.bench.growth 30 100 200 1000` prints a row for each size.

Each book, of three coupons a batch, has a process of its own: the first fit makes its cooling tables too, the
second finds them made and begins from nothing again, the third has one reading more than the second.
"""

from __future__ import annotations

import multiprocessing
import sys
from typing import NamedTuple

from model.calibration import fit
from model.kept_coolings import KEPT_TABLES
from model.kept_forecasts import KeptForecasts
from tests.bench.peak import peak_MB
from tests.bench.test_bench_fit import fitted_twice, seconds
from tests.model.many_coupons import many_coupons

COUPONS_A_BATCH = 3
HEAD = "| batches | coupons | first of a process, s | from nothing, s | ms a batch | one more, s | peak, MB |"


class Grown(NamedTuple):
    """Processor seconds of three fits of a book, and the most memory that its process held [MB]."""

    first_s: float
    from_nothing_s: float
    one_more_s: float
    peak_MB: float


def measure(batches: int) -> Grown:
    """Return what the fits of a book of so many batches take, and the most memory they hold."""
    book = many_coupons(batches, COUPONS_A_BATCH * batches)
    KEPT_TABLES.forget()  # the book was written by forecasts that made them
    first_s, _ = seconds(lambda: fit(book[:-1], [], kept=KeptForecasts()).belief)
    from_nothing_s, one_more_s, _ = fitted_twice(book)
    return Grown(first_s, from_nothing_s, one_more_s, peak_MB())


def row(batches: int, grown: Grown) -> str:
    """Return a row of the table."""
    each_ms = 1e3 * grown.from_nothing_s / batches
    return (
        f"| {batches} | {COUPONS_A_BATCH * batches} | {grown.first_s:.2f} | {grown.from_nothing_s:.2f} "
        f"| {each_ms:.0f} | {grown.one_more_s:.2f} | {grown.peak_MB:.0f} |"
    )


def main(sizes: list[int]) -> None:
    """Print the table."""
    print(HEAD)  # noqa: T201
    print("|---" * HEAD.count(" |") + "|")  # noqa: T201
    own = multiprocessing.get_context("spawn")
    for batches in sizes:
        with own.Pool(1) as pool:
            print(row(batches, pool.apply(measure, (batches,))), flush=True)  # noqa: T201


if __name__ == "__main__":
    main([int(size) for size in sys.argv[1:]] or [30, 100, 200])
