"""What `POST /api/forecast` and `casewright forecast` answer."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

DepthName = Literal["HV550", "HRC50", "core50", "total", "rim"]
DepthStatus = Literal["found", "none", "whole_section", "not_modelled"]
Profile = list[float]


class Answer(BaseModel):
    """Base of every answer here."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class CaseDepthAnswer(Answer):
    """A case depth by one definition, with the band that holds nine of ten such jobs."""

    value: float | None = Field(description="At the middle of what is believed [mm]; null unless found.")
    low: float | None = Field(description="5 % of the draws lie below [mm]; 0 where a draw has no case.")
    high: float | None = Field(description="5 % of the draws lie above [mm].")
    status: DepthStatus


class BandAnswer(Answer):
    """The band around a profile that holds nine of ten such jobs."""

    low: Profile
    high: Profile


class ConstantAnswer(Answer):
    """One constant that was used."""

    median: float
    low: float
    high: float
    unit: str


class ConstantsAnswer(Answer):
    """What the forecast was made with."""

    source: Literal["handbook", "logbook"]
    fit: int | None = Field(default=None, description="The fit that was used; null for the handbook.")
    draws: int
    seed: int
    values: dict[str, ConstantAnswer]


class WarningAnswer(Answer):
    """One warning."""

    code: str
    path: str
    text: str


class StateAnswer(Answer):
    """Carbon after one stage."""

    stage: int
    carbon_wt: Profile
    carbon_gain_g_per_m2: float


class ForecastAnswer(Answer):
    """The forecast. Profiles are those at the middle of what is believed; null is not modelled."""

    schema_: Literal[1] = Field(default=1, alias="schema")
    model_version: str
    depth_mm: Profile
    carbon_wt: Profile
    carbon_wt_90: BandAnswer
    carbon_in_austenite_wt: Profile | None
    retained_austenite: Profile | None
    martensite: Profile | None
    pearlite_bainite_ferrite: Profile | None = Field(description="The sum of the three that follow.")
    ferrite: Profile | None
    pearlite: Profile | None
    bainite: Profile | None
    carbide: Profile | None
    hardness_as_quenched_HV: Profile | None
    hardness_tempered_HV: Profile | None
    hardness_HV_90: BandAnswer | None = Field(description="Around the final hardness.")
    film_seconds: float | None = Field(description="How long the vapour film lasts on the face; 0: no film.")
    surface_HV: float | None
    surface_HRC: float | None
    surface_HRC_90: list[float | None] | None = Field(description="[low, high]; null if off the scale.")
    reading_HRC: float | None = Field(description="What a Rockwell C test on the face would show.")
    reading_sd_HRC: float | None
    reading_HRC_90: list[float | None] | None
    core_HV: float | None
    core_HRC: float | None
    case_depth_mm: dict[DepthName, CaseDepthAnswer]
    carbon_gain_g_per_m2: float
    states: list[StateAnswer]
    warnings: list[WarningAnswer]
    assumptions: list[str]
    constants: ConstantsAnswer
