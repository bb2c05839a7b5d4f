"""What is believed of a shop's constants, and the constants drawn from it.

Every parameter is whitened: its coordinate z is N(0, 1) under the prior, and a row of
`data/priors.csv` says how z becomes the physical value. A belief is a mean and a covariance over
named coordinates; a name never seen before draws from its prior.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


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

    @property
    def draws(self) -> int:
        """Number of draws."""
        return max(getattr(self, name).shape[0] for name in self.__dataclass_fields__)
