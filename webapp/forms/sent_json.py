"""What all that programs send has in common."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Number = Annotated[float, Field(allow_inf_nan=False)]


class Sent(BaseModel):
    """Base of all that is sent: no unknown keys, no guessing of types."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, ser_json_inf_nan="constants")
