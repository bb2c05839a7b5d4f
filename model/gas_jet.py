"""Propane through a drilled jet: how much flows, and what the burner gives by it."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from typing import Final

from model.ranges import Range, check
from model.units import kelvin_to_celsius

HEAT_RATIO: Final = 1.13
"""Ratio of heat capacities of propane gas near room temperature [-]; handbook value from memory."""
GAS_CONSTANT_J_PER_KGK: Final = 188.55
"""Of propane: 8314.46 / 44.096 [J/kg K]; exact by molar mass."""
LOWER_HEAT_J_PER_KG: Final = 46.35e6
"""Heat of burning propane with the water left as steam [J/kg]; suppliers' data pages."""
AMBIENT_Pa: Final = 101325.0
ROOM_K: Final = 288.15
DRILLED_JET: Final = 0.85
"""Discharge coefficient of a drilled jet [-], 0.80 to 0.90; a sharp edge gives 0.6 to 0.7; from memory."""
BURN_BACK_Pa: Final = 0.2e5
"""Gauge pressure under which a burner without a fan may burn back [Pa]; common practice, no source."""

JET_MM: Final = Range(
    0.2,
    3.0,
    "mm",
    "Forge jets are 0.5 to 1.5 mm (0.02 to 0.06 in); read the number on the jet or try drills.",
)
GAUGE_BAR: Final = Range(
    0.02, 4.0, "bar", "Read the gauge after the regulator: forges run at 0.3 to 2 bar (4 to 30 psi)."
)
GAS_C: Final = Range(
    -40.0, 50.0, "C", "Give the day's temperature; below -42 C (-44 F) propane does not boil."
)
DISCHARGE: Final = Range(0.4, 1.0, "", "A drilled jet lets through 0.80 to 0.90 of the ideal flow.")


@dataclass(frozen=True)
class JetFlow:
    """What a jet passes.

    kg_per_s : mass flow [kg/s]; power_W : heat of burning all of it, lower value [W]
    choked : the gas leaves at the speed of sound; may_burn_back : low pressure for a burner without a fan
    """

    kg_per_s: float
    power_W: float
    choked: bool
    may_burn_back: bool


def jet_flow(
    diameter_m: float, gauge_Pa: float, temperature_K: float = ROOM_K, discharge: float = DRILLED_JET
) -> JetFlow:
    """Flow of propane through a jet.

    diameter_m : of the hole, `JET_MM`; gauge_Pa : above the air outside, `GAUGE_BAR`
    temperature_K : of the gas, `GAS_C`; discharge : share of the ideal flow, `DISCHARGE`
    Returns `JetFlow`. Raises OutOfRange.
    Source: one-dimensional flow of an ideal gas without losses, choked below the critical pressure ratio
    (any text on gas dynamics); propane's numbers as the constants say.
    """
    check("diameter_m", diameter_m * 1e3, JET_MM)
    check("gauge_Pa", gauge_Pa / 1e5, GAUGE_BAR)
    check("temperature_K", float(kelvin_to_celsius(temperature_K)), GAS_C)
    check("discharge", discharge, DISCHARGE)
    upstream_Pa = gauge_Pa + AMBIENT_Pa
    ratio = AMBIENT_Pa / upstream_Pa
    choked = ratio <= critical_ratio()
    number = _choked_number() if choked else _unchoked_number(ratio)
    area_m2 = 0.25 * pi * diameter_m**2
    flow = discharge * area_m2 * upstream_Pa * number / sqrt(GAS_CONSTANT_J_PER_KGK * temperature_K)
    return JetFlow(flow, flow * LOWER_HEAT_J_PER_KG, choked, gauge_Pa < BURN_BACK_Pa)


def critical_ratio(heat_ratio: float = HEAT_RATIO) -> float:
    """Return the outside over the upstream pressure below which a jet is choked [-]."""
    return float((2.0 / (heat_ratio + 1.0)) ** (heat_ratio / (heat_ratio - 1.0)))


def _choked_number() -> float:
    k = HEAT_RATIO
    return sqrt(k * (2.0 / (k + 1.0)) ** ((k + 1.0) / (k - 1.0)))


def _unchoked_number(ratio: float) -> float:
    k = HEAT_RATIO
    return sqrt(2.0 * k / (k - 1.0) * (ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k)))
