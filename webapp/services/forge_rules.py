"""The forge's own numbers beside simple rules, on the same coupons, each foretold from the other fires."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from model.units import from_si
from webapp.charts import POINT_SHAPES, Axis, Chart, Column, Line, Points, Table, Tone
from webapp.services.forge_misses import Miss
from webapp.services.showing import Showing, plural

OURS = "ours"
FITTED = ("scaled_harris", "root")
RULE_WORDS = {
    OURS: ("This forge’s own numbers", "all that it has learnt"),
    "scaled_harris": (
        "Harris’s law times one factor",
        "heated as the books say; the factor from your coupons",
    ),
    "root": ("k times the root of the time", "k from your coupons"),
    "harris": ("Harris’s law as printed", "three quarters of his whole case, for the time that was noted"),
    "tenth": ("0.1 mm (0.004 in) an hour", "nothing fitted"),
}
MANY_FIRES = 10
ABOUT_THE_SAME = 0.1


@dataclass(frozen=True)
class RuleRow:
    """How well one way foretells the coupons."""

    name: str
    needs: str
    half_within: str
    most_within: str
    on_the_whole: str
    is_ours: bool
    is_best: bool


@dataclass(frozen=True)
class RulesView:
    """The comparison: in words, in numbers, and drawn."""

    verdict: str
    note: str
    rows: tuple[RuleRow, ...]
    chart: Chart | None


def view_rules(
    told: Sequence[Mapping[str, Any]], misses: Sequence[Miss], fires: int, showing: Showing
) -> RulesView | None:
    """Return the comparison on all depths by eye that a fit used, None where there is none.

    told : what the rules foretell of each reading, as stored with the fit; misses : ours; fires : how many
    """
    unit = showing.length_unit
    by_key = {str(one["key"]): one for one in told}
    own = [one for one in misses if one.kind == "depth" and str(one.reading_id) in by_key]
    names = [name for name in RULE_WORDS if name == OURS or _is_known(name, own, by_key)]
    if not own:
        return None
    foretold = {name: [_foretold(name, one, by_key, unit) for one in own] for name in names}
    sizes = {
        name: [abs(one.measured - value) for one, value in zip(own, values, strict=True)]
        for name, values in foretold.items()
    }
    whole = {name: _on_the_whole(found) for name, found in sizes.items()}
    best = min(whole, key=lambda name: whole[name])
    digits = own[0].digits
    rows = tuple(_row(name, sizes[name], whole[name], name == best, unit, digits) for name in names)
    rule = min((name for name in names if name != OURS), key=lambda name: whole[name])
    return RulesView(
        verdict=_verdict(len(own), whole, rule, f"{{:.{digits}f}} {unit}"),
        note=_note(fires) + _without_odd(own, foretold[OURS], foretold[rule], f"{{:.{digits}f}} {unit}"),
        rows=rows,
        chart=_chart(own, {name: foretold[name] for name in (OURS, rule)}, unit, digits),
    )


def _is_known(name: str, own: Sequence[Miss], by_key: Mapping[str, Mapping[str, Any]]) -> bool:
    return all(by_key[str(one.reading_id)][name] is not None for one in own)


def _foretold(name: str, one: Miss, by_key: Mapping[str, Mapping[str, Any]], unit: str) -> float:
    if name == OURS:
        return one.foretold
    return float(from_si(by_key[str(one.reading_id)][name], unit, "length"))


def _on_the_whole(sizes: Sequence[float]) -> float:
    return float((sum(size**2 for size in sizes) / len(sizes)) ** 0.5)


def _row(name: str, sizes: Sequence[float], whole: float, is_best: bool, unit: str, digits: int) -> RuleRow:
    words, needs = RULE_WORDS[name]
    ordered = sorted(sizes)
    half, most = (ordered[-(-share * len(ordered) // 100) - 1] for share in (50, 90))
    half_said, most_said, whole_said = (f"{value:.{digits}f} {unit}" for value in (half, most, whole))
    return RuleRow(words, needs, half_said, most_said, whole_said, name == OURS, is_best)


def _verdict(coupons: int, whole: Mapping[str, float], rule: str, shown: str) -> str:
    counted, ours, theirs = plural(coupons, "depth"), whole[OURS], whole[rule]
    name = RULE_WORDS[rule][0]
    by = f"{shown.format(ours)} on the whole, {name} by {shown.format(theirs)}"
    if abs(ours - theirs) <= ABOUT_THE_SAME * theirs:
        return f"On {counted} there is little between them: this forge’s own numbers miss by {by}."
    if ours < theirs:
        return f"On {counted} this forge’s own numbers miss by {by}: the best of the simple rules."
    return (
        f"On {counted} a simple rule does better: this forge’s own numbers miss by {by}. "
        "For a job like your usual ones, go by the rule."
    )


def _note(fires: int) -> str:
    if fires < 2:
        return "One fire alone: there is no other to fit a rule to, and your forge is foretold by the books."
    note = "All of them foretell every depth from your other fires only, odd ones counted."
    if fires < MANY_FIRES:
        return f"{note} With {plural(fires, 'fire')} chance still says much."
    return note


def _without_odd(own: Sequence[Miss], ours: Sequence[float], rule: Sequence[float], shown: str) -> str:
    """Return the same for the fires that are not odd, "" where all or none are: no rule foretells a leak."""
    even = [place for place, one in enumerate(own) if not one.is_odd]
    if len(even) in (0, len(own)):
        return ""
    mine, theirs = (
        shown.format(_on_the_whole([abs(own[place].measured - values[place]) for place in even]))
        for values in (ours, rule)
    )
    return f" Without the odd ones out: {mine} against {theirs}."


def _chart(
    own: Sequence[Miss], foretold: Mapping[str, Sequence[float]], unit: str, digits: int
) -> Chart | None:
    if len(own) < 2:
        return None
    high = 1.05 * max(*(one.measured for one in own), *(value for row in foretold.values() for value in row))
    tones: tuple[Tone, ...] = ("steel", "ember")
    points = tuple(
        Points(
            RULE_WORDS[name][0],
            [one.measured for one in own],
            list(values),
            words=[f"{one.words}, read {one.read}, {RULE_WORDS[name][0]}" for one in own],
            tone=tone,
            links=[one.href for one in own],
            shape=shape,
        )
        for (name, values), tone, shape in zip(foretold.items(), tones, POINT_SHAPES, strict=False)
    )
    ours, theirs = foretold.values()
    names = tuple(RULE_WORDS[name][0] for name in foretold)
    rows = tuple(
        (one.words, one.read, f"{mine:.{digits}f} {unit}", f"{rule:.{digits}f} {unit}")
        for one, mine, rule in zip(own, ours, theirs, strict=True)
    )
    table = Table(
        "Depths read and foretold",
        (Column("Piece", number=False), Column("Read", number=False), *(Column(name) for name in names)),
        rows,
        tuple(one.href for one in own),
    )
    return Chart(
        key="rules-chart",
        title="Read, and foretold from the other fires",
        says=f"{len(own)} depths read against what {names[0]} and {names[1]} foretell of them.",
        x=Axis("Read", unit, 0.0, high, digits),
        y=Axis("Foretold", unit, 0.0, high, digits),
        lines=(Line("both equal", (0.0, high), (0.0, high), "soft", dashed=True),),
        points=points,
        table=table,
    )
