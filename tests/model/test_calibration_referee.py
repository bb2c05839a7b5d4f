"""Quick and slow fit against a sampler that shares nothing with them but the likelihood: emcee, as a referee.

One coupon is judged without any chain; `quick_look` is a stand-in for the forecast that other tests use.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import erfc, erfcx

from model.belief import ShopBelief, constants_of
from model.density import told_by_fire
from model.diffusivity import diffusivity_agren_1986
from model.emulated import EmulatedEvidence, fit_by_surfaces
from model.evidence import Evidence
from model.hardness import martensite_vickers
from model.heat_course import seconds_at_heat
from model.inputs import LATENTS
from model.kept_forecasts import KeptForecasts
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE
from model.look import look
from model.pack import carbon_at_activity
from model.priors import scatter_factor
from model.process import Process
from model.readings import Observation
from model.rest import AT_REST, foretold, jobs_of, split_r_hat
from model.sight import Seen
from model.slow_fit import slow_fit
from model.variational import Gaussian
from tests.model.invented import InventedShop
from tests.model.logbooks import logbook

DEPTH_M = np.linspace(0.0, 3e-3, 121)
LEVELS = [0.05, 0.5, 0.95]
# acceptance figure of the simulation study, section 7: predictive quantiles, in widths of the band
ALLOWED = 0.12
QUICK_ALLOWED = 0.5  # hardness: a bell curve has too long a soft tail; chains tell 0.33 to 0.43 of it
OWN_ERROR = 0.06
MOMENTS, LEAST_WORTH = 150, 4000  # of the referee's chains; worth 4,000 the end of a band is 1 % of it off
THINNED = 10  # steps of which one is kept: neighbours are alike
FROM_BOOKS = 8_000


def quick_look(processes: Sequence[Process], inputs: np.ndarray) -> list[Seen]:
    """See a half-space of constant diffusivity, fed through a transfer coefficient: exact (Crank 3.35)."""
    return [_quick(process, rows) for process, rows in zip(processes, inputs, strict=True)]


def _quick(process: Process, rows: np.ndarray) -> Seen:
    constants, soak = constants_of(process, rows), process.steps[0]
    kelvin = soak.history.temperature_K[0] + constants.temperature_bias_K
    whole = np.full(len(rows), soak.history.duration_s)
    seconds = seconds_at_heat(whole, soak.lag_share * constants.lag_s)[:, None]
    diffusivity = diffusivity_agren_1986(np.full((len(rows), 1), 0.6), kelvin[:, None])
    potential = carbon_at_activity(constants.carbon_activity, kelvin)[:, None]
    base = (process.steel.composition.C + constants.base_carbon_shift_wt)[:, None]
    length = 2.0 * np.sqrt(diffusivity * seconds)
    scaled, fed = DEPTH_M / length, 0.5 * constants.transfer_m_per_s[:, None] / diffusivity * length
    share = erfc(scaled) - np.exp(-(scaled**2)) * erfcx(scaled + fed)
    carbon = base + (potential - base) * share
    hardness = martensite_vickers(carbon)
    return Seen(DEPTH_M, carbon, hardness, hardness, constants.rim_carbon_wt, base[:, 0])


@dataclass(frozen=True)
class QuickShop(InventedShop):
    """A shop whose coupons come out as the quick solution has them."""

    def seen(self, process: Process) -> Seen:
        """Return what a coupon truly looks like."""
        return quick_look([process], self.inputs(process)[None, None])[0]


def log_likelihood(evidence: Evidence, walkers: np.ndarray) -> np.ndarray:
    """Log likelihood of the readings, (walkers, names and scales) -> (walkers,); off surfaces, if any."""
    return np.asarray(told_by_fire(evidence, walkers, roughly=True).sum(axis=1))


def widths_of(evidence: Evidence, scales: np.ndarray) -> dict[str, np.ndarray]:
    """How wide each fire's own luck is over what the books say, at drawn scales (draws, kinds)."""
    return {
        latent: scatter_factor(scale, scales[:, evidence.scatter.names.index(scale)], share)
        for linked in evidence.links
        for latent, scale, share in linked.scatter
    }


