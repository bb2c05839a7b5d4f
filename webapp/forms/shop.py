"""What the shop page asks about the forge, the boxes, the pack mixes and the quench baths."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from model.gas_jet import JET_MM
from model.ranges import BATH_TEMPERATURE_C, GRAIN_MM, Range
from webapp.forms.kit import Ask, Choice, FieldProblem, Form

# Limits of sense for a small shop, not of the physics. Common practice, no source.
FORGE_INSIDE = Range(60.0, 5000.0, "mm", "Measure the clear space inside, where a box can stand.")
BOX_INSIDE = Range(15.0, 1500.0, "mm", "Measure inside the box, where the pack lies.")
BOX_WALL = Range(0.5, 25.0, "mm", "Boxes are usually made of 2 to 6 mm (1/16 to 1/4 in) plate or tube.")
LITRE = Range(
    100.0,
    1200.0,
    "g",
    "Charcoal weighs 200 to 350 g (7 to 12 oz) a litre, a mix up to 600 g (21 oz). Do not press it down.",
)
MIXED_IN = Range(0.0, 60.0, "%", "Most of the good is had by 10 to 20 % of carbonate by weight.")
WATER = Range(0.0, 60.0, "%", "Charcoal kept dry holds 3 to 8 % of its weight as water; rained on, to half.")
WHOLE = Range(0.0, 100.0, "%", "Give a share of the pack between 0 and 100 %.")
LITRES = Range(0.2, 5000.0, "", "Give the volume in litres.")
SALT = Range(0.0, 26.0, "%", "Water takes up 26 % of salt at most; brine is usually 5 to 10 %.")

FUELS = (
    Choice("propane", "Propane"),
    Choice("natural gas", "Natural gas"),
    Choice("butane", "Butane"),
    Choice("other gas", "Other gas"),
)
HOT_ENDS = (
    Choice("even", "Even"),
    Choice("back", "The back"),
    Choice("middle", "Under the burner"),
    Choice("front", "The front"),
)
BOX_SHAPES = (Choice("rectangular", "Square or flat"), Choice("round", "Round"))
SEALS = (
    Choice("fireclay", "Fireclay luting"),
    Choice("air-drying clay", "Air-drying clay"),
    Choice("refractory mortar", "Refractory mortar"),
    Choice("lid only", "Lid only"),
)
FILLS = (Choice("filled", "Filled to the lid"), Choice("gap", "A gap above the part"))
CHARCOALS = (
    Choice("lump", "Lump"),
    Choice("crushed lump", "Crushed lump"),
    Choice("briquettes", "Briquettes", "binder and ash: weaker"),
)
MEDIA = (
    Choice("water", "Water"),
    Choice("brine", "Brine"),
    Choice("oil", "Oil", "quench, mineral or vegetable"),
    Choice("air", "Still air"),
)
STIRRING = (
    Choice("still", "Held still"),
    Choice("mild", "Moved a little"),
    Choice("moderate", "Moved well"),
    Choice("strong", "Moved hard"),
)

Name = Annotated[str, Ask("Name", help="What you call it at the bench", longest=80)]
Note = Annotated[str, Ask("Notes", kind="notes", folded=True)]


class ForgeForm(Form):
    """A gas forge."""

    name: Name
    fuel: Annotated[str, Ask("Fuel", choices=FUELS)]
    inside_length_m: Annotated[float, Ask("Inside, front to back", quantity="length", range=FORGE_INSIDE)]
    inside_width_m: Annotated[float, Ask("Inside width", quantity="length", range=FORGE_INSIDE)]
    inside_height_m: Annotated[float, Ask("Inside height", quantity="length", range=FORGE_INSIDE)]
    hot_end: Annotated[
        str, Ask("Hottest at", choices=HOT_ENDS, help="Where work turns yellow first", folded=True)
    ] = "even"
    jet_m: Annotated[
        float | None,
        Ask(
            "Hole in the burner's jet",
            quantity="length",
            range=JET_MM,
            folded=True,
            help="With the pressure it says what a propane burner takes. Two burners count as one hole of "
            "1.4 times the size",
        ),
    ] = None
    note: Note = ""


class BoxForm(Form):
    """A carburizing box."""

    name: Name
    shape: Annotated[str, Ask("Shape", choices=BOX_SHAPES)]
    inner_length_m: Annotated[float, Ask("Inside length", quantity="length", range=BOX_INSIDE)]
    inner_width_m: Annotated[
        float, Ask("Inside width", quantity="length", range=BOX_INSIDE, help="The bore, if it is round")
    ]
    seal: Annotated[str, Ask("Closed with", choices=SEALS)]
    inner_height_m: Annotated[
        float | None,
        Ask(
            "Inside height",
            quantity="length",
            range=BOX_INSIDE,
            folded=True,
            help="Leave blank if it is as high as it is wide",
        ),
    ] = None
    wall_m: Annotated[float, Ask("Wall", quantity="length", range=BOX_WALL, folded=True)] = 3e-3
    fill: Annotated[str, Ask("Pack", choices=FILLS, folded=True)] = "filled"
    note: Note = ""

    @model_validator(mode="after")
    def _round_is_as_high_as_wide(self) -> BoxForm:
        differs = self.inner_height_m is not None and abs(self.inner_height_m - self.inner_width_m) > 1e-6
        if self.shape == "round" and differs:
            raise FieldProblem(
                "inner_height_m", "A round box is as high as it is wide. Clear this, or pick another shape."
            )
        return self


class MixForm(Form):
    """A pack mix."""

    name: Name
    charcoal: Annotated[str, Ask("Charcoal", choices=CHARCOALS)]
    substance: Annotated[
        str,
        Ask("Stirred in", dynamic=True, help="What livens the pack; plain charcoal is slow and uneven"),
    ]
    substance_percent: Annotated[
        float,
        Ask("How much of it", quantity="percent", range=MIXED_IN, help="By weight, of the whole mix"),
    ] = 0.0
    other_substance: Annotated[
        str, Ask("Something else: what is it?", help="As it says on the bag", longest=80, folded=True)
    ] = ""
    grain_m: Annotated[
        float, Ask("Size of a usual piece", quantity="length", range=GRAIN_MM, folded=True)
    ] = 6e-3
    fresh_percent: Annotated[
        float,
        Ask(
            "Fresh pack in it",
            quantity="percent",
            range=WHOLE,
            help="100 % the first time; less as it is topped up",
            folded=True,
        ),
    ] = 100.0
    litre_kg: Annotated[
        float | None,
        Ask(
            "A full litre of it weighs",
            quantity="mass",
            range=LITRE,
            help="Fill a tin of one litre, loosely; then what a box takes is known by weight, and its "
            "warm-up goes by it. Blank: 300 g (10.6 oz)",
            folded=True,
        ),
    ] = None
    water_percent: Annotated[
        float | None,
        Ask(
            "Water in it",
            quantity="percent",
            range=WATER,
            help="Weigh a tin, dry it overnight at 110 °C (230 °F), weigh again: what it lost, of the first "
            "weight. It boils off before the work gets hot. Blank: 5 %, as charcoal kept dry holds",
            folded=True,
        ),
    ] = None
    note: Note = ""


class BathForm(Form):
    """A quench bath."""

    name: Name
    medium: Annotated[str, Ask("What is in it", choices=MEDIA)]
    temperature_K: Annotated[float, Ask("Usually at", quantity="temperature", range=BATH_TEMPERATURE_C)] = (
        293.15
    )
    salt_percent: Annotated[
        float | None,
        Ask("Salt", quantity="percent", range=SALT, help="By weight, for brine: 8 % is usual", folded=True),
    ] = None
    volume_litres: Annotated[
        float | None, Ask("Volume", quantity="number", unit="litres", range=LITRES, folded=True)
    ] = None
    agitation: Annotated[str, Ask("Work in the bath is", choices=STIRRING, folded=True)] = "moderate"
    note: Note = ""

    @model_validator(mode="after")
    def _brine_has_salt(self) -> BathForm:
        if self.medium == "brine" and self.salt_percent == 0.0:
            raise FieldProblem("salt_percent", "Brine without salt is water. Give the salt, or pick water.")
        if self.medium != "brine" and self.salt_percent:
            raise FieldProblem("salt_percent", "Salt goes with brine. Pick brine, or clear this.")
        return self
