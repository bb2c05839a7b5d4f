"""The fit against a sampler that shares nothing with it but the likelihood: emcee, as a referee only.

Both see coupons through a quick exact solution (constant diffusivity, transfer at the face) in place of the
forecast: what is refereed is the inference.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.special import erfc, erfcx

from model.belief import ShopBelief, constants_of
from model.calibration import fit
from model.diffusivity import diffusivity_agren_1986
from model.evidence import Evidence
from model.hardness import martensite_vickers
from model.heat_course import seconds_at_heat
from model.inputs import FITTED_INPUTS, LATENTS, links
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE
from model.pack import carbon_at_activity
from model.planner import Goal, depth_of
from model.process import Process
from model.sight import Seen
from tests.model.invented import InventedShop
from tests.model.logbooks import job, logbook

RIM = Goal("rim", 1e-4, 1e-2)
DEPTH_M = np.linspace(0.0, 3e-3, 121)
WALKERS, STEPS, KEPT = 64, 4000, 2500
DRAWS = 4000


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


def log_posterior(evidence: Evidence, walkers: np.ndarray) -> np.ndarray:
    """Log density of the belief at many coordinates, (walkers, names) -> (walkers,)."""
    local = evidence.local(walkers.T).transpose(0, 2, 1)
    inputs = np.repeat(evidence.offset[:, None, :], len(walkers), axis=1)
    inputs[:, :, :FITTED_INPUTS] += local[evidence.first, :, :FITTED_INPUTS]
    found = evidence.foretold(inputs, local[:, :, -1])
    # reading by reading, as the fit judges them all at once
    likelihood = np.zeros(len(walkers))
    for index, reading in enumerate(evidence.readings):
        rows = evidence.values.owner == index
        likelihood += reading.likelihood(found.value[rows].T, found.doubt[rows].T).log.sum(axis=1)
    tail = 0.5 * (LATENT_FREEDOM + 1.0) * np.log1p(walkers**2 / (LATENT_FREEDOM * LATENT_SCALE**2))
    books = np.where(evidence.is_latent, tail, 0.5 * walkers**2).sum(axis=1)
    return np.asarray(likelihood - books)


@pytest.mark.long
@pytest.mark.property
def test_mean_and_bands_agree_with_a_sampler_on_a_small_logbook() -> None:
    emcee = pytest.importorskip("emcee")
    observations = logbook(InventedShop(7, {"ln_transfer/shop": -0.6, "lag/shop": 0.5}), 3)
    evidence = Evidence(observations, [], quick_look)
    fitted = fit(observations, [], look=quick_look).belief
    rng = np.random.default_rng(1)
    root = np.linalg.cholesky(fitted.covariance)
    start = fitted.mean + rng.standard_normal((WALKERS, len(fitted.names))) @ root.T
    moves = [(emcee.moves.DEMove(), 0.8), (emcee.moves.DESnookerMove(), 0.2)]
    np.random.seed(3)
    sampler = emcee.EnsembleSampler(
        WALKERS, len(fitted.names), lambda z: log_posterior(evidence, z), moves=moves, vectorize=True
    )
    sampler.run_mcmc(start, STEPS)
    chain = sampler.get_chain(discard=STEPS - KEPT)
    flat = chain.reshape(-1, len(fitted.names))
    assert _split_r_hat(chain).max() < 1.2

    away = np.abs(flat.mean(axis=0) - fitted.mean) / flat.std(axis=0)
    assert away.max() < 0.35
    ratio = np.sqrt(np.diag(fitted.covariance)) / fitted.spread / flat.std(axis=0)
    assert 0.8 < ratio.min() < ratio.max() < 1.2

    levels = [0.05, 0.5, 0.95]
    for process in (job("next"), job("next", 7.0, box="2", mix="2"), job("f0")):
        sampled, ours = _depths(process, fitted, flat, rng)
        reference, mine = np.quantile(sampled, levels), np.quantile(ours, levels)
        # acceptance figure of the simulation study, section 7: within 12 % of the band
        assert np.abs(mine - reference).max() < 0.12 * (reference[2] - reference[0])


def _depths(
    process: Process, fitted: ShopBelief, flat: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Depth of a job over the sampler's draws and over the belief's; no new fire's luck in either."""
    linked = links(process)
    names = linked.names()
    place = {name: index for index, name in enumerate(fitted.names)}
    root = np.linalg.cholesky(fitted.covariance / fitted.spread**2)
    sampled = flat[rng.integers(len(flat), size=DRAWS)]
    ours = fitted.mean + rng.standard_normal((DRAWS, len(place))) @ root.T
    fresh = rng.standard_normal((DRAWS, len(names)))
    fresh[:, [name.startswith(LATENTS) for name in names]] = 0.0
    depths = []
    for known in (sampled, ours):
        columns = [known[:, place[name]] if name in place else fresh[:, k] for k, name in enumerate(names)]
        rows = linked.offset + np.stack(columns, axis=1) @ linked.matrix(names).T
        depths.append(1e3 * depth_of(RIM, quick_look([process], rows[None])[0]))
    return depths[0], depths[1]


def _split_r_hat(chain: np.ndarray) -> np.ndarray:
    """Split R-hat of each coordinate, walkers as chains (Gelman et al., Bayesian Data Analysis, 3rd ed.)."""
    half = len(chain) // 2
    parts = np.concatenate([chain[:half], chain[half : 2 * half]], axis=1)
    between = half * parts.mean(axis=0).var(axis=0, ddof=1)
    within = parts.var(axis=0, ddof=1).mean(axis=0)
    return np.asarray(np.sqrt((half - 1) / half + between / half / within))
