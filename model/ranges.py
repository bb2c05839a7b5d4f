"""What each number may be: ranges as data, and the one helper that holds a value against them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from model.errors import OutOfRange


@dataclass(frozen=True)
class Range:
    """Closed range of a quantity: `low` to `high` in `unit`, and what to do about a value outside it."""

    low: float
    high: float
    unit: str
    advice: str


def check(path: str, value: float, range_: Range) -> float:
    """Return a value that lies in its range.

    Parameters: path : the field's name, kept in the error; value : the number, in the range's unit;
    range_ : the range, ends included.
    Returns: the value, unchanged.
    Raises: OutOfRange for a value outside the range, and for NaN and the infinities.
    """
    if not math.isfinite(value) or not range_.low <= value <= range_.high:
        raise OutOfRange(path, value, range_.low, range_.high, range_.unit, range_.advice)
    return value


# Limits of sense and of the equations behind them, not limits of good practice. No source unless said.
SOAK_TEMPERATURE_C = Range(
    400.0,
    1150.0,
    "C",
    "Give the work's temperature in Celsius; a soak is usually 850 to 950 C (1560 to 1740 F).",
)
REHEAT_TEMPERATURE_C = Range(
    400.0, 1150.0, "C", "Give the temperature in Celsius; a reheat is usually 760 to 900 C (1400 to 1650 F)."
)
TEMPER_TEMPERATURE_C = Range(
    50.0,
    700.0,
    "C",
    "Give the temperature in Celsius; a case is usually tempered at 120 to 205 C (250 to 400 F).",
)
BATH_TEMPERATURE_C = Range(
    -30.0,
    250.0,
    "C",
    "Give the bath in Celsius; water is used at 10 to 40 C (50 to 105 F), oil at 40 to 80 C (105 to 175 F).",
)
WORK_KG = Range(0.001, 500.0, "kg", "Weigh all the steel that goes into the bath at once, in kilograms.")
GRAIN_MM = Range(0.1, 60.0, "mm", "Give the size of a usual piece; 3 to 6 mm (1/8 to 1/4 in) is common.")
BULK_KG_PER_M3 = Range(
    100.0, 1200.0, "kg/m3", "Weigh a known tin full of the mix: grams over millilitres times 1000."
)
SALT_PERCENT = Range(0.0, 26.0, "%", "Salt by weight: 10 to 12 % is usual; water holds no more than 26 %.")
COLD_TEMPERATURE_C = Range(
    -196.0, 20.0, "C", "Liquid nitrogen is -196 C (-321 F); dry ice in spirit about -75 C (-103 F)."
)
HOURS = Range(1.0 / 60.0, 400.0, "h", "The shortest time counted is one minute.")
MINUTES = Range(1.0, 24000.0, "min", "The shortest time counted is one minute; the longest 400 hours.")
SECONDS_TO_BATH = Range(0.0, 120.0, "s", "Count from the open fire to the work being under.")
THICKNESS_MM = Range(0.5, 300.0, "mm", "Give the thickness in millimetres, or write the unit, as in 1/4 in.")
DIAMETER_MM = Range(0.5, 300.0, "mm", "Give the diameter in millimetres, or write the unit, as in 1/2 in.")
BORE_MM = Range(0.2, 299.0, "mm", "The bore must be smaller than the outside; a bar without a bore is a rod.")
CASE_DEPTH_MM = Range(0.02, 10.0, "mm", "Cases of this kind run from 0.1 to 2 mm (0.004 to 0.080 in).")
WANTED_HRC = Range(20.0, 68.0, "HRC", "The Rockwell C scale is used from 20 to 68; a good case is 58 to 64.")
CARBON_WT = Range(0.0, 2.0, "wt%", "Carbon is given in percent by weight; low-carbon bar has 0.05 to 0.25.")
CARBON_POTENTIAL_WT = Range(
    0.05, 2.1, "wt%", "Carbon potential is that of pure iron; useful values are 0.6 to 1.3."
)
TRANSFER_M_PER_S = Range(1e-10, 1e-5, "m/s", "Published transfer coefficients lie between 1e-8 and 4e-7 m/s.")
CARBONATE_PERCENT = Range(
    0.0, 60.0, "%", "Most of the good is had by 10 to 20 % of carbonate by weight; old mixes stop at 40."
)
SHARE = Range(0.0, 1.0, "", "Give a share between none (0) and all (1).")
ACTIVITY = Range(1e-6, 2.0, "", "Carbon activity is counted against graphite, which is 1.")
# Beyond the ends nothing here melts or means anything; the equations run smoothly between them.
MODEL_TEMPERATURE_K = Range(
    250.0, 1700.0, "K", "The equations for carbon in iron run from room temperature to below melting."
)
ELEMENT_WT: dict[str, Range] = {
    element: Range(0.0, high, "wt%", "Give the element in percent by weight, as on the mill certificate.")
    for element, high in {
        "C": 2.0, "Si": 2.5, "Mn": 2.5, "P": 0.2, "S": 0.5, "Cr": 5.0,
        "Ni": 5.0, "Mo": 1.5, "Cu": 1.5, "V": 1.0, "N": 0.1, "Al": 1.5,
    }.items()
}  # fmt: skip
