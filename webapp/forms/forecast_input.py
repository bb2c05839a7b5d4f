"""What `POST /api/forecast` and `casewright forecast` take."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from model import ranges
from webapp.forms.json_error import Refused, Within, errors_of_validation, parse_strict
from webapp.forms.sent_json import Number, Sent

SoakCelsius = Annotated[Number, Within(ranges.SOAK_TEMPERATURE_C)]
ReheatCelsius = Annotated[Number, Within(ranges.REHEAT_TEMPERATURE_C)]
Hours = Annotated[Number, Within(ranges.HOURS)]
Minutes = Annotated[Number, Within(ranges.MINUTES)]

HISTORY_CELSIUS = ranges.Range(0.0, 1150.0, "C", "Give each point as [minutes, temperature in Celsius].")
HISTORY_MINUTES = ranges.Range(0.0, 24000.0, "min", "Give each point as [minutes, temperature in Celsius].")
COOLING_RATE_C_PER_HOUR = ranges.Range(
    10.0, 2000.0, "C/h", "A closed box left in a shut-down forge cools by some 100 to 300 C an hour."
)
DRAWS = ranges.Range(1, 1000, "", "200 draws give bands that are steady to a few percent.")
MOST_STAGES = 20
MOST_POINTS = 300

_TAGGED = frozenset({"steel", "section", "supply", "temper", "stages[]"})


def _complain(what: str, advice: str, **context: str) -> PydanticCustomError:
    return PydanticCustomError("not_possible", "{what}", {"what": what, "advice": advice, **context})


class GradeSteel(Sent):
    """A standard grade; its spread enters the bands."""

    grade: str = Field(min_length=1, max_length=40, examples=["1018"])


class CompositionSteel(Sent):
    """A steel by its analysis; elements not given are nothing."""

    composition_wt: dict[str, Number] = Field(
        min_length=1, max_length=len(ranges.ELEMENT_WT), examples=[{"C": 0.16, "Mn": 0.7}]
    )

    @model_validator(mode="after")
    def _known_elements(self) -> CompositionSteel:
        for element, value in self.composition_wt.items():
            range_ = ranges.ELEMENT_WT.get(element)
            if range_ is None:
                what = f"{element[:20]!r} is not an element that is used here"
                raise _complain(what, "Take it out.", allowed=", ".join(ranges.ELEMENT_WT))
            if not range_.low <= value <= range_.high:
                allowed = f"{element} {range_.low:g} to {range_.high:g} {range_.unit}"
                raise _complain(f"{element} is {value:g} wt%", range_.advice, allowed=allowed)
        return self


class PlateSection(Sent):
    """A plate or flat bar."""

    shape: Literal["plate"]
    thickness_mm: Annotated[Number, Within(ranges.THICKNESS_MM)]


class RodSection(Sent):
    """A round bar."""

    shape: Literal["rod"]
    diameter_mm: Annotated[Number, Within(ranges.DIAMETER_MM)]


class TubeSection(Sent):
    """A tube; the bore feeds too when it is full of pack."""

    shape: Literal["tube"]
    diameter_mm: Annotated[Number, Within(ranges.DIAMETER_MM)]
    bore_mm: Annotated[Number, Within(ranges.BORE_MM)]
    bore_packed: bool = False

    @model_validator(mode="after")
    def _has_a_wall(self) -> TubeSection:
        if self.bore_mm >= self.diameter_mm:
            raise _complain(
                f"the bore of {self.bore_mm:g} mm leaves no wall",
                "The bore must be smaller than the diameter.",
                allowed=f"below {self.diameter_mm:g} mm",
            )
        return self


class MixSupply(Sent):
    """Charcoal with carbonate; how lively it is comes from the constants."""

    mix: Literal["charcoal"]
    carbonate_percent: Annotated[Number, Within(ranges.CARBONATE_PERCENT)] = 0.0


class AtmosphereSupply(Sent):
    """A stated atmosphere: the carbon potential of pure iron, and the transfer to the steel."""

    carbon_potential_wt: Annotated[Number, Within(ranges.CARBON_POTENTIAL_WT)]
    transfer_m_per_s: Annotated[Number, Within(ranges.TRANSFER_M_PER_S)]


class SurfaceSupply(Sent):
    """The steel's own surface carbon, held."""

    surface_carbon_wt: Annotated[Number, Within(ranges.CARBON_WT)]


def _supply_kind(value: Any) -> str:
    names = value if isinstance(value, dict) else getattr(value, "model_fields_set", ())
    if "surface_carbon_wt" in names:
        return "surface"
    return "atmosphere" if "carbon_potential_wt" in names or "transfer_m_per_s" in names else "mix"


def _steel_kind(value: Any) -> str:
    names = value if isinstance(value, dict) else getattr(value, "model_fields_set", ())
    return "composition" if "composition_wt" in names else "grade"


def _temper_kind(value: Any) -> str:
    return "several" if isinstance(value, list) else "one"


Supply = Annotated[
    Annotated[MixSupply, Tag("mix")]
    | Annotated[AtmosphereSupply, Tag("atmosphere")]
    | Annotated[SurfaceSupply, Tag("surface")],
    Discriminator(_supply_kind),
]
Steel = Annotated[
    Annotated[GradeSteel, Tag("grade")] | Annotated[CompositionSteel, Tag("composition")],
    Discriminator(_steel_kind),
]
Section = Annotated[PlateSection | RodSection | TubeSection, Discriminator("shape")]
Point = Annotated[list[Number], Field(min_length=2, max_length=2)]


