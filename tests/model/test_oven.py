"""What readings after a temper and checks teach of an oven, in shops whose oven is stated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from model.belief import Constants, ShopBelief, constants_of
from model.calibration import fit
from model.evidence import InstrumentCheck
from model.hardness import temper_parameter, tempered_vickers, true_temper_K
from model.inputs import ROW, links, oven_key, temper_doubt_K
from model.learnt import Band, oven_band, parameter_rows
from model.look import look
from model.process import Process, Temper
from model.readings import (
    DepthReading,
    FilesReading,
    HardnessReading,
    NoHardSkin,
    Observation,
    TraverseReading,
)
from model.sight import Seen
from model.steels import steel_of_grade
from model.usable import why_not_used
from tests.model.invented import InventedShop
from tests.model.logbooks import HOUR_S, depth, job, unwidened

OVEN_SD_K = 12.0
COOL_K = -15.0
STATED = {"oven/1": COOL_K / OVEN_SD_K}
TEMPERS_C = (170.0, 200.0, 230.0)


def tempered(process: Process, *celsius: float, hours: float = 2.0, oven: str = "1") -> Process:
    tempers = (Temper(one + 273.15, hours * HOUR_S) for one in celsius)
    return replace(process, steps=(*process.steps, *tempers), keys=replace(process.keys, oven=oven))


def rockwell(after: str) -> HardnessReading:
    return HardnessReading("HRC", 60.0, "rockwell:1", after=after)  # type: ignore[arg-type]


class QuickShop(InventedShop):
    """A shop of which only the oven matters: every piece comes out of the quench alike but for its fire."""

    def seen(self, process: Process) -> Seen:
        return quick_look([process], self.inputs(process)[None, None])[0]


def quick_look(processes: Sequence[Process], inputs: np.ndarray) -> list[Seen]:
    """See a piece of one hardness through, moved by a fire's luck a little; the temper is the model's."""
    seen = []
    for process, rows in zip(processes, inputs, strict=True):
        constants = constants_of(process, rows)
        as_quenched = 800.0 + 1.5 * constants.temperature_bias_K[:, None] + np.zeros((1, 2))
        carbon = np.full_like(as_quenched, 0.85)
        seen.append(
            Seen(
                np.array([0.0, 0.01]), carbon, as_quenched, _after(process, constants, as_quenched),
                constants.rim_carbon_wt, np.full(len(rows), 0.18),
            )
        )  # fmt: skip
    return seen


def _after(process: Process, constants: Constants, as_quenched: np.ndarray) -> np.ndarray:
    tempers = [
        (true_temper_K(step.temperature_K, constants.oven_offset_K), step.seconds)
        for step in process.steps
        if isinstance(step, Temper)
    ]
    parameter = np.broadcast_to(temper_parameter(tempers), len(as_quenched))[:, None]
    factor = constants.temper_loss_factor[:, None]
    carbon, martensite = np.full_like(as_quenched, 0.85), np.full((1, 2), 0.88)
    return tempered_vickers(as_quenched, carbon, martensite, parameter, factor)


def logbook(shop: InventedShop, fires: int, dents: int = 1) -> list[Observation]:
    """Return a coupon a fire, read as quenched and again after its temper."""
    noted = []
    for fire in range(fires):
        process = job(f"f{fire}")
        after = tempered(process, TEMPERS_C[fire % len(TEMPERS_C)])
        for dent in range(dents):
            asked = (("quench", process), ("temper", after))
            noted += [
                shop.note(Observation(f"{fire}/{dent}/{name}", where, rockwell(name), coupon=str(fire)))
                for name, where in asked
            ]
    return noted


def score(belief: ShopBelief, truth_K: float) -> float:
    """How far the truth lies from what is believed of the oven, in its sds."""
    found = oven_band(belief, "1")
    return (truth_K - found.median) / ((found.high - found.low) / 3.29)


def half(found: Band) -> float:
    return 0.5 * (found.high - found.low)


def fitted(shop: InventedShop, fires: int, dents: int = 1) -> ShopBelief:
    return fit(logbook(shop, fires, dents), [], look=quick_look).belief


@pytest.mark.property
def test_readings_after_a_temper_find_an_oven_that_runs_15_K_cool() -> None:
    found = [oven_band(fitted(QuickShop(seed, STATED), 6, dents=3), "1") for seed in range(6)]
    # each fit is drawn towards nothing by the books' 12 K; their mean must lie well on the true side
    assert -15.0 < np.mean([one.median for one in found]) < -3.0
    # six bands of 90 %: fewer than four inside has a chance of 1 in 60
    assert sum(one.low < COOL_K < one.high for one in found) >= 4
    assert np.mean([half(one) for one in found]) < half(oven_band(ShopBelief(), "1"))


@pytest.mark.property
def test_no_number_of_readings_knows_the_oven_better_than_the_law_of_the_temper() -> None:
    # one heat, read 40 times: a factor of 1.12 on what it takes off is worth about 9 K of the oven, and one
    # temper is off by 5 K of its own, so that the 12 K of the books come down to no less than 6 K
    asked = [
        Observation(f"{n}/{name}", process, rockwell(name))
        for n in range(40)
        for process, name in ((job("f"), "quench"), (tempered(job("f"), 200.0), "temper"))
    ]
    shop = QuickShop(5, STATED)
    belief = fit([shop.note(one) for one in asked], [], look=quick_look).belief
    # without what this fire's surprises widen
    known = half(oven_band(unwidened(belief), "1"))
    assert 1.645 * 6.0 < known < half(oven_band(ShopBelief(), "1"))


@pytest.mark.property
def test_two_checks_find_the_oven_and_say_so() -> None:
    checks = [InstrumentCheck("oven:1", 458.15 + off_K, 473.15, 7.0) for off_K in (-3.0, 3.0)]
    belief = fit([], checks).belief
    found = oven_band(belief, "1")
    # 12 K of the books and two checks of 7 K: the mean goes 288/(288 + 49) of the way
    assert found.median == pytest.approx(COOL_K * 288.0 / 337.0)
    assert half(found) == pytest.approx(1.645 * (1 / 144.0 + 2 / 49.0) ** -0.5, rel=1e-3)
    (row,) = parameter_rows([], belief)
    assert (row.kind, row.of, row.learnt, row.coupons) == ("oven", "1", True, 0)


def assert_covers(scores: np.ndarray) -> None:
    """Hold the 50 and 90 % bands to what chance allows in 1 of 200 runs (exact binomial limits)."""
    for share, sds in ((0.5, 0.6745), (0.9, 1.645)):
        hits = int(np.sum(np.abs(scores) < sds))
        low, high = binom.ppf([0.0025, 0.9975], len(scores), share)
        assert low <= hits <= high, (share, hits, len(scores))


def covered(seeds: range, fires: int, dents: int) -> np.ndarray:
    """Score of the true oven in shops drawn from the books."""
    shops = [QuickShop(seed) for seed in seeds]
    return np.array(
        [score(fitted(shop, fires, dents), OVEN_SD_K * shop.coordinate("oven/1")) for shop in shops]
    )


@pytest.mark.property
def test_the_band_of_an_oven_covers_as_often_as_it_says_in_some_shops() -> None:
    assert_covers(covered(range(300, 340), fires=2, dents=2))


@pytest.mark.long
@pytest.mark.property
@pytest.mark.parametrize(("fires", "dents"), [(1, 1), (6, 2), (12, 3)])
def test_the_band_of_an_oven_covers_as_often_as_it_says_in_many_shops(fires: int, dents: int) -> None:
    scores = covered(range(1000, 1300), fires, dents)
    assert_covers(scores)
    assert abs(scores.mean()) < 0.25


@pytest.mark.property
def test_tempered_readings_alone_do_not_move_what_says_how_deep_carbon_goes() -> None:
    # the referee is the fit of the same breaks without them: an oven 36 K cool leaves each piece too hard
    shop = InventedShop(11, {"oven/1": -3.0, "temper_loss/shop": 0.0})
    breaks = [shop.note(depth(f"d{fire}", job(f"f{fire}"), 0.5)) for fire in range(2)]
    hard = [
        shop.note(Observation(f"t{fire}", tempered(job(f"f{fire}"), 200.0), rockwell("temper")))
        for fire in range(2)
    ]
    without, both = fit(breaks, []), fit([*breaks, *hard], [])
    assert not both.left_out
    plan = job("next")
    before, after = (np.log(1e3 * found.belief.point(plan).transfer_m_per_s[0]) for found in (without, both))
    assert abs(after - before) < 0.35 * 0.65  # a third of what the books doubt of it
    bias = [found.belief.point(plan).temperature_bias_K[0] for found in (without, both)]
    assert abs(bias[1] - bias[0]) < 0.35 * 10.6
    assert oven_band(both.belief, "1").median < 0.0


@pytest.mark.property
def test_the_oven_moves_what_is_seen_after_the_temper_and_nothing_else() -> None:
    process = tempered(job(), 180.0)
    inputs = np.repeat(links(process).offset[None], 3, axis=0)
    inputs[:, ROW["oven_offset_K"]] = (-15.0, 0.0, 15.0)
    seen = look([process], inputs[None])[0]
    assert np.ptp(seen.hardness_HV, axis=0).max() == 0.0
    assert np.all(np.diff(seen.tempered_HV[:, 0]) < 0.0)
    hotter = look([tempered(job(), 195.0)], links(process).offset[None, None])[0]
    assert seen.tempered_HV[2] == pytest.approx(hotter.tempered_HV[0])


@pytest.mark.property
@pytest.mark.parametrize(
    "reading",
    [
        rockwell("temper"),
        HardnessReading("HRA", 80.0, after="temper"),
        HardnessReading("HV", 700.0, after="temper"),
        FilesReading(55.0, 60.0, after="temper"),
        DepthReading("HV550", 5e-4, after="temper"),
        TraverseReading((1e-4, 2e-4), (700.0, 650.0), after="temper"),
    ],
    ids=lambda reading: type(reading).__name__,
)
def test_a_reading_after_a_temper_is_softer_and_in_more_doubt(reading: HardnessReading) -> None:
    process = tempered(job(), 200.0)
    assert why_not_used(Observation("1", process, reading)) is None
    seen = look([process], links(process).offset[None, None])[0]
    after, before = reading.predicted(seen), replace(reading, after="quench").predicted(seen)
    assert np.all(after.value < before.value)
    assert np.all(after.doubt > before.doubt)


@pytest.mark.property
@pytest.mark.parametrize(
    ("process", "words"),
    [
        (job(), "a temper that has not been noted"),
        (tempered(job(), 340.0), "from 100 to 320 °C"),
        (tempered(job(), 180.0, 80.0), "from 100 to 320 °C"),
        (replace(tempered(job(), 280.0), steel=steel_of_grade("8620")), "its steel is alloyed"),
    ],
)
def test_what_a_temper_is_not_worked_out_for_is_set_aside_with_the_reason(
    process: Process, words: str
) -> None:
    told = Observation("1", process, rockwell("temper"))
    assert words in str(why_not_used(told))
    assert why_not_used(replace(told, reading=NoHardSkin(after="temper"))) is None
    assert fit([told], []).left_out[0].reason == why_not_used(told)


@pytest.mark.property
def test_an_alloy_steel_in_a_usual_case_temper_is_used() -> None:
    process = replace(tempered(job(), 180.0), steel=steel_of_grade("8620"))
    assert why_not_used(Observation("1", process, rockwell("temper"))) is None


@pytest.mark.property
def test_an_oven_is_spoken_of_only_where_something_was_tempered() -> None:
    assert oven_key(job()) == ""
    assert not any(name.startswith(("oven/", "temper/", "temper_loss/")) for name in links(job()).names())
    assert oven_key(tempered(job("f1"), 180.0)) == "oven/1"
    assert oven_key(tempered(job("f1"), 180.0, oven="")) == "oven/?f1"


@pytest.mark.property
def test_a_doubtful_record_of_a_temper_widens_its_own_doubt() -> None:
    assert temper_doubt_K(453.15, 2 * HOUR_S, 10.0) == pytest.approx(10.0)
    # one percent more time against the kelvin that soften as much
    kelvin = temper_doubt_K(453.15, 2 * HOUR_S, seconds_sd=0.01 * 2 * HOUR_S)
    longer = temper_parameter([(453.15, 1.01 * 2 * HOUR_S)])
    assert temper_parameter([(453.15 + kelvin, 2 * HOUR_S)]) == pytest.approx(longer, rel=1e-5)
    doubted = links(replace(tempered(job("f1"), 180.0), temper_doubt_K=12.0))
    own = {name: coefficient for name, _, coefficient in doubted.terms}["temper/f1"]
    assert own == pytest.approx(13.0)
