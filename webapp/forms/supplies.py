"""What is asked about supplies: what a plan's box and bottle hold, the bottle's weight, and prices."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from model.gas_bottle import BOTTLE_KG, DAY_C, LEFT_KG
from model.gas_jet import GAUGE_BAR, JET_MM
from model.ranges import CARBONATE_PERCENT, Range
from webapp.forms.kit import Ask, FieldProblem, Form

PARTS = Range(1.0, 1000.0, "", "Count the pieces that lie in one box.")
PART_SIDE = Range(1.0, 3000.0, "mm", "Measure one part.")
OLD_KG = Range(0.0, 500.0, "kg", "Weigh the old pack, sifted and dry.")
LIT_H = Range(0.05, 200.0, "h", "Count the hours that the burner is lit.")
WORK_H = Range(
    0.0, 200.0, "h", "Count the hours of somebody's time, not those in which the fire burns alone."
)
WEIGHT_KG = Range(0.3, 200.0, "kg", "Put bottle and all on the scales, without the hose pulling on it.")
MONEY = Range(0.0, 1e6, "", "Give the price in your own money.")
DAYS_H = Range(1.0, 2600.0, "h", "Give it in hours or days: 5 d is 120 h.")

VALVE = Ask("Burner's valve at", help="The mark on it, if it has one: 2, half open", longest=20, folded=True)
Price = float | None


class SuppliesForm(Form):
    """What lies in the box of a plan, and what the fire burns."""

    parts: Annotated[int, Ask("How many parts lie in the box", quantity="number", range=PARTS)] = 1
    part_length_m: Annotated[
        float | None,
        Ask("Length of one part", quantity="length", range=PART_SIDE, help="Counts its skin and its room"),
    ] = None
    part_width_m: Annotated[
        float | None, Ask("Width of one part", quantity="length", range=PART_SIDE, help="Only for a flat one")
    ] = None
    old_kg: Annotated[
        float | None,
        Ask("Old pack you will use again", quantity="mass", unit="kg", range=OLD_KG, help="Sifted and dry"),
    ] = None
    old_percent: Annotated[
        float | None,
        Ask(
            "Carbonate still in the old pack",
            quantity="percent",
            range=CARBONATE_PERCENT,
            help="Blank counts none: the safe word for a pack that was used often",
            folded=True,
        ),
    ] = None
    fire_s: Annotated[
        float | None,
        Ask(
            "Hours the burner is lit",
            quantity="duration",
            range=LIT_H,
            help="Blank: warm-up, soak, and the reheat with its own warm-up",
        ),
    ] = None
    left_kg: Annotated[
        float | None,
        Ask(
            "Gas in the bottle now",
            quantity="mass",
            unit="kg",
            range=LEFT_KG,
            help="Its weight less the empty weight stamped on it",
        ),
    ] = None
    full_kg: Annotated[
        float | None, Ask("Gas in it when full", quantity="mass", unit="kg", range=BOTTLE_KG)
    ] = None
    day_K: Annotated[
        float | None,
        Ask(
            "Where the bottle stands it is", quantity="temperature", range=DAY_C, help="Blank: 15 °C (59 °F)"
        ),
    ] = None
    jet_m: Annotated[
        float | None,
        Ask(
            "Hole in the burner's jet",
            quantity="length",
            range=JET_MM,
            help="Where the forge's own sheet does not say, or says another",
            folded=True,
        ),
    ] = None
    gauge_Pa: Annotated[
        float | None,
        Ask(
            "Pressure after the regulator",
            quantity="pressure",
            range=GAUGE_BAR,
            help="In the soak. Blank: as it was set most often",
        ),
    ] = None
    valve: Annotated[str, VALVE] = ""
    work_s: Annotated[
        float | None,
        Ask("Hours of your own time", quantity="duration", range=WORK_H, help="Packing, lighting, hardening"),
    ] = None

    @model_validator(mode="after")
    def _bottle_holds_what_is_in_it(self) -> SuppliesForm:
        if (self.left_kg is None) != (self.full_kg is None):
            missing = "full_kg" if self.full_kg is None else "left_kg"
            raise FieldProblem(missing, "Give both what is in the bottle and what it holds when full.")
        if self.left_kg is not None and self.full_kg is not None and self.left_kg > self.full_kg * 1.02:
            raise FieldProblem("left_kg", "More than a full bottle holds. Take its empty weight off.")
        return self


class GasForm(Form):
    """The bottle's weight before and after a fire, and how the burner was set."""

    before_kg: Annotated[
        float,
        Ask("Bottle before the fire", quantity="mass", unit="kg", range=WEIGHT_KG, help="Bottle and all"),
    ]
    after_kg: Annotated[
        float | None,
        Ask(
            "Bottle after it", quantity="mass", unit="kg", range=WEIGHT_KG, help="Leave blank until it is out"
        ),
    ] = None
    lit_s: Annotated[
        float | None,
        Ask(
            "The burner was lit for",
            quantity="duration",
            range=LIT_H,
            help="Between the two; if it was turned up or down, at its first setting",
        ),
    ] = None
    gauge_Pa: Annotated[
        float | None, Ask("Pressure after the regulator", quantity="pressure", range=GAUGE_BAR)
    ] = None
    valve: Annotated[str, VALVE] = ""
    second_lit_s: Annotated[
        float | None, Ask("Turned up or down, then lit for", quantity="duration", range=LIT_H, folded=True)
    ] = None
    second_gauge_Pa: Annotated[
        float | None, Ask("At the pressure", quantity="pressure", range=GAUGE_BAR, folded=True)
    ] = None
    second_valve: Annotated[str, Ask("Valve then at", help="The mark on it", longest=20, folded=True)] = ""

    @model_validator(mode="after")
    def _a_fire_uses_gas(self) -> GasForm:
        if (self.after_kg is None) != (self.lit_s is None):
            missing = "lit_s" if self.lit_s is None else "after_kg"
            raise FieldProblem(missing, "Give the weight after the fire and the hours together.")
        if self.after_kg is not None and self.after_kg >= self.before_kg:
            raise FieldProblem("after_kg", "The bottle cannot weigh more after the fire. Swap the two?")
        return self

    @model_validator(mode="after")
    def _a_second_setting_has_its_hours(self) -> GasForm:
        has_setting = self.second_gauge_Pa is not None or bool(self.second_valve)
        if has_setting and self.second_lit_s is None:
            raise FieldProblem("second_lit_s", "How long was it lit at its second setting?")
        if self.second_lit_s is not None and not has_setting:
            raise FieldProblem("second_gauge_Pa", "Give pressure or valve mark of the second setting.")
        if self.second_lit_s is not None and self.lit_s is None:
            raise FieldProblem("lit_s", "Give the hours at the first setting, too.")
        return self


