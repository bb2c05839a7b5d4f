"""Case harden at all? What a case gives this part and what it does not, and each other way beside it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session

from webapp.forms.parts import section_thickness
from webapp.services.batch_rows import get_row
from webapp.services.duty_advice import MOST_GROUND_SHARE, deepest_case
from webapp.services.plan_no_case import needs_no_case
from webapp.services.processes import steel_of_bar
from webapp.services.showing import Showing, plural, say_duration
from webapp.services.supplies import known_cost
from webapp.services.supplies_cost import beside_hardenable, compared_words, part_price, prices_of, say_money
from webapp.services.supplies_gas import usual_rate
from webapp.services.words import range_text
from webapp.store.tables import Bar, Part, PartPrice, Prices

# Limits of judgement and the words below them: common practice, no source.
THIN_CASE_m: Final = 0.15e-3  # a section that can carry no more than this is hard right through out of a box
DEEP_CASE_m: Final = 1.5e-3
OPEN_HEAT_s: Final = 1800.0
OPEN_HEAT_SKIN_m: Final = (0.05e-3, 0.15e-3)
DAY_s: Final = 86400.0
TOUGH: Final = ("impact",)

GIVES: Final = (
    "A skin of 58 to 64 HRC that rubs for a long time, over a core that stays tough: a knock dents it or "
    "bends it where a part hard right through would snap.",
    "The skin is left pressed together, which helps against bending to and fro.",
    "Cheap bar that is easy to saw, drill and weld before it is hardened.",
)
GIVES_NOT: Final = (
    "Regrinding: a case is ground away once, and what lies under it is soft.",
    "A load pressed in deep, as under a heavy roller: the soft core gives way under a thin case.",
    "A spring: it must be hard and tempered right through, and a case on it cracks.",
    "A thin section or a fine edge: carbon goes through from both sides, and it is brittle as glass.",
)
SOURCE: Final = "Common practice, no source. Costs are sums of your own prices."


@dataclass(frozen=True)
class Way:
    """One way to a hard part: what it is, its cost and its time."""

    name: str
    words: str
    cost: str
    time: str


@dataclass(frozen=True)
class Verdict:
    """What is recommended, with the reasons."""

    words: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class CaseOrNotView:
    """What the page of a part says on whether to case harden it."""

    part: str
    part_href: str
    verdict: Verdict
    ways: tuple[Way, ...]
    compared: str
    gives: tuple[str, ...]
    gives_not: tuple[str, ...]
    missing: str
    source: str


@dataclass(frozen=True)
class _Known:
    """What a recommendation rests on."""

    part: Part
    bar: Bar | None
    prices: Prices | None
    price: PartPrice | None
    batch: tuple[float, int] | None

    @property
    def parts(self) -> int:
        """Return how many parts share the cost of a box."""
        return self.price.parts if self.price else self.batch[1] if self.batch else 1

    @property
    def each(self) -> float | None:
        """Return what one case-hardened part costs, its bar and all."""
        plain = (self.price.plain_bar if self.price else None) or 0.0
        return None if self.batch is None else self.batch[0] / self.parts + plain


def view_case_or_not(session: Session, part_id: int, showing: Showing) -> CaseOrNotView:
    """Return the page of a part: a plain recommendation, and each way beside it."""
    part = get_row(session, Part, part_id)
    known = _Known(
        part,
        session.get(Bar, part.bar_id),
        prices_of(session),
        part_price(session, part_id),
        known_cost(session, part_id),
    )
    money = known.prices.money if known.prices else ""
    compared = beside_hardenable(known.batch[0], known.parts, known.price) if known.batch else None
    return CaseOrNotView(
        part.name,
        f"/parts/{part_id}",
        _verdict(known),
        _ways(session, known, showing, money),
        compared_words(compared, money) if compared else "",
        GIVES,
        GIVES_NOT,
        _missing(known),
        SOURCE,
    )


def _verdict(known: _Known) -> Verdict:
    """Return the first reason against a case, dearest mistake first; else what speaks for it."""
    against = _against_for_good(known) or _against_by_cost(known)
    return against or Verdict("Yes: case harden it.", _reasons_for(known))


def _against_for_good(known: _Known) -> Verdict | None:
    part = known.part
    thickness_m = section_thickness(part.size_m, part.bore_m)
    if known.bar is not None and needs_no_case(steel_of_bar(known.bar)):
        return _no(
            "No: this bar hardens by itself.", f"“{known.bar.name}” has carbon enough. Heat, quench, temper."
        )
    if deepest_case(thickness_m, part.duties) < THIN_CASE_m:
        return _no(
            "No, not in a box: it is too thin.",
            "Carbon would go through from both sides. Take spring or tool bar, hardened and tempered, or "
            "give it a very thin skin in a short open heat.",
        )
    if list(part.duties) == ["bending"]:
        return _no(
            "Rather not: take hardenable bar, tempered as a spring.",
            "It only bends. A case carries no more of that than bar hardened and tempered right through.",
        )
    return _against_by_size(part)


def _against_by_size(part: Part) -> Verdict | None:
    if part.wanted_depth_high_m > DEEP_CASE_m:
        return _no(
            "Rather not: so deep a case takes days.",
            "Under so deep a load take hardenable bar, or send it out to be done.",
        )
    if part.grind_m > MOST_GROUND_SHARE * part.wanted_depth_low_m:
        return _no(
            "Rather not: it is ground too much.",
            "Most of the case would be ground away. Take hardenable bar, or machine it closer first.",
        )
    return None


def _against_by_cost(known: _Known) -> Verdict | None:
    """Return that another way is the cheaper, where the part does not need its tough core."""
    money, each = known.prices.money if known.prices else "", known.each
    if each is None or known.price is None or _needs_core(known.part.duties):
        return None
    hardenable = known.price.hardenable_bar
    through = None if hardenable is None else hardenable + (known.price.hardening or 0.0)
    sent = None if known.price.sent_out is None else known.price.sent_out + (known.price.plain_bar or 0.0)
    others = [
        (cost, name)
        for cost, name in ((through, "Hardenable bar"), (sent, "Sending it out"))
        if cost is not None
    ]
    if not others or min(others)[0] >= each:
        return None
    cost, name = min(others)
    why = f"It comes to {say_money(cost, money)} a part, a case in your box to {say_money(each, money)}."
    return Verdict(f"{name} is the cheaper way.", (why, "It takes no knocks, so it needs no tough core."))


def _reasons_for(known: _Known) -> tuple[str, ...]:
    duties = known.part.duties
    found = []
    if "wear" in duties or "bearing" in duties:
        found.append("It rubs, and a hard skin is what rubbing asks for.")
    if _needs_core(duties):
        found.append("It takes knocks: the tough core under the case is what bar hard right through lacks.")
    if "bearing" in duties:
        found.append("It bears a load: keep to the deeper end of its case, or the core gives way under it.")
    if "bending" in duties:
        found.append("It bends as well: keep the case thin, and look at what the plan says of a bend.")
    return (*found, "Its section is thick enough to keep a core.")


def _needs_core(duties: Collection[str]) -> bool:
    return any(duty in duties for duty in TOUGH)


def _no(words: str, reason: str) -> Verdict:
    return Verdict(words, (reason,))


def _ways(session: Session, known: _Known, showing: Showing, money: str) -> tuple[Way, ...]:
    price, skin = known.price, range_text(showing, *OPEN_HEAT_SKIN_m)
    case = (
        ""
        if known.each is None
        else f"{say_money(known.each, money)} with {plural(known.parts, 'part')} to a box"
    )
    through = None
    if price is not None and price.hardenable_bar is not None:
        through = price.hardenable_bar + (price.hardening or 0.0)
    sent = None if price is None or price.sent_out is None else price.sent_out + (price.plain_bar or 0.0)
    back_s = price.sent_out_s if price else None
    return (
        Way("A case in your box", "Hard skin, tough core", case, "the evening before, a day, a morning"),
        Way("Hardenable bar", "Hard right through, can be reground", _priced(through, money), "the same day"),
        Way("Sent out", "As ordered: say depth and hardness", _priced(sent, money),
            _days(back_s) if back_s else "ask"),
        Way("A very thin skin in an open heat",
            f"Red hot in charcoal powder and soda for half an hour: about {skin}. Light rubbing only",
            _open_heat(session, known, money), say_duration(OPEN_HEAT_s)),
    )  # fmt: skip


def _open_heat(session: Session, known: _Known, money: str) -> str:
    rate = usual_rate(session)
    if rate is None or known.prices is None or known.prices.gas_per_kg is None:
        return "gas for half an hour"
    gas = rate.kg_per_s * OPEN_HEAT_s * known.prices.gas_per_kg
    return f"{say_money(gas, money)} of gas a heat"


def _priced(value: float | None, money: str) -> str:
    return "" if value is None else say_money(value, money)


def _days(seconds: float) -> str:
    days = seconds / DAY_s
    return plural(round(days), "day") if days >= 1.0 else say_duration(seconds)


def _missing(known: _Known) -> str:
    if known.prices is None:
        return "Tell what you pay for gas and charcoal, and what a case costs stands here."
    if known.batch is None:
        return "Work out once what a plan of this part takes: what a case costs stands here then."
    return ""
