"""What the demo's invented shop pays, weighed and planned: prices, gas bottles, a plan and its supplies."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time
from typing import Any

from model.units import HOUR_s, celsius_to_kelvin
from webapp.forms.plans import PlanForm
from webapp.services.planning import save_plan, work_out
from webapp.services.supplies_cost import PRICES_ID
from webapp.store.tables import GasWeighing, PartPrice, PlanSupplies, Prices
from webapp.store.unit_of_work import UnitOfWork

HOURS: Mapping[str, Any] = {"opens_at": time(7, 30), "leaves_at": time(18, 30), "starts_at": time(8, 0)}
PRICES: Mapping[str, Any] = {
    "money": "crowns", "gas_per_kg": 3.2, "charcoal_per_kg": 2.5, "carbonate_per_kg": 4.0, "luting": 0.8,
    "hour": 18.0,
}  # fmt: skip
PART_PRICE: Mapping[str, Any] = {
    "plain_bar": 0.9, "hardenable_bar": 2.6, "hardening": 4.5, "sent_out": 7.0, "sent_out_s": 240 * HOUR_s,
    "parts": 8,
}  # fmt: skip

WARM_UP_Pa, SOAK_Pa = 0.7e5, 0.4e5
# batch -> weight before and after its fire [kg], hours at the pressure of the warm-up and at that of the soak
WEIGHED: Mapping[int, tuple[float, float, float, float]] = {
    10: (24.6, 17.6, 1.2, 5.6),
    11: (22.9, 17.0, 1.2, 4.6),
    13: (24.8, 20.6, 1.3, 2.7),
    14: (20.6, 15.3, 1.2, 4.0),
    15: (23.7, 19.2, 1.1, 3.2),
    16: (19.2, 14.4, 1.3, 3.4),
}
BOTTLE: Mapping[str, Any] = {
    "full_kg": 11.0,
    "left_kg": 9.3,
    "gauge_Pa": SOAK_Pa,
    "day_K": float(celsius_to_kelvin(12.0)),
}
PARTS_IN_BOX = 8
PART_LENGTH_m = 0.06
WORK_s = 2.5 * HOUR_s
SOAK_C, REHEAT_C, TEMPER_C = 920.0, 790.0, 180.0
REHEAT_s, TEMPER_s = 900.0, 3600.0


def add_prices(work: UnitOfWork, part_id: int) -> None:
    """Add what the shop pays, and what one of its parts costs each way."""
    work.add(Prices(id=PRICES_ID, **PRICES))
    work.add(PartPrice(part_id=part_id, **PART_PRICE))


def add_weighings(work: UnitOfWork, fires: Mapping[int, int]) -> None:
    """Add the bottles that were weighed; `fires` by the number of a batch."""
    for number, (before_kg, after_kg, warm_up_h, soak_h) in WEIGHED.items():
        work.add(
            GasWeighing(
                fire_id=fires[number],
                before_kg=before_kg,
                after_kg=after_kg,
                lit_s=warm_up_h * HOUR_s,
                gauge_Pa=WARM_UP_Pa,
                second_lit_s=soak_h * HOUR_s,
                second_gauge_Pa=SOAK_Pa,
            )
        )


def add_plan(work: UnitOfWork, ids: Mapping[str, int], part_id: int) -> None:
    """Add a plan of a part as a shop without a fit would make it, and what was told of its supplies."""
    form = PlanForm(
        part_id=part_id,
        temperature_K=float(celsius_to_kelvin(SOAK_C)),
        mix_id=ids["soda"],
        bath_id=ids["water"],
        box_id=ids["tube"],
        heat_instrument_id=ids["thermocouple"],
        reheat_K=float(celsius_to_kelvin(REHEAT_C)),
        reheat_s=REHEAT_s,
        temper_K=float(celsius_to_kelvin(TEMPER_C)),
        temper_s=TEMPER_s,
    )
    href = save_plan(work, form, work_out(work.session, form), {})
    told: dict[str, Any] = {"parts": PARTS_IN_BOX, "part_length_m": PART_LENGTH_m, "work_s": WORK_s, **BOTTLE}
    work.add(PlanSupplies(plan_id=int(href.rpartition("/")[2]), **told))