def _price(label: str, more: str = "") -> Ask:
    return Ask(label, quantity="number", range=MONEY, help=more)


class PricesForm(Form):
    """What the shop pays."""

    money: Annotated[str, Ask("Your money", help="As you write it: crowns, kr, $", longest=12)] = ""
    gas_per_kg: Annotated[Price, _price("Gas, a kilogram")] = None
    charcoal_per_kg: Annotated[Price, _price("Charcoal, a kilogram")] = None
    carbonate_per_kg: Annotated[Price, _price("Soda ash or what you stir in, a kilogram")] = None
    luting: Annotated[Price, _price("Clay for one box")] = None
    hour: Annotated[Price, _price("An hour of your time", "Leave blank if you do not count it")] = None


class PartPriceForm(Form):
    """What one part costs each way."""

    parts: Annotated[int, Ask("Parts to a box", quantity="number", range=PARTS)] = 1
    plain_bar: Annotated[Price, _price("Low-carbon bar for one part")] = None
    hardenable_bar: Annotated[
        Price, _price("Hardenable bar for one part", "Bar of 0.4 % carbon and up that hardens right through")
    ] = None
    hardening: Annotated[
        Price, _price("Heating, quenching and tempering that one", "Gas and time, without a pack")
    ] = None
    sent_out: Annotated[Price, _price("Sent out to be case hardened, one part")] = None
    sent_out_s: Annotated[
        float | None,
        Ask("Sent out, it is back in", quantity="duration", range=DAYS_H, help="120 h is 5 days"),
    ] = None
