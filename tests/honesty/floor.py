"""The band that is left once every constant of a shop is known: `python -m tests.honesty.floor thermocouple`.

What the next fire does by its own luck no coupon of earlier fires can tell, so no honest band is narrower.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np

from model.inputs import links
from model.look import look
from model.priors import scatter_factor
from model.process import Process
from tests.honesty.shops import HonestShop, seeds
from tests.honesty.trial import LEVELS, values_of
from tests.honesty.worlds import BOOKS

DRAWS, AFTER = 200, 30


def with_its_luck_drawn(shop: HonestShop, job: Process, draws: int = DRAWS) -> np.ndarray:
    """Return inputs of a job, (draws, inputs): constants as they truly are, the fire's own luck drawn."""
    linked = links(job)
    inputs = np.repeat(shop.inputs(job, AFTER)[None], draws, axis=0)
    rng = shop.rng("luck that is not known yet")
    for latent, scale, share in linked.scatter:
        width = float(scatter_factor(scale, np.array(shop.coordinate(scale)), share))
        away = width * (rng.standard_normal(draws) - shop.coordinate(latent))
        for name, row, coefficient in linked.terms:
            if name == latent:
                inputs[:, row] += coefficient * away
    return inputs


def least_band(shop: HonestShop) -> tuple[str, float, float]:
    """Return the mix of a shop's next job, and the middle and width of its depth's band [mm]."""
    job = shop.next_job(AFTER)
    rim = values_of(look([job], with_its_luck_drawn(shop, job)[None])[0])["rim"]
    low, middle, high = np.quantile(rim, LEVELS)
    return job.keys.mix, float(middle), float(high - low)


def main() -> None:
    """Say how wide these bands are, over all mixes and by mix."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("heat", choices=("thermocouple", "colour"))
    asked.add_argument("--shops", type=int, default=300)
    told = asked.parse_args()
    shops = [HonestShop(seed, BOOKS, f"{told.heat}:1") for seed in seeds(f"books/{told.heat}", told.shops)]
    found = [least_band(shop) for shop in shops]
    for wanted in ("all", *BOOKS.mixes):
        some = np.array([row[1:] for row in found if wanted in ("all", row[0])])
        share = 100.0 * np.median(some[:, 1] / np.maximum(some[:, 0], 1e-9))
        sys.stdout.write(f"{wanted}: {len(some)} jobs, band {share:.0f} % of the middle\n")


if __name__ == "__main__":
    main()
