"""What may be asked of the logbook: filters, order and page, as they stand in an address."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

MOST_PAGES = 1_000_000
LARGEST_ID = 2**53
LONGEST_SEARCH = 100
LONGEST_ANSWER = 220  # a line's number and the longest answer
MOST_OWN = 24
PAGE_ROWS = 50
MOST_ROWS = 500

State = Literal["planned", "in_the_fire", "cooling", "hardened", "measured", "given_up"]
Seal = Literal["fireclay", "air-drying clay", "refractory mortar", "lid only"]
Order = Literal["newest", "oldest", "number", "deepest", "shallowest", "hardest", "softest"]


def order_of(cookie: str | None) -> Order | None:
    """Return the order that a cookie names, if it is one."""
    return next((order for order in get_args(Order) if order == cookie), None)


def _blank_is_none(value: Any) -> Any:
    """Take an empty field of a form for a filter that is not set."""
    return None if isinstance(value, str) and not value.strip() else value


def _without_blanks(value: Any) -> Any:
    """Take empty fields out of those that one name was sent with."""
    return (
        [one for one in value if not isinstance(one, str) or one.strip()]
        if isinstance(value, list)
        else value
    )


RowId = Annotated[Annotated[int, Field(ge=1, le=LARGEST_ID)] | None, BeforeValidator(_blank_is_none)]


OwnAnswer = Annotated[str, Field(pattern=r"^[0-9]{1,9}:.", max_length=LONGEST_ANSWER)]


class LogbookQuery(BaseModel):
    """Which batches, in which order, and which page of them."""

    model_config = ConfigDict(frozen=True)

    state: Annotated[State | None, BeforeValidator(_blank_is_none)] = None
    box: RowId = None
    mix: RowId = None
    bath: RowId = None
    bar: RowId = None
    seal: Annotated[Seal | None, BeforeValidator(_blank_is_none)] = Field(
        default=None, description="How the box was closed: as noted that time, else as it always is."
    )
    aside: Annotated[bool | None, BeforeValidator(_blank_is_none)] = Field(
        default=None, description="Only batches that are set aside, whole or in part."
    )
    odd: Annotated[bool | None, BeforeValidator(_blank_is_none)] = Field(
        default=None, description="Only batches that the newest fit finds odd."
    )
    own: Annotated[list[OwnAnswer], BeforeValidator(_without_blanks)] = Field(
        default_factory=list,
        max_length=MOST_OWN,
        description="What is noted to lines of the shop's own, of a batch or a piece in it: LINE:ANSWER.",
    )
    q: str = Field(
        default="",
        max_length=LONGEST_SEARCH,
        description="Words or their beginnings, anywhere in the book, all of them; or a batch's number.",
    )
    sort: Annotated[Order | None, BeforeValidator(_blank_is_none)] = None
    page: int = Field(default=1, ge=1, le=MOST_PAGES)

    @property
    def own_answers(self) -> list[tuple[int, str]]:
        """Return the answers asked for, each with the number of its line."""
        told = (answer.partition(":") for answer in self.own)
        return [(int(line), words) for line, _, words in told]

    @property
    def set_filters(self) -> dict[str, str | list[str]]:
        """Return what is set, as it stands in an address; the page is left out."""
        told = self.model_dump(exclude={"page"}, exclude_none=True)
        said = {name: value for name, value in told.items() if value}
        return {
            name: value if isinstance(value, list) else "1" if value is True else str(value)
            for name, value in said.items()
        }


class BatchesQuery(LogbookQuery):
    """What `GET /api/batches` may be asked."""

    rows: int = Field(default=PAGE_ROWS, ge=1, le=MOST_ROWS, description="Batches on a page.")


class CouponsQuery(BaseModel):
    """What `GET /api/coupons` may be asked."""

    model_config = ConfigDict(frozen=True)

    batch: RowId = Field(default=None, description="Only coupons of this batch, by its id.")
    page: int = Field(default=1, ge=1, le=MOST_PAGES)
    rows: int = Field(default=PAGE_ROWS, ge=1, le=MOST_ROWS, description="Coupons on a page.")
