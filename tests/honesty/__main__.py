"""Run one cell of the long proof: `python -m tests.honesty books thermocouple --shops 300 --processes 2`.

Writes every verdict to a CSV and the figures to the window. The seeds hang on the cell's name alone.
"""

from __future__ import annotations

import argparse
import csv
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, fields
from functools import partial
from pathlib import Path
from time import monotonic

from tests.honesty.report import tables
from tests.honesty.shops import seeds
from tests.honesty.trial import Verdict, verdicts
from tests.honesty.worlds import WORLDS


def main() -> None:
    """Run one world by one way of knowing the heat."""
    told = _asked()
    rows: list[Verdict] = []
    until = monotonic() + 60.0 * told.minutes
    with ProcessPoolExecutor(told.processes) as pool:
        one = partial(_shop, world=told.world, heat=told.heat, batches=tuple(told.batches), jobs=told.jobs)
        for found in pool.map(one, seeds(_cell(told), told.shops)):
            rows += found
            _keep(told.to, rows)
            if monotonic() > until:
                pool.shutdown(wait=False, cancel_futures=True)
                break
    sys.stdout.writelines(f"{line}\n" for line in tables(rows))


def _asked() -> argparse.Namespace:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("world", choices=WORLDS)
    asked.add_argument("heat", choices=("thermocouple", "colour"))
    asked.add_argument("--batches", type=int, nargs="+", default=[1, 3, 10, 30])
    asked.add_argument("--shops", type=int, default=300)
    asked.add_argument("--series", type=int, default=1, help="other shops of the same kind, from 2 on")
    asked.add_argument("--jobs", type=int, default=1, help="how many next jobs each fit foretells")
    asked.add_argument("--processes", type=int, default=1)
    asked.add_argument("--minutes", type=float, default=600.0, help="stop with the shops done by then")
    asked.add_argument("--to", type=Path, default=None, help="where the verdicts go as CSV")
    return asked.parse_args()


def _cell(told: argparse.Namespace) -> str:
    """Return the name that the seeds hang on; the first series is the one that was promised."""
    return f"{told.world}/{told.heat}" + (f"/{told.series}" if told.series > 1 else "")


def _shop(seed: int, world: str, heat: str, batches: tuple[int, ...], jobs: int) -> list[Verdict]:
    return list(verdicts(seed, WORLDS[world], f"{heat}:1", batches, jobs))


def _keep(path: Path | None, rows: list[Verdict]) -> None:
    if path is None:
        return
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [field.name for field in fields(Verdict)])
        writer.writeheader()
        writer.writerows(asdict(row) for row in rows)


if __name__ == "__main__":
    main()
