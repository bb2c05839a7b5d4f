"""What the JSON interface answers of the logbook: SI numbers, moments in UTC, fields only ever added."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Schema = Literal[1]
OddWord = Literal["", "shallow", "deep", "disagree"]


class Answer(BaseModel):
    """Base of every answer here."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class NamedAnswer(Answer):
    """A record of the shop by its id and name."""

    id: int
    name: str


class EndsAnswer(Answer):
    """The least and the greatest of several readings."""

    least: float
    greatest: float


class SoakAnswer(Answer):
    """The soak as noted; null is not noted."""

    clock_from: str = Field(description="box_in, evenly_red or at_heat.")
    temperature_K: float | None
    temperature_give_or_take_K: float
    seconds: float | None
    seconds_give_or_take: float
    typed: dict[str, Any] = Field(description="The numbers as typed.")


class BatchAnswer(Answer):
    """One batch with what was read in it."""

    id: int
    number: int
    day: date
    state: str
    box: NamedAnswer
    mix: NamedAnswer
    heat: NamedAnswer
    bath: NamedAnswer | None
    soak: SoakAnswer | None
    coupons: int
    parts: int
    readings: int
    depth_by_eye_m: EndsAnswer | None
    hardness_HRC: EndsAnswer | None
    odd: OddWord = Field(description="How the newest fit finds its fire odd; empty if it does not.")
    given_up_because: str
    set_aside_because: str
    note: str


class BatchesAnswer(Answer):
    """A page of batches."""

    schema_: Schema = Field(default=1, alias="schema")
    total: int
    page: int
    pages: int
    batches: list[BatchAnswer]


class ReadingAnswer(Answer):
    """One reading; `value`, `low` and `high` are in `unit`, lengths in metres.

    `life` is 1 as the piece came of its batch and 2 and up since it was put right; `after` counts within it.
    """

    id: int
    kind: str
    after: str
    life: int
    place: str
    surface: str
    removed_m: float
    tester: NamedAnswer | None
    value: float | None
    low: float | None
    high: float | None
    unit: str
    details: dict[str, Any]
    typed: dict[str, Any]
    measured_at: datetime
    used: bool = Field(description="Whether the newest fit used it.")
    not_used_because: str


class PhotoAnswer(Answer):
    """One photo; its picture is at `address`, and its file is named by its hash."""

    id: int
    sha256: str
    address: str
    caption: str
    width_px: int
    height_px: int
    reading_id: int | None = Field(description="The reading that was measured on it.")
    measured: dict[str, Any] = Field(
        description="Points set on it, in its pixels: the scale's two, then pairs."
    )


class CouponAnswer(Answer):
    """One coupon with everything that was read off it."""

    id: int
    batch_id: int
    batch_number: int
    mark: str
    name: str
    steel: NamedAnswer
    shape: str
    size_m: float
    bore_m: float | None
    place: str
    is_pin: bool
    set_aside_because: str
    readings: list[ReadingAnswer]
    photos: list[PhotoAnswer]


class CouponsAnswer(Answer):
    """A page of coupons."""

    schema_: Schema = Field(default=1, alias="schema")
    total: int
    page: int
    pages: int
    coupons: list[CouponAnswer]


class SavedReadingAnswer(Answer):
    """A reading that was kept."""

    schema_: Schema = Field(default=1, alias="schema")
    coupon_id: int
    reading_id: int
    page: str = Field(description="The coupon's page, where the reading stands.")


class BeliefAnswer(Answer):
    """Mean and covariance over named coordinates, each in sds of its prior."""

    names: list[str]
    mean: list[float]
    covariance: list[list[float]]
    spread: float
    coupons: int
    draws: list[list[float]] | None = Field(
        default=None, description="Draws of it, where a bell curve pictures it poorly."
    )
    books: list[float] | float = Field(
        default=0.0, description="Precision that the books give of each coordinate and that counts in full."
    )


class FitAnswer(Answer):
    """One fit of the shop's constants."""

    id: int
    created_at: datetime
    model_version: str
    readings_used: list[int]
    coupons: int
    settled: bool
    summary: dict[str, Any] = Field(description="Readouts, predictions, odd fires, readings left out.")
    belief: BeliefAnswer


class NewestFitAnswer(Answer):
    """The newest fit of this model; null while nothing was fitted."""

    schema_: Schema = Field(default=1, alias="schema")
    model_version: str
    fit: FitAnswer | None


class ExportAnswer(Answer):
    """Everything in the logbook, a list of rows for each table."""

    schema_: Schema = Field(default=1, alias="schema")
    revision: str = Field(description="The form of the logbook; `casewright read-back` begins from it.")
    model_version: str
    exported_at: datetime
    tables: dict[str, list[dict[str, Any]]]