def log_posterior(evidence: Evidence, walkers: np.ndarray) -> np.ndarray:
    """Log density of the belief, but for a constant, (walkers, names and scales) -> (walkers,)."""
    names, scales = walkers[:, : len(evidence.names)], walkers[:, len(evidence.names) :]
    # one law of a fire's own luck after the other, each as wide as its own scale
    books = -0.5 * np.sum(scales**2, axis=1)
    widths = widths_of(evidence, scales)
    for column, name in enumerate(evidence.names):
        z, width = names[:, column], LATENT_SCALE * widths.get(name, np.ones(len(names)))
        is_luck = name.startswith(LATENTS)
        books += _log_luck(z / width) - np.log(width) if is_luck else -0.5 * z**2
    return np.asarray(log_likelihood(evidence, walkers) + books)


def _log_luck(z: np.ndarray) -> np.ndarray:
    """Return the log density of a fire's own luck, Student's t, but for a constant."""
    return -0.5 * (LATENT_FREEDOM + 1.0) * np.log1p(z**2 / LATENT_FREEDOM)


def drawn_from_books(evidence: Evidence, draws: int) -> np.ndarray:
    """Draw coordinates before any reading, (draws, names and scales)."""
    rng = np.random.default_rng(11)
    found = rng.standard_normal((draws, len(evidence.names) + len(evidence.scatter.names)))
    widths = widths_of(evidence, found[:, len(evidence.names) :])
    for column, name in enumerate(evidence.names):
        if name.startswith(LATENTS):
            luck = rng.standard_t(LATENT_FREEDOM, draws)
            found[:, column] = LATENT_SCALE * luck * widths.get(name, np.ones(draws))
    return found


