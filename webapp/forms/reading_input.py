"""What `POST /api/coupons/{coupon_id}/readings` takes: a reading as its form asks for it, in numbers."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from model.ranges import Range
from webapp.forms.answers import Raw
from webapp.forms.ask import LONGEST_NOTES
from webapp.forms.json_error import Within
from webapp.forms.logbook import LARGEST_ID
from webapp.forms.readings import GROUND_OFF, HV, SEEN_DEPTH
from webapp.forms.sent_json import Number, Sent

KEY_PATTERN = "^[A-Za-z0-9_-]{8,64}$"
ANY_SCALE = Range(20.0, 1200.0, "", "HRC runs from 20 to 70, HRA from 60 to 87, HR15N from 70 to 94.")
TesterId = Annotated[int, Field(ge=1, le=LARGEST_ID)]
Tester = Annotated[TesterId | None, Field(description="Left out: the shop's newest that reads so.")]


class AnyReadingInput(Sent):
    """What every reading tells; it is noted as taken at the moment it comes."""

    ours: ClassVar[dict[str, str]] = {"removed_m": "removed_mm", "instrument_id": "tester_id"}
    """Fields of the form that are called otherwise here."""

    after: Literal["slow_cool", "quench", "temper_1", "temper_2"] | None = Field(
        default=None, description="What it was measured after; left out: the last of these in the log."
    )
    place: Literal["end", "middle", "edge", "bore"] = "middle"
    surface: Literal["as it came", "emeried", "ground"] = "as it came"
    removed_mm: Annotated[Number, Within(GROUND_OFF)] | None = Field(
        default=None, description="What was ground off there."
    )
    note: str = Field(default="", max_length=LONGEST_NOTES)

    def raw(self) -> Raw:
        """Return what the form of this reading would have sent."""
        told = {"place": self.place, "surface": self.surface, "note": self.note}
        told |= {"after": self.after} if self.after else {}
        return told | ({} if self.removed_mm is None else {"removed_m": _mm(self.removed_mm)})


class HardnessInput(AnyReadingInput):
    """Hardness by a machine."""

    kind: Literal["hardness"]
    value: Annotated[Number, Within(ANY_SCALE)]
    unit: Literal["HRC", "HRA", "HR15N", "HV"]
    tester_id: Tester = None

    def raw(self) -> Raw:
        """Return what the form of this reading would have sent."""
        return {**super().raw(), "value": _text(self.value), "unit": self.unit, **_tester(self.tester_id)}


class DepthInput(AnyReadingInput):
    """Case depth by eye."""

    ours: ClassVar[dict[str, str]] = {**AnyReadingInput.ours, "value": "value_mm"}

    kind: Literal["depth"]
    value_mm: Annotated[Number, Within(SEEN_DEPTH)]
    how: Literal["break", "etch"] = "break"

    def raw(self) -> Raw:
        """Return what the form of this reading would have sent."""
        return {**super().raw(), "value": _mm(self.value_mm), "how": self.how}


class PointInput(Sent):
    """One point of a traverse."""

    depth_mm: Annotated[Number, Within(SEEN_DEPTH)]
    HV: Annotated[Number, Within(HV)]


class TraverseInput(AnyReadingInput):
    """Hardness against depth on a cut section."""

    kind: Literal["traverse"]
    points: list[PointInput] = Field(min_length=2, max_length=60, description="From the face inwards.")
    tester_id: Tester = None

    def raw(self) -> Raw:
        """Return what the form of this reading would have sent."""
        lines = [f"{_mm(point.depth_mm)} {_text(point.HV)}" for point in self.points]
        return {**super().raw(), "points": "\n".join(lines), **_tester(self.tester_id)}


ReadingInput = Annotated[HardnessInput | DepthInput | TraverseInput, Field(discriminator="kind")]


def _text(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _mm(value: float) -> str:
    return f"{_text(value)} mm"


def _tester(tester_id: int | None) -> dict[str, str]:
    return {} if tester_id is None else {"instrument_id": str(tester_id)}
