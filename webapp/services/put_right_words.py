"""Putting a piece right, in the words of the shop."""

from __future__ import annotations

from collections.abc import Sequence

from model.outcome import Outcome, Wanted
from model.reheat_advice import MUCH_RETAINED
from model.remedies import RICH_WT
from model.remedy import Remedy, Standing, WhyNot
from webapp.services.plan_tenths import in_ten
from webapp.services.showing import Showing, say_duration
from webapp.services.words import range_text
from webapp.store.tables import Reading

SLACK_BELOW = 0.9  # of the skin hardened; as the warnings of the quench have it
WAY_WORDS = {
    "as_it_is": "Leave it as it is",
    "temper": "Temper it hotter",
    "reheat": "Reheat it and quench again",
    "even_out": "Even the carbon out, then quench again",
    "box": "Back in the box",
}
WHY_NOT: dict[WhyNot, str] = {
    "too_deep": (
        "The case is deeper than wanted, and no fire makes it shallower: grind more off, use the piece where "
        "a deep case does no harm, or scrap it."
    ),
    "too_shallow": "It leaves the case too shallow.",
    "soft_already": "It is no harder than wanted already, and a temper only softens.",
    "not_rich": "The skin is not too rich, so this would only thin its carbon.",
}
BOX_TOO_SHALLOW = (
    "Even fourteen more hours at this heat would not do: it takes a hotter fire or a richer pack."
)

# What another heat and quench do to size; common practice, no source.
SIZE_OF_QUENCH = {
    "air": "It moves a little: more from the heat than from the air.",
    "oil": "It moves some: the heat and the oil each do it. Measure before and after, and grind last.",
    "water": "It moves most: water bows or cracks what oil leaves straight, worst at holes and thin edges.",
}
SIZE_OF_HEAT = "Hours at heat let it sag and grow first, so lay it flat and hold it well. "
SIZE_OF_TEMPER = "It hardly moves."
WATERS = ("water", "brine")


def say_size(way: Remedy) -> str:
    """Return what a way does to the size of a piece."""
    if way.way in ("as_it_is", "temper"):
        return SIZE_OF_TEMPER
    medium = "water" if way.medium in WATERS else "air" if way.medium == "air" else "oil"
    return (SIZE_OF_HEAT if way.way in ("box", "even_out") else "") + SIZE_OF_QUENCH[medium]


def say_steps(way: Remedy, bath: str, temper_s: float, showing: Showing) -> tuple[str, ...]:
    """Return what is done, in order."""
    steps = []
    if way.heat_K is not None and way.seconds is not None:
        at = f"{say_duration(way.seconds)} at {showing.temperature(way.heat_K)}"
        then = (
            "then let the box cool shut" if way.way == "box" else "sealed or in spent charcoal, then let cool"
        )
        steps.append(f"{at}, {then}")
    if way.reheat_K is not None:
        steps.append(f"Heat to {showing.temperature(way.reheat_K)} right through, quench in {bath}")
    if way.temper_K is not None:
        steps.append(f"Temper at {showing.temperature(way.temper_K)} for {say_duration(temper_s)}")
    return tuple(steps)


def say_odds(outcome: Outcome) -> str:
    """Return the odds of all that is wanted."""
    return in_ten(round(10.0 * outcome.odds))


def say_each(outcome: Outcome) -> str:
    """Return the odds of case and hardness, each."""
    case = f"case {in_ten(round(10.0 * outcome.odds_depth))}"
    if outcome.odds_hardness is None:
        return case
    return f"{case}, hardness {in_ten(round(10.0 * outcome.odds_hardness))}"


def say_outcome(outcome: Outcome, showing: Showing) -> str:
    """Return what comes of it: nine in ten lie in the ranges."""
    low_m, _, high_m = outcome.depth_m
    soft, _, hard = outcome.skin_HRC
    return f"case {tenths_of_mm(showing, low_m, high_m)}, skin {soft:.0f} to {hard:.0f} HRC"


def tenths_of_mm(showing: Showing, low_m: float, high_m: float) -> str:
    """Return a range of depths as fine as a forecast deserves."""
    low, high = (showing.length(round(end, 5)) for end in (low_m, high_m))
    return low if low == high else f"{low.split()[0]} to {high}"


def say_why_not(way: Remedy) -> str:
    """Return why a way cannot help."""
    return BOX_TOO_SHALLOW if (way.way, way.why_not) == ("box", "too_shallow") else WHY_NOT[way.why_not]


def say_wrong(wanted: Wanted, readings: Sequence[Reading], left: Outcome, showing: Showing) -> str:
    """Return in a line what was read and what was wanted."""
    pieces = [_hardness(wanted, readings), _case(wanted, readings, left, showing)]
    said = "; ".join(piece for piece in pieces if piece)
    return said[0].upper() + said[1:] + "."


def _hardness(wanted: Wanted, readings: Sequence[Reading]) -> str:
    last = next((row for row in reversed(readings) if row.kind == "hardness"), None)
    asked = "" if wanted.hardness_HRC is None else f", wanted {wanted.hardness_HRC:g} HRC"
    return f"reads {last.value:g} {last.unit}{asked}" if last is not None and last.value is not None else ""


def _case(wanted: Wanted, readings: Sequence[Reading], left: Outcome, showing: Showing) -> str:
    last = next((row for row in reversed(readings) if row.kind == "depth"), None)
    goal = wanted.goal
    asked = f"wanted {range_text(showing, goal.depth_low_m, goal.depth_high_m)}"
    if goal.grinding_allowance_m:
        asked += f" after grinding {showing.length(goal.grinding_allowance_m)} off"
    if last is None or last.value is None:
        return f"case worked out as about {showing.length(round(left.depth_m[1], 5))}, {asked}"
    return f"case about {showing.length(last.value)}, {asked}"


def say_standing(standing: Standing) -> tuple[str, ...]:
    """Return what is most likely behind it."""
    words = []
    if standing.hardened < SLACK_BELOW:
        share = in_ten(round(10.0 * standing.hardened)) if standing.hardened > 0.05 else "next to none"
        words.append(f"Of the skin {share} hardened: the quench was too slow, or its heat too low.")
    if standing.retained > MUCH_RETAINED:
        words.append(
            "Much of the skin stayed soft austenite and reads low: a cooler heat before the quench leaves "
            "less, and so does dry ice straight after it."
        )
    elif standing.carbon_wt > RICH_WT:
        words.append("The skin is richer in carbon than is good for it: edges may chip.")
    return tuple(words)