class Timed(Sent):
    """A stage that lasts: hours or minutes at one temperature, or a history."""

    hours: Hours | None = None
    minutes: Minutes | None = None
    history: Annotated[list[Point], Field(min_length=2, max_length=MOST_POINTS)] | None = Field(
        default=None, description="[[minutes, temperature in Celsius], ...], minutes rising."
    )

    @property
    def seconds(self) -> float:
        """Length of the stage [s], where it is given by hours or minutes."""
        return 3600.0 * self.hours if self.hours is not None else 60.0 * (self.minutes or 0.0)

    @model_validator(mode="after")
    def _lasts_once(self) -> Timed:
        given = [name for name in ("hours", "minutes", "history") if getattr(self, name) is not None]
        if len(given) != 1:
            what = "give exactly one of hours, minutes and history, not " + (" and ".join(given) or "none")
            raise _complain(what, "Keep one of them.")
        if (getattr(self, "temperature_C", None) is None) != (self.history is not None):
            raise _complain("give a temperature_C, or a history that holds its own", "Keep one of them.")
        _check_history(self.history or [])
        return self


def _check_history(history: list[list[float]]) -> None:
    """Hold a history to its ranges and to time that runs forwards."""
    for minutes, celsius in history:
        for value, range_ in ((minutes, HISTORY_MINUTES), (celsius, HISTORY_CELSIUS)):
            if not range_.low <= value <= range_.high:
                what = f"history: {value:g} {range_.unit} is out of range"
                allowed = f"{range_.low:g} to {range_.high:g} {range_.unit}"
                raise _complain(what, range_.advice, allowed=allowed)
    if any(later[0] <= earlier[0] for earlier, later in pairwise(history)):
        raise _complain("history: the minutes must rise from point to point", "Put the points in order.")


class CarburizeStage(Timed):
    """Soaking in the pack, or in a stated atmosphere."""

    kind: Literal["carburize"]
    temperature_C: SoakCelsius | None = None
    supply: Supply


class DiffuseStage(Timed):
    """Hot with a sealed surface: the carbon only spreads inwards."""

    kind: Literal["diffuse"]
    temperature_C: SoakCelsius | None = None


class ReheatStage(Timed):
    """Heating for the quench, outside the pack."""

    kind: Literal["reheat"]
    temperature_C: ReheatCelsius | None = None


class SlowCoolStage(Sent):
    """Cooling in the closed box; it goes on feeding while the steel is austenite."""

    kind: Literal["slow_cool"]
    rate_C_per_hour: Annotated[Number, Within(COOLING_RATE_C_PER_HOUR)] | None = None


Stage = Annotated[CarburizeStage | DiffuseStage | SlowCoolStage | ReheatStage, Discriminator("kind")]


class QuenchInput(Sent):
    """The bath, and a deeper cold after it."""

    medium: Literal["air", "oil", "mineral oil", "vegetable oil", "water", "brine"]
    bath_C: Annotated[Number, Within(ranges.BATH_TEMPERATURE_C)] = 20.0
    agitation: Literal["still", "mild", "moderate", "strong"] = "moderate"
    seconds_to_bath: Annotated[Number, Within(ranges.SECONDS_TO_BATH)] = 2.0
    salt_percent: Annotated[Number, Within(ranges.SALT_PERCENT)] | None = Field(
        default=None, description="Salt of a brine by weight; none: the usual 10 %."
    )
    then_cold_C: Annotated[Number, Within(ranges.COLD_TEMPERATURE_C)] | None = None


class TemperInput(Sent):
    """One temper."""

    temperature_C: Annotated[Number, Within(ranges.TEMPER_TEMPERATURE_C)]
    hours: Hours | None = None
    minutes: Minutes | None = None

    @model_validator(mode="after")
    def _lasts_once(self) -> TemperInput:
        if (self.hours is None) == (self.minutes is None):
            raise _complain("give exactly one of hours and minutes", "Keep one of them.")
        return self

    @property
    def seconds(self) -> float:
        """Length of the temper [s]."""
        return 3600.0 * self.hours if self.hours is not None else 60.0 * (self.minutes or 0.0)


Temper = Annotated[
    Annotated[TemperInput, Tag("one")]
    | Annotated[Annotated[list[TemperInput], Field(min_length=1, max_length=10)], Tag("several")],
    Discriminator(_temper_kind),
]


class ForecastInput(Sent):
    """One piece of steel and everything that is done to it."""

    steel: Steel
    section: Section
    stages: list[Stage] = Field(default=[], max_length=MOST_STAGES)
    quench: QuenchInput | None = None
    temper: Temper | None = None
    draws: Annotated[int, Within(DRAWS)] = 200
    seed: int = Field(default=0, ge=0, le=2**32 - 1)
    fit: int | None = Field(
        default=None,
        ge=1,
        le=2**53,
        description="A fit of the running app's logbook, as GET /api/fit names it; none: the handbook.",
    )

    @property
    def tempers(self) -> list[TemperInput]:
        """The tempers in order, none, one or several."""
        if self.temper is None:
            return []
        return self.temper if isinstance(self.temper, list) else [self.temper]


def read_forecast_input(raw: bytes | str) -> ForecastInput:
    """Return the input that a text holds; raises Refused with all that is wrong with it."""
    try:
        return ForecastInput.model_validate(parse_strict(raw))
    except ValidationError as problem:
        raise Refused(errors_of_validation(problem, _TAGGED)) from None
