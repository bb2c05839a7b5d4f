"""How far a shop's fires scatter is learnt: against sums done another way, and what it does to a forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student

from model.arrow import Pairs
from model.belief import ShopBelief, handbook_belief
from model.calibration import fit
from model.inputs import links
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE
from model.priors import prior_for, scatter_scale
from model.readings import Observation
from model.scatter import Scale, Scatter, student_weight
from tests.model.logbooks import job, logbook
from tests.model.test_calibration_referee import QuickShop, quick_look

pytestmark = pytest.mark.property

BY_TIP, BY_EYE = "scatter_scale/instrument", "scatter_scale/eye"
NOISE = 0.5


def scale_of(belief: ShopBelief, name: str = BY_EYE) -> float:
    """Return the middle of what is believed of a scale."""
    return float(prior_for(name).value(belief.mean[belief.names.index(name)]))


def shop_of(seed: int, factor: float, fires: int = 20) -> list[Observation]:
    """Return a logbook of a shop by colour whose fires scatter so many times what the books say."""
    prior = prior_for(BY_EYE)
    shop = QuickShop(seed, {BY_EYE: (np.log(factor) - prior.mean) / prior.sd})
    return logbook(shop, fires, "colour:1")


def by_quadrature(readings: np.ndarray) -> tuple[float, float]:
    """Return middle and sd of ln scale by summing over every fire's own luck and the scale itself."""
    prior = prior_for(BY_TIP)
    ln_scale, luck = np.linspace(-1.8, 1.8, 121), np.linspace(-15.0, 15.0, 3001)
    log = norm.logpdf(ln_scale, prior.mean, prior.sd)
    for k, one in enumerate(ln_scale):
        books = student.pdf(luck, LATENT_FREEDOM, scale=LATENT_SCALE * np.exp(one))
        seen = norm.pdf(readings[:, None], luck, NOISE) @ books * (luck[1] - luck[0])
        log[k] += np.log(seen).sum()
    weight = np.exp(log - log.max())
    middle = np.average(ln_scale, weights=weight)
    return float(middle), float(np.sqrt(np.average((ln_scale - middle) ** 2, weights=weight)))


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.5])
def test_the_scale_agrees_with_a_sum_over_every_fires_luck(factor: float) -> None:
    count = 24
    rng = np.random.default_rng(3)
    readings = factor * rng.standard_normal(count) + NOISE * rng.standard_normal(count)
    scatter = Scatter((BY_TIP,), count, np.arange(count), np.zeros(count, dtype=np.intp), np.ones(count))
    precision, information = np.eye(count) / NOISE**2, readings / NOISE**2
    scale, mean, spread = scatter.books(), np.zeros(count), np.ones(count)
    for _ in range(12):
        weight = student_weight(mean**2 + spread, scatter.room(scale))
        scale = scatter.learnt(scale, Pairs.full(precision), information, weight)
        weight = student_weight(mean**2 + spread, scatter.room(scale))
        covariance = np.linalg.inv(precision + np.diag(weight))
        mean, spread = covariance @ information, np.diag(covariance)
    middle, sd = by_quadrature(readings)
    assert scale.mean[0] == pytest.approx(middle, abs=0.6 * sd)
    assert scale.sd[0] == pytest.approx(sd, rel=0.25)


@pytest.fixture(scope="module")
def wild_and_steady() -> tuple[list[ShopBelief], list[ShopBelief]]:
    wild, steady = (
        [fit(shop_of(seed, factor), [], look=quick_look, exact=True).belief for seed in (1, 2, 3)]
        for factor in (2.2, 0.3)
    )
    return wild, steady


def luck_K(belief: ShopBelief, heat_method: str) -> float:
    """Return how far the next fire is foretold to scatter of its own [K]."""
    process = replace(job("next"), keys=replace(job().keys, fire="next", heat_method=heat_method))
    drawn, without = (belief.constants(process, 400, 0, luck).temperature_bias_K for luck in (True, False))
    return float(np.std(drawn - without))


def test_a_shop_of_wild_fires_is_told_from_a_steady_one_and_foretells_wider(
    wild_and_steady: tuple[list[ShopBelief], list[ShopBelief]],
) -> None:
    wild, steady = wild_and_steady
    assert min(map(scale_of, wild)) > max(map(scale_of, steady))
    lucks_K = [luck_K(belief, "colour:1") for belief in (steady[0], handbook_belief(), wild[0])]
    assert lucks_K[0] < 0.9 * lucks_K[1] < 0.8 * lucks_K[2]
    assert lucks_K[1] == pytest.approx(prior_for("fire_scatter/colour").sd, rel=0.1)


def test_one_coupon_leaves_the_scale_as_the_books_have_it() -> None:
    belief = fit(shop_of(1, 2.2)[:2], [], look=quick_look, exact=True).belief
    place = belief.names.index(BY_EYE)
    assert abs(belief.mean[place]) < 0.6
    assert belief.covariance.diagonal[place] > 0.8


def test_a_fire_by_eye_says_nothing_of_fires_by_thermocouple(
    wild_and_steady: tuple[list[ShopBelief], list[ShopBelief]],
) -> None:
    wild, _ = wild_and_steady
    assert BY_TIP not in wild[0].names
    books_K = luck_K(handbook_belief(), "thermocouple:9")
    assert luck_K(wild[0], "thermocouple:9") == pytest.approx(books_K, rel=0.02)


def test_every_way_of_telling_heat_follows_one_scale() -> None:
    kinds = ("colour", "magnet", "pyrometer", "thermocouple", "cone", "crayon")
    assert [scatter_scale(kind) for kind in kinds] == [BY_EYE] * 2 + [BY_TIP] * 4


def test_what_was_doubted_in_the_record_does_not_scale() -> None:
    sure, doubted = links(job("1")), links(job("1", record_doubt_K=30.0))
    shares = [{latent: share for latent, _, share in one.scatter} for one in (sure, doubted)]
    assert shares[0] == {"fire/1": 1.0, "load/1|1": 1.0}
    fire_K = np.sqrt(0.75) * prior_for("fire_scatter/thermocouple").sd
    assert shares[1]["fire/1"] == pytest.approx(fire_K**2 / (fire_K**2 + 30.0**2))
    scatter = Scatter.of(doubted.names(), [doubted])
    doubled = scatter.room(Scale(np.log([2.0]), np.ones(1)))
    rooms = dict(zip(doubted.names(), doubled, strict=True))
    assert rooms["load/1|1"] == pytest.approx(4.0)
    assert rooms["fire/1"] == pytest.approx(1.0 + 3.0 * shares[1]["fire/1"])
    assert rooms["lag/shop"] == 1.0
