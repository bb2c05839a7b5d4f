"""What is believed of a shop's constants, and the constants drawn from it.

Every parameter is whitened: its coordinate z is N(0, 1) under the prior, and a row of
`data/priors.csv` says how z becomes the physical value. A belief is a mean and a covariance over
named coordinates; a name never seen before draws from its prior.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Final
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from model.arrow import Covariance
from model.evened import evened
from model.inputs import LATENTS, LOCAL_INPUTS, Links, links, turn_of
from model.packed import ROUGH, packed
from model.packed_covariance import packed_covariance
from model.priors import prior_table, scatter_factor
from model.process import Process

Array = NDArray[np.float64]

# A search may try coordinates that no shop has; its constants are held within what the equations take.
MOST_BIAS_K: Final = 200.0
TRANSFER_RANGE_M_PER_S: Final = (1e-10, 1e-5)
ACTIVATION_RANGE_J_PER_MOL: Final = (-3.0e5, 6.0e5)
LEAST_ACTIVITY: Final = 0.01
LAG_RANGE_S: Final = (1.0, 40.0 * 3600.0)
SEVERITY_RANGE: Final = (0.1, 10.0)
MOST_OVEN_OFFSET_K: Final = 100.0
TEMPER_LOSS_RANGE: Final = (0.3, 3.0)
GRAIN_NUMBER_RANGE: Final = (0.0, 14.0)
TIME_FACTOR_RANGE: Final = (0.02, 50.0)
MOST_BREAKDOWN_K: Final = 400.0
LEAST_RIM_CARBON_WT: Final = 0.25  # no eye calls softer steel a hard rim
JITTER: Final = 1e-12
STREAMS_KEPT: Final = 256
"""Streams of draws by name: those of a few processes, of which a plan asks for the same again and again."""


@dataclass(frozen=True)
class Constants:
    """Effective constants of one process; every field has shape (draws,), or (1,) for a point.

    temperature_bias_K : what must be added to a recorded temperature to get the work's own [K]
    transfer_m_per_s : mass transfer from the pack at 925 C [m/s]
    transfer_activation_J_per_mol : its apparent activation energy [J/mol]
    carbon_activity : activity of the pack gas against graphite [-]
    lag_s : time from box in the fire to work at heat [s]
    base_carbon_shift_wt : the bar's own carbon less the middle of its stated range [wt%]
    alloy_exponent : share of the alloy correction that is applied [-], 0 none, 1 all of it
    rim_carbon_wt : carbon at which an eye sees the rim of the case end [wt%]
    retained_austenite_factor : multiplier on the predicted retained austenite [-]
    martensite_shift_HV : shift of the hardness of high-carbon martensite [HV]
    bath_severity : the bath's own factor on all heat transfer [-]
    oven_offset_K : what the tempering oven truly is less its dial [K]
    temper_loss_factor : what a temper takes off over what the law says [-]
    grain_number : ASTM number of the austenite grain at the quench [-]
    pearlite_time, bainite_time : factors on the times in which they form [-]
    film_breakdown_K : how much hotter the film of water breaks down than the books say [K]
    bare_quantile : where in its range a held surface's carbon lies, -1 to 1 [-]
    """

    temperature_bias_K: Array
    transfer_m_per_s: Array
    transfer_activation_J_per_mol: Array
    carbon_activity: Array
    lag_s: Array
    base_carbon_shift_wt: Array
    alloy_exponent: Array
    rim_carbon_wt: Array
    retained_austenite_factor: Array
    martensite_shift_HV: Array
    bath_severity: Array
    oven_offset_K: Array
    temper_loss_factor: Array
    grain_number: Array
    pearlite_time: Array
    bainite_time: Array
    film_breakdown_K: Array
    bare_quantile: Array

    @property
    def draws(self) -> int:
        """Number of draws."""
        return max(int(getattr(self, name).shape[0]) for name in self.__dataclass_fields__)


def constants_of(process: Process, inputs: Array) -> Constants:
    """Return the constants of a process from its local inputs.

    process : the process (the range of its bar's carbon is read from its steel)
    inputs : (draws, local inputs) in the order of `LOCAL_INPUTS`
    Returns constants with fields of shape (draws,).
    """
    return constants_of_each([process], inputs[None])


def constants_of_each(processes: Sequence[Process], inputs: Array) -> Constants:
    """Return the constants of several processes in a row, from as many draws of each.

    inputs : (processes, draws, local inputs)
    Returns constants with fields of shape (processes * draws,).
    """
    steels = [process.steel for process in processes]
    half_range_wt = np.array([0.5 * (steel.carbon_high_wt - steel.carbon_low_wt) for steel in steels])
    return _constants(half_range_wt.repeat(inputs.shape[1]), inputs.reshape(-1, inputs.shape[2]))


def _constants(half_range_wt: Array, inputs: Array) -> Constants:
    """Return constants from half the range of a bar's carbon, (M,) [wt%], and inputs, (M, local inputs)."""
    table = prior_table()
    at = dict(zip(LOCAL_INPUTS, inputs.T, strict=True))

    def factor(name: str, limits: tuple[float, float]) -> Array:
        return np.asarray(np.exp(np.clip(at[name], *np.log(limits))))

    return Constants(
        temperature_bias_K=np.clip(at["temperature_K"], -MOST_BIAS_K, MOST_BIAS_K),
        transfer_m_per_s=factor("ln_transfer", TRANSFER_RANGE_M_PER_S),
        transfer_activation_J_per_mol=np.clip(at["activation_J_per_mol"], *ACTIVATION_RANGE_J_PER_MOL),
        carbon_activity=np.maximum(table["activity/shop"].transformed(at["activity_logit"]), LEAST_ACTIVITY),
        lag_s=factor("ln_lag", LAG_RANGE_S),
        base_carbon_shift_wt=half_range_wt * table["bar_carbon"].transformed(at["bar_quantile"]),
        alloy_exponent=table["alloy_exponent/shop"].transformed(at["alloy_logit"]),
        rim_carbon_wt=np.maximum(at["rim_carbon_wt"], LEAST_RIM_CARBON_WT),
        retained_austenite_factor=np.exp(at["ln_retained_austenite"]),
        martensite_shift_HV=at["martensite_HV"],
        bath_severity=factor("ln_bath_severity", SEVERITY_RANGE),
        oven_offset_K=np.clip(at["oven_offset_K"], -MOST_OVEN_OFFSET_K, MOST_OVEN_OFFSET_K),
        temper_loss_factor=factor("ln_temper_loss", TEMPER_LOSS_RANGE),
        grain_number=np.clip(at["grain_number"], *GRAIN_NUMBER_RANGE),
        pearlite_time=factor("ln_pearlite_time", TIME_FACTOR_RANGE),
        bainite_time=factor("ln_bainite_time", TIME_FACTOR_RANGE),
        film_breakdown_K=np.clip(at["film_breakdown_K"], -MOST_BREAKDOWN_K, MOST_BREAKDOWN_K),
        bare_quantile=table["bare_carbon/shop"].transformed(at["bare_quantile"]),
    )


@dataclass(frozen=True)
class ShopBelief:
    """What is believed of a shop: mean and covariance over named, whitened coordinates.

    names : keyed names such as `temperature_bias/thermocouple:3`, `ln_transfer/mix:2`, `fire/12`
    mean : (names,); covariance : of the names, fire by fire, both in prior sds, widened for what surprised
        in the fires
    spread : how much it was widened by (`widening`): a reading counts 1/spread^2 of what it says, 1 or more
    coupons : how many coupons it was learnt from
    draws : (draws, names) of the belief as it is widened, which no bell curve need be near (what hardens
        right through only says that there was time enough); None where only the quick fit's is known
    books : (names,) precision that the books give of it and that counts in full, 0 where nothing does
    """

    names: tuple[str, ...] = ()
    mean: Array = field(default_factory=lambda: np.zeros(0))
    covariance: Covariance = field(default_factory=lambda: Covariance.whole(np.zeros((0, 0))))
    spread: float = 1.0
    coupons: int = 0
    draws: Array | None = None
    books: Array | float = 0.0

    def constants(
        self, process: Process, draws: int, seed: int = 0, include_fire_scatter: bool = True
    ) -> Constants:
        """Draw the constants of a process.

        process : its keys choose the coordinates; a key never seen is drawn from the books
        draws : 1 or more; seed : any integer; the same seed gives the same draws of the same names
        include_fire_scatter : False leaves out what only one fire or one box in it has
        Returns constants with fields of shape (draws,).
        """
        return constants_of(process, self.inputs(process, draws, seed, include_fire_scatter))

    def inputs(self, process: Process, draws: int, seed: int = 0, include_fire_scatter: bool = True) -> Array:
        """Draw the local inputs of a process, (draws, local inputs); parameters as `constants`."""
        linked = links(process)
        names = linked.names_in_turn()
        coordinates = self.drawn(names, draws, seed, linked.scatter)
        if not include_fire_scatter:
            coordinates[:, [name.startswith(LATENTS) for name in names]] = 0.0
        return np.asarray(linked.offset + coordinates @ linked.matrix(names).T)

    def point(self, process: Process) -> Constants:
        """Return the constants at the middle of what is believed, fields of shape (1,)."""
        return constants_of(process, self.point_inputs(links(process))[None, :])

    def point_inputs(self, linked: Links) -> Array:
        """Return the local inputs at the middle of what is believed, (local inputs,)."""
        known = dict(zip(self.names, self.mean, strict=True))
        inputs = linked.offset.copy()
        for name, row, coefficient in linked.terms:
            inputs[row] += coefficient * known.get(name, 0.0)
        return inputs

    def drawn(
        self, names: Sequence[str], draws: int, seed: int, scatter: Sequence[tuple[str, str, float]] = ()
    ) -> Array:
        """Draw coordinates, (draws, names): known ones together, the rest from the books.

        scatter : of the processes' links: fires never seen scatter as wide as those that were
        Each name has its own evenly spread stream, evened against those before it: known ones first, what is
        drawn later (`inputs.LATER`) last, so that it leaves the draws of all the rest alone.
        """
        index = {name: place for place, name in enumerate(self.names)}
        known = [place for place, name in enumerate(names) if name in index]
        at = [index[names[place]] for place in known]
        coordinates, size = self._alone(names, draws, seed, scatter)
        if known and self.draws is not None:
            coordinates[:, known] = self._picked(draws, seed, at)
        even = coordinates.copy()
        turn = sorted(range(len(names)), key=lambda place: (turn_of(names[place]), place not in known))
        even[:, turn] = evened(coordinates[:, turn], size[turn])
        if self.draws is not None:
            even[:, known] = coordinates[:, known]
        elif known:
            root = np.linalg.cholesky(self.covariance.full(np.array(at)) + JITTER * np.eye(len(at)))
            even[:, known] = self.mean[at] + even[:, known] @ root.T
        return even

    def _alone(
        self, names: Sequence[str], draws: int, seed: int, scatter: Sequence[tuple[str, str, float]]
    ) -> tuple[Array, Array]:
        """Return each name's own stream, (draws, names), new fires as wide as believed, and its size."""
        streams = np.stack([_normal_stream(name, draws, seed) for name in names], axis=1)
        size = np.ones(len(names))
        for latent, scale, share in scatter:
            if latent in names and latent not in self.names:
                place, drawn = names.index(latent), self.drawn([scale], draws, seed)[:, 0]
                wide = scatter_factor(scale, drawn, share)
                streams[:, place] *= wide
                size[place] = np.sqrt(np.mean(wide**2))
        return streams, size

    def of_fires(self, *fires: str) -> ShopBelief:
        """Return what is believed of all that fires share and of some fires' own luck, not of the others'.

        fires : their keys. Of a bell curve and of draws alike this is exact, and what is left of a long
        logbook's belief is small: nothing that a process of these fires asks for is lost.
        """
        keep = np.flatnonzero([_is_wanted(name, fires) for name in self.names])
        return replace(
            self,
            names=tuple(self.names[place] for place in keep.tolist()),
            mean=self.mean[keep],
            covariance=self.covariance.only(keep),
            draws=None if self.draws is None else self.draws[:, keep],
            books=np.broadcast_to(self.books, self.mean.shape)[keep],
        )

    def _picked(self, draws: int, seed: int, at: Sequence[int]) -> Array:
        """Return stored draws of some names, (draws, at), evenly along their order and then shuffled."""
        assert self.draws is not None
        rng = np.random.default_rng([seed, len(self.draws)])
        even = (np.arange(draws) + rng.uniform()) * len(self.draws) / draws
        return np.asarray(self.draws[rng.permutation(even.astype(int))[:, None], np.asarray(at)])

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for storage: the covariance exactly, the draws to 1 in 2000 (`packed`)."""
        return {
            "names": list(self.names),
            "mean": self.mean.tolist(),
            "covariance": packed_covariance(self.covariance),
            "spread": self.spread,
            "coupons": self.coupons,
            "draws": None if self.draws is None else packed(self.draws, ROUGH),
            "books": np.asarray(self.books).tolist(),
        }


def handbook_belief() -> ShopBelief:
    """Return the belief of a shop of which nothing is known: the books alone."""
    return ShopBelief()


def _is_wanted(name: str, fires: Sequence[str]) -> bool:
    """Tell whether a coordinate is shared by all fires, or one of these fires' own."""
    return not name.startswith(LATENTS) or name.partition("/")[2].partition("|")[0] in fires


@lru_cache(maxsize=STREAMS_KEPT)
def _normal_stream(name: str, draws: int, seed: int) -> Array:
    """Draw from N(0, 1), one from each of `draws` equally likely slices, in an order of the name's own."""
    rng = np.random.default_rng([seed, crc32(name.encode())])
    stream = np.asarray(ndtri((rng.permutation(draws) + rng.uniform(1e-9, 1.0, draws)) / draws))
    stream.flags.writeable = False  # it is kept
    return stream
