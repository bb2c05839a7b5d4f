"""What one mix teaches of another: the books rise with carbonate, and a shop's mixes are pooled in part."""

from __future__ import annotations

import numpy as np
import pytest

from model.belief import ShopBelief, handbook_belief
from model.calibration import fit
from model.look import look
from model.process import Process
from model.sight import signed_depth
from tests.model.logbooks import depth, job

pytestmark = pytest.mark.property

CARBONATE = (0.0, 2.5, 5.0, 10.0, 20.0, 40.0)
RIM_WT = 0.40


def case_of(belief: ShopBelief, process: Process) -> tuple[np.ndarray, np.ndarray]:
    """Return the carbon of the skin [wt%] and the depth to 0.40 % [mm] over draws, no fire's luck in them."""
    seen = look([process], belief.inputs(process, 200, include_fire_scatter=False)[None])[0]
    return seen.carbon_wt[:, 0], 1e3 * signed_depth(seen.depth_m, seen.carbon_wt, RIM_WT)


@pytest.fixture(scope="module")
def taught() -> ShopBelief:
    """Return what four deep coupons of mix 1 teach."""
    return fit([depth(f"c{n}", job(f"f{n}", mix="1"), 0.95) for n in range(4)], []).belief


def test_before_any_coupon_skin_and_case_rise_with_the_carbonate_and_level_off() -> None:
    cases = [case_of(handbook_belief(), job(carbonate_percent=percent)) for percent in CARBONATE]
    skins, depths = (np.array([np.median(case[side]) for case in cases]) for side in (0, 1))
    assert (np.diff(skins) > 0.0).all()
    assert (np.diff(depths) > 0.0).all()
    assert skins[-1] - skins[-2] < 0.1 * (skins[-2] - skins[0])
    assert depths[-1] - depths[-2] < 0.1 * (depths[-2] - depths[0])


def test_a_mix_without_a_coupon_learns_a_part_of_what_another_taught(taught: ShopBelief) -> None:
    books, own, other = (
        case_of(belief, job("next", mix=mix))[1]
        for belief, mix in ((handbook_belief(), "1"), (taught, "1"), (taught, "2"))
    )
    moved = [np.log(np.median(case) / np.median(books)) for case in (own, other)]
    assert 0.3 * moved[0] < moved[1] < moved[0]
    widths = [np.log(np.quantile(case, 0.95) / np.quantile(case, 0.05)) for case in (own, other, books)]
    assert widths[0] < widths[1] < widths[2]


def test_a_mix_never_seen_is_any_other_mix(taught: ShopBelief) -> None:
    second, third = (case_of(taught, job("next", mix=mix))[1] for mix in ("2", "3"))
    assert np.median(second) == pytest.approx(np.median(third), rel=0.03)


def test_how_rich_the_gas_is_belongs_to_the_shop_and_not_to_a_mix(taught: ShopBelief) -> None:
    assert [name for name in taught.names if name.startswith("activity/")] == ["activity/shop"]
