"""The narrowest honest band: nothing but the next fire's own luck is drawn in it."""

from __future__ import annotations

import numpy as np
import pytest

from model.inputs import ROW
from model.priors import scatter_factor
from tests.honesty.floor import AFTER, least_band, with_its_luck_drawn
from tests.honesty.shops import HonestShop
from tests.honesty.worlds import BOOKS

# the books' scatter of a fire by thermocouple, a load's place in it taken in
FIRE_K = 10.0


def test_only_the_fire_s_luck_is_drawn_and_as_wide_as_the_shop_s_fires_scatter() -> None:
    shop = HonestShop(3, BOOKS, "thermocouple:1")
    job = shop.next_job(AFTER)
    inputs = with_its_luck_drawn(shop, job, 4000)
    assert set(np.flatnonzero(np.ptp(inputs, axis=0))) == {ROW["temperature_K"]}
    coordinate = np.array(shop.coordinate("scatter_scale/instrument"))
    scale = float(scatter_factor("scatter_scale/instrument", coordinate, 1.0))
    assert inputs[:, ROW["temperature_K"]].std() == pytest.approx(FIRE_K * scale, rel=0.05)


def test_a_band_of_luck_alone_is_no_point_and_narrower_than_the_books() -> None:
    _, middle, width = least_band(HonestShop(3, BOOKS, "thermocouple:1"))
    assert 0.1 * middle < width < 0.7 * middle  # the books' own band is 1.3 times the middle
