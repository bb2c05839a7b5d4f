"""A plan's time in the fire beside its time at heat, and when its carbon comes in, in words."""

from __future__ import annotations

from webapp.services.plan_figures import FireFigures, PlanFigures
from webapp.services.showing import say_duration

ROUND_s = 300.0
# A share of the carbon that is not worth its own words.
NO_SHARE = 0.005


def fire_words(figures: PlanFigures) -> tuple[str, ...]:
    """Return the lines; none for a plan that was saved before they were worked out."""
    fire = figures.fire
    if fire is None:
        return ()
    in_fire, at_heat = (say_duration(ROUND_s * round(t / ROUND_s)) for t in (fire.in_fire_s, fire.at_heat_s))
    times = (
        f"In the fire {in_fire}, at heat {at_heat}."
        if fire.at_heat_s >= ROUND_s
        else (f"In the fire {in_fire}, and hardly at heat.")
    )
    return times, _carbon_words(fire, figures.reheat_K is not None)


def _carbon_words(fire: FireFigures, cools_shut: bool) -> str:
    """Return when the carbon comes in."""
    ways = [f"{_percent(fire.way_up)} comes in on the way up", f"{_percent(fire.soak)} in the soak"]
    if cools_shut and fire.cooling > NO_SHARE:
        ways.append(f"{_percent(fire.cooling)} while the box cools")
    *first, last = ways
    taken = cools_shut and fire.cooling < -NO_SHARE
    back = f"; the cooling box takes {_percent(-fire.cooling)} back" if taken else ""
    return f"Of the carbon, {', '.join(first)}{',' if len(first) > 1 else ' and'} {last}{back}."


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"
