"""What a forecast warns of about the quench, in plain words.

Limits without a source beside them are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.baths import bath_group
from model.conversion import rockwell_c_continued
from model.course import hot_steps
from model.finish import Finish
from model.hardening import Hardened, quench_temperature_K
from model.hardness import TEMPER_RANGE_K
from model.members import Members
from model.process import Carburize, Quench
from model.units import celsius_to_kelvin, kelvin_to_celsius
from model.warned import Warned, middle

FREE_CARBIDE_SHARE: Final = 0.02
"""Free carbide at the skin from which it is worth a word [-]."""
MUCH_RETAINED: Final = 0.25
"""Retained austenite at the skin from which it is worth a word [-]."""
SLACK_BELOW: Final = 0.9
"""Hardened share of the skin under which the quench was slack [-]."""
LONG_FILM_S: Final = 2.0
"""Vapour film from which it is worth a word [s]; judgement: through it a thin case passes its nose."""
SHORT_FILM_S: Final = 0.5
"""Vapour film of which no time is said [s]; judgement: nobody can count it."""
HOT_BATH_C: Final[Mapping[str, float]] = {"water": 40.0, "oil": 90.0}
"""Bath temperature from which it is worth a word [C]."""
LOW_REHEAT_C: Final = (780.0, 800.0)
"""Reheat that leaves less soft austenite in a case [C]."""
USUAL_TEMPER_C: Final = (120.0, 205.0)
"""Temper of a case [C]."""
READS_LOW_HRC: Final = 2.0
"""Distance of a Rockwell C reading below the true skin from which it is worth a word [HRC]."""
HARD_CORE_HV: Final = 390.0
"""Hardness of the softest place from which the core counts as hard [HV], about 40 HRC."""


def warnings_of_quench(members: Members, finish: Finish, hardened: Hardened) -> Iterator[Warned]:
    """Yield what is worth a warning about the quench of one process.

    members : of one process; finish : with a quench; hardened : what it made
    """
    quenched_K = middle(quench_temperature_K(members))
    place = f"stages[{len(hot_steps(members.processes[0])) - 1}]"
    ac1_K = float(members.ac1_K[0])
    if quenched_K <= ac1_K:
        text = "Quenched from {quenched}, below the {ac1} at which this steel can harden: it stays soft."
        yield Warned("quench_below_ac1", place, text, {"quenched": quenched_K, "ac1": ac1_K})
        return
    if middle(hardened.carbide[:, 0]) > FREE_CARBIDE_SHARE:
        text = "Free carbide is left in the skin at the quench: hard wearing, but edges may chip."
        yield Warned("free_carbide", place, text)
    if middle(hardened.retained_austenite[:, 0]) > MUCH_RETAINED:
        text = (
            "Much of the skin stays soft austenite after the quench and will read low; a reheat at "
            "about {low} to {high}, or a deep cold straight after the quench, lowers it."
        )
        yield Warned("retained_austenite", place, text, in_kelvin(LOW_REHEAT_C))
    if finish.quench is not None:
        yield from _about_bath(finish.quench, hardened)
    yield from _about_depth_of_hardening(members, hardened)
    yield from _about_temper(finish)


def in_kelvin(span_C: tuple[float, float]) -> dict[str, float]:
    """Return the two ends of a span of heats [K] by name."""
    low_C, high_C = span_C
    return {"low": celsius_to_kelvin(low_C), "high": celsius_to_kelvin(high_C)}


def warnings_of_reading(reading_HRC: NDArray[np.float64], skin_HV: NDArray[np.float64]) -> Iterator[Warned]:
    """Yield a word where a Rockwell C test on the face shows less than the skin has.

    reading_HRC : (draws,) as `traverse.rockwell_c_reading`; skin_HV : (draws,) of the face
    """
    skin, shown = middle(rockwell_c_continued(skin_HV)), middle(reading_HRC)
    if skin - shown > READS_LOW_HRC:
        text = (
            f"A Rockwell C test would show about {shown:.0f} HRC where the skin has {skin:.0f}: its point "
            "feels through so thin a case. A light test (Rockwell 15N) or a set of files tells the skin."
        )
        yield Warned("reads_low_on_thin_case", "reading", text)


def _about_bath(quench: Quench, hardened: Hardened) -> Iterator[Warned]:
    """Warn of a film that lasts and of a bath that is too hot."""
    group = bath_group(quench.medium)
    if group == "air":
        return
    film_s = middle(hardened.film_s)
    if film_s > LONG_FILM_S or quench.agitation == "still":
        lasts = f"lasts about {film_s:.1f} s" if film_s > SHORT_FILM_S else "is short"
        text = (
            f"The vapour film {lasts} on this part, longer where it hangs still, and it breaks unevenly: "
            "soft spots. Move the part up and down, or use brine."
        )
        yield Warned("vapour_film", "quench.agitation", text)
    if kelvin_to_celsius(quench.bath_K) > HOT_BATH_C[group]:
        risk = "it cools slowly and the film lasts" if group == "water" else "it may flash and burn"
        text = (
            f"The bath is hot: above {{hot}} {risk}. Let it cool, or use more of it, and "
            "measure it again before the quench."
        )
        yield Warned("hot_bath", "quench.bath_C", text, {"hot": celsius_to_kelvin(HOT_BATH_C[group])})


def _about_temper(finish: Finish) -> Iterator[Warned]:
    """Warn of a temper whose hardness is left out, and say what it does."""
    low_K, high_K = TEMPER_RANGE_K
    outside = [kelvin for kelvin, _ in finish.tempers if not low_K <= kelvin <= high_K]
    if not outside:
        return
    worst_K = max(outside)
    does = (
        "so hot takes away much of what the quench gave, the more the hotter"
        if worst_K > high_K
        else "so cool hardly changes anything"
    )
    text = (
        f"A temper at {{worst}} is not worked out here, so no hardness is given: {does}. The equations hold "
        "from {coolest} to {hottest}; a case is usually tempered at {low} to {high}."
    )
    heats_K = {"worst": worst_K, "coolest": low_K, "hottest": high_K, **in_kelvin(USUAL_TEMPER_C)}
    yield Warned("temper_not_worked_out", "temper", text, heats_K)


def _about_depth_of_hardening(members: Members, hardened: Hardened) -> Iterator[Warned]:
    """Warn of a skin that did not harden right through and of a core that did."""
    hard = hardened.martensite[:, 0] + hardened.retained_austenite[:, 0] + hardened.carbide[:, 0]
    share = middle(hard)
    if share < SLACK_BELOW:
        text = (
            f"Only about {100.0 * share:.0f} % of the skin hardens: the bath is too slow for this steel and "
            "section. A faster bath, a thinner part or an alloy steel hardens it."
        )
        yield Warned("slack_quench", "quench.medium", text)
    softest_HV = middle(hardened.as_quenched_HV.min(axis=1))
    feeds = any(isinstance(step, Carburize) for step in members.processes[0].steps)
    if feeds and softest_HV > HARD_CORE_HV:
        text = (
            f"Even the softest place comes out at about {float(rockwell_c_continued(softest_HV)):.0f} HRC: "
            "on this section the core hardens too and gives less before it breaks."
        )
        yield Warned("hard_core", "quench.medium", text)