def sampled(evidence: Evidence, fitted: ShopBelief, walkers: int, steps: int) -> np.ndarray:
    """Return every tenth of the second half of emcee's steps, (steps, walkers, names and scales)."""
    emcee = pytest.importorskip("emcee")
    rng = np.random.default_rng(1)
    root = np.linalg.cholesky(fitted.covariance.full())
    start = fitted.mean + rng.standard_normal((walkers, len(fitted.names))) @ root.T
    # not its snooker move: that one halves the exponent of its volume, and bands come out too narrow
    moves = [(emcee.moves.DEMove(), 0.9), (emcee.moves.DEMove(gamma0=1.0), 0.1)]
    np.random.seed(3)
    sampler = emcee.EnsembleSampler(
        walkers, len(fitted.names), lambda z: log_posterior(evidence, z), moves=moves, vectorize=True
    )
    sampler.run_mcmc(start, steps // THINNED, thin_by=THINNED)
    return np.asarray(sampler.get_chain(discard=steps // THINNED // 2))


def off_by(ours: np.ndarray, theirs: np.ndarray, weight: np.ndarray | None = None) -> np.ndarray:
    """Return how far the ends and middles of bands lie from the referee's, in widths of its band.

    ours, theirs : (draws, columns); weight : how much each of the referee's counts, (draws,), alike if None
    """
    even = np.ones(len(theirs)) if weight is None else weight
    mine, reference = quantiles(ours, np.ones(len(ours))), quantiles(theirs, even)
    return np.asarray(np.abs(mine - reference).max(axis=0) / (reference[2] - reference[0]))


def quantiles(values: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Return the values of each column below which `LEVELS` of all weight lies, (levels, columns)."""
    order = np.argsort(values, axis=0)
    reached = np.cumsum(weight[order], axis=0) / weight.sum()
    rows = [(reached < level).sum(axis=0) for level in LEVELS]
    return np.stack([np.take_along_axis(values, order, axis=0)[row, range(values.shape[1])] for row in rows])


def worth(weight: np.ndarray) -> float:
    """Return how many draws that all count alike these are worth."""
    return float(weight.sum() ** 2 / (weight**2).sum())


def counts_in_full(evidence: Evidence, draws: np.ndarray) -> np.ndarray:
    """Return how much each draw off surfaces counts once full forecasts say how likely its readings are."""
    judge = Evidence(evidence.observations, [], look)
    gain = log_likelihood(judge, draws) - log_likelihood(evidence, draws)
    return np.asarray(np.exp(gain - gain.max()))


def refereed(
    evidence: Evidence, quick: ShopBelief, walkers: int, steps: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return what emcee foretells of the jobs at rest, (draws, 2 * jobs), and how much each counts."""
    chain, jobs = sampled(evidence, quick, walkers, steps), jobs_of(evidence)
    chain = chain[:: len(chain) // MOMENTS]
    some = chain.reshape(-1, chain.shape[2])
    told = foretold(evidence, some, jobs)
    by_step = told.reshape(*chain.shape[:2], -1)
    assert split_r_hat(by_step).max() < AT_REST
    weight = counts_in_full(evidence, some)
    assert worth(weight) > LEAST_WORTH
    # its own error of chance is about half of what its two halves differ by
    half = len(told) // 2
    assert off_by(told[:half], told[half:]).max() < OWN_ERROR
    return told, weight


def emulated(observations: list[Observation]) -> tuple[EmulatedEvidence, Gaussian]:
    """Return evidence off surfaces of the app's forecast, and the quick fit of it."""
    evidence = EmulatedEvidence(observations, [], look, KeptForecasts())
    size = len(evidence.names)
    return evidence, fit_by_surfaces(evidence, np.zeros(size), np.eye(size))[1]


def as_belief(evidence: Evidence, fitted: Gaussian) -> ShopBelief:
    """Return a quick fit as a belief, the scales of the fires' scatter last."""
    middle, sd = evidence.scatter.coordinates(fitted.scale)
    names = (*evidence.names, *evidence.scatter.names)
    return ShopBelief(names, np.concatenate([fitted.mean, middle]), fitted.narrowed.and_beside(sd**2))


@pytest.mark.property
def test_after_one_coupon_it_foretells_what_the_books_do_once_its_readings_weigh_them() -> None:
    """No chain: draws of the books, each counted by how likely its full forecast makes the readings."""
    observations = logbook(InventedShop(7), 1)
    evidence, fitted = emulated(observations)
    slow = slow_fit(evidence, fitted)
    assert slow is not None
    assert slow.is_at_rest

    asked, jobs = Evidence(observations, [], look), jobs_of(evidence)
    books = drawn_from_books(asked, FROM_BOOKS)
    weight = np.exp(log_likelihood(asked, books))
    assert worth(weight) > 1500  # the end of a band to within 2 % of it, one sd
    referee = foretold(evidence, books, jobs)
    assert off_by(foretold(evidence, slow.draws, jobs), referee, weight).max() < ALLOWED
    quick = as_belief(evidence, fitted)
    off = off_by(foretold(evidence, quick.drawn(quick.names, 2000, 1), jobs), referee, weight)
    assert off.max() < QUICK_ALLOWED


@pytest.mark.long
@pytest.mark.property
@pytest.mark.parametrize(
    ("seed", "fires", "medium", "walkers", "steps"),
    [(5, 3, "oil", 120, 40_000), (9, 10, "water", 160, 20_000)],
)
def test_after_several_fires_it_foretells_what_a_sampler_does(
    seed: int, fires: int, medium: str, walkers: int, steps: int
) -> None:
    """The sampler goes by surfaces too, as full forecasts would take it a day; those judge what it drew."""
    observations = logbook(InventedShop(seed), fires, medium=medium)
    evidence, fitted = emulated(observations)
    slow = slow_fit(evidence, fitted)
    assert slow is not None
    assert slow.is_at_rest

    quick, jobs = as_belief(evidence, fitted), jobs_of(evidence)
    referee, weight = refereed(evidence, quick, walkers, steps)
    off = off_by(foretold(evidence, slow.draws, jobs), referee, weight)
    off_quick = off_by(foretold(evidence, quick.drawn(quick.names, 2000, 1), jobs), referee, weight)
    told = f"careful {off.round(3)} at R-hat {slow.r_hat:.3f}, quick {off_quick.round(3)}"
    sys.stdout.write(f"{told}\n")
    assert off.max() < ALLOWED, told
    assert off_quick.max() < QUICK_ALLOWED, told
