"""What a batch costs in the shop's own money, each part of it, and beside a bar that hardens by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlmodel import Session

from model.batch_cost import BatchCost, Compared, Used, batch_cost, compare_with_hardenable
from model.batch_cost import Prices as Paid
from webapp.forms.supplies import PartPriceForm, PricesForm
from webapp.services.batch_rows import get_row, kept
from webapp.services.sheets import Line
from webapp.services.showing import plural
from webapp.store.tables import Part, PartPrice, Prices
from webapp.store.unit_of_work import UnitOfWork

PRICES_ID: Final = 1
PAID: Final = ("gas_per_kg", "charcoal_per_kg", "carbonate_per_kg", "luting", "hour")
SUPPLY_WORDS: Final = {
    "gas_per_kg": "gas",
    "charcoal_per_kg": "charcoal",
    "carbonate_per_kg": "what is stirred in",
    "luting": "clay",
    "hour": "your time",
}


@dataclass(frozen=True)
class CostView:
    """What a batch costs, in lines; beside a hardenable bar; and what has no price."""

    lines: tuple[Line, ...]
    beside: str
    missing: str


def prices_of(session: Session) -> Prices | None:
    """Return what the shop pays; None while it was never told."""
    return session.get(Prices, PRICES_ID)


def prices_values(session: Session) -> tuple[dict[str, Any], Mapping[str, str], int | None]:
    """Return the prices as their form takes them: values, texts as typed, version."""
    row = prices_of(session)
    if row is None:
        return {}, {}, None
    return {name: getattr(row, name) for name in PricesForm.model_fields}, row.typed, row.version


def keep_prices(work: UnitOfWork, form: PricesForm, typed: Mapping[str, str], version: int | None) -> str:
    """Keep what the shop pays; return the shop's page."""
    row, fields = prices_of(work.session), {**form.model_dump(), "typed": dict(typed)}
    if row is None:
        work.add(Prices(id=PRICES_ID, **fields))
    else:
        work.change(row, version=version, **fields)
    work.answered_at("/shop")
    return "/shop"


def part_price(session: Session, part_id: int) -> PartPrice | None:
    """Return what a part costs each way; None while it was never told."""
    rows = kept(session, PartPrice, PartPrice.part_id == part_id)
    return rows[-1] if rows else None


def part_price_values(session: Session, part_id: int) -> tuple[dict[str, Any], Mapping[str, str], int | None]:
    """Return a part's prices as their form takes them: values, texts as typed, version."""
    row = part_price(session, part_id)
    if row is None:
        return {}, {}, None
    return {name: getattr(row, name) for name in PartPriceForm.model_fields}, row.typed, row.version


def keep_part_price(
    work: UnitOfWork, part_id: int, form: PartPriceForm, typed: Mapping[str, str], version: int | None
) -> str:
    """Keep what a part costs each way; return its page of reasons."""
    get_row(work.session, Part, part_id)
    row, fields = part_price(work.session, part_id), {**form.model_dump(), "typed": dict(typed)}
    if row is None:
        work.add(PartPrice(part_id=part_id, **fields))
    else:
        work.change(row, version=version, **fields)
    return f"/parts/{part_id}/case-or-not"


def cost_of(used: Used, prices: Prices) -> BatchCost:
    """Return what a batch costs; a price that is not known counts as nothing."""
    return batch_cost(used, Paid(**{name: getattr(prices, name) or 0.0 for name in PAID}))


def beside_hardenable(batch: float, parts: int, price: PartPrice | None) -> Compared | None:
    """Return a part both ways; None while the hardenable bar has no price."""
    if price is None or price.hardenable_bar is None:
        return None
    return compare_with_hardenable(
        batch, parts, price.plain_bar or 0.0, price.hardenable_bar, price.hardening or 0.0
    )


def view_cost(used: Used, parts: int, prices: Prices | None, price: PartPrice | None) -> CostView | None:
    """Return what a batch costs in words; None while no price was told."""
    if prices is None or all(getattr(prices, name) is None for name in PAID):
        return None
    cost, money = cost_of(used, prices), prices.money
    lines = [
        Line(name, say_money(value, money))
        for name, value in (
            ("Gas", cost.gas), ("Pack", cost.pack), ("Clay", cost.luting), ("Your time", cost.time),
        )
        if value > 0.0
    ]  # fmt: skip
    lines.append(Line("The batch", say_money(cost.whole, money)))
    each = say_money(cost.whole / parts, money)
    lines.append(Line("Each part", f"{each}, its bar not counted, with {plural(parts, 'part')} in the box"))
    compared = beside_hardenable(cost.whole, parts, price)
    missing = [SUPPLY_WORDS[name] for name in PAID if getattr(prices, name) is None]
    return CostView(
        tuple(lines),
        "" if compared is None else compared_words(compared, money),
        f"Not counted, as they have no price: {', '.join(missing)}." if missing else "",
    )


def compared_words(compared: Compared, money: str) -> str:
    """Return both ways of making a part side by side, and from how many parts the case pays."""
    both = (
        f"With its bar a case-hardened part comes to {say_money(compared.case_hardened, money)}, "
        f"one of hardenable bar to {say_money(compared.hardenable, money)}."
    )
    if compared.even_at is None:
        return f"{both} The hardenable bar is the cheaper, however full the box."
    return f"{both} From {plural(compared.even_at, 'part')} to a box on the case is the cheaper."


def say_money(value: float, money: str) -> str:
    """Return an amount in the shop's own money."""
    return f"{value:.2f} {money}".rstrip()
