"""Causes of an odd reading in the shop's words: what it is, how it comes about, what would tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class CauseWords:
    """A cause in words: `named` by itself, `within` a sentence, and the test that would tell.

    again : the test where the rim of this piece was read already
    """

    named: str
    within: str
    test: str
    again: str = ""


CAUSES: dict[str, CauseWords] = {
    "slack_quench": CauseWords(
        "Slack quench",
        "a slack quench",
        "Quench a second coupon with 2 s less on the way, in a cold bath, moved up and down: if that one is "
        "harder, it was the quench.",
    ),
    "thin_case": CauseWords(
        "Thin case",
        "a thin case",
        "Break it and look: the depth of the fine grey rim tells a thin case at once.",
        "Etch a ground cut for a surer depth, and break a second coupon of the same box: if the fire or the "
        "pack was at fault, that one is thin too.",
    ),
    "lost_carbon": CauseWords(
        "Skin lost carbon in the reheat",
        "a skin that lost carbon",
        "File it 0.1 mm (0.004 in) below and measure again: if it hardens up, the skin lost carbon.",
    ),
    "retained_austenite": CauseWords(
        "Much soft austenite left in the skin",
        "much austenite left in the skin",
        "Grind 0.1 mm (0.004 in) off, cool, and measure again: if it hardens up below, the skin was "
        "too rich or was quenched too hot.",
    ),
    "cold_reheat": CauseWords(
        "Not hot enough at the quench",
        "a quench that was not hot enough",
        "Reheat it past the magnet's point with a shade to spare, quench and measure again: a full case "
        "comes up hard.",
    ),
    "softened_after": CauseWords(
        "Softened after the quench",
        "heat after the quench",
        "Look for temper colours and grinding burns. Quenched again from the same heat it comes up hard.",
    ),
    "oven_off": CauseWords(
        "Oven not at its dial",
        "an oven that is not at its dial",
        "Put a thermometer or a bright piece beside the work: its temper colour tells the oven's true heat.",
    ),
    "soft_core_under_test": CauseWords(
        "The case gives way under the tester",
        "a case that gives way under the tester",
        "Try a file, or a lighter load: a file that skates where the tester reads low says the skin is hard.",
    ),
    "other_steel": CauseWords(
        "Other steel than thought",
        "another steel",
        "Spark the bare end of the bar beside a piece you know.",
    ),
    "tester_off": CauseWords(
        "Tester off",
        "a tester that is off",
        "Check the tester on its block, or the files on something known, before anything else.",
    ),
    "depth_misread": CauseWords(
        "Depth misread by eye",
        "a depth misread by eye",
        "Measure the break again with a glass and a rule, or etch a ground cut.",
    ),
    "hotter_fire": CauseWords(
        "Hotter fire than it read",
        "a hotter fire",
        "Check the thermocouple in boiling water, or pack a second coupon: the whole box came out deeper.",
    ),
    "richer_pack": CauseWords(
        "Livelier pack than told",
        "a livelier pack",
        "Was the mix fresher or the substance more than noted? A deeper coupon from each layer says so.",
    ),
    "longer_at_heat": CauseWords(
        "Longer at heat than noted",
        "a longer soak",
        "Look at the times in the notes: when was it evenly red, and when did it come out?",
    ),
    "harder_bath": CauseWords(
        "Bath bit harder than usual",
        "a bath that bit harder",
        "Was it colder, saltier or moved harder? Measure the middle of a cut: the core is harder too.",
    ),
}

WAYS: dict[str, str] = {
    "film_held": "the vapour film held on: the bath was scaly or oily, or the piece hung still",
    "oil_slow": "the oil was thick, old or crowded, or the piece hung still in it",
    "slow_to_bath": "it was some seconds longer on the way to the bath than noted",
    "bath_warm": "the bath was warm, as after several pieces",
    "fire_cool": "the fire was cooler than it read",
    "seal_failed": "the seal failed, so that the pack died",
    "mix_spent": "the mix was spent or damp",
    "clock_early": "the clock was started before the work was at heat",
    "bare_reheat": "it was reheated bare in a fire with air to spare",
    "case_too_rich": "the case is too rich in carbon",
    "quench_too_hot": "it was quenched from too hot a fire",
    "not_hot_enough": "it was quenched too cold, so that not all of it could harden",
    "ground_hot": "a hot grind, or a temper nobody meant",
    "oven_hot": "the oven ran hotter than its dial",
    "oven_cool": "the oven ran cooler than its dial",
    "case_gives_way": "the cone pushes a thin hard case into the soft core and reads low",
    "lean_bar": "the bar holds less carbon than its label",
    "rich_bar": "the bar holds more carbon than its label",
    "tester_low": "it reads low",
    "tester_high": "it reads high",
    "eye_shallow": "the rim was taken to end too soon",
    "eye_deep": "the rim was taken to end too late",
    "fire_hot": "the fire was hotter than it read",
    "pack_lively": "the mix was fresher or livelier than it usually is",
    "clock_late": "it was at heat for longer than the clock says",
    "bath_bites": "it was colder, saltier or moved harder than told",
}

TESTS: dict[str, str] = {
    "break": "Break it and look at the rim",
    "ground_1": "File or grind 0.1 mm (0.004 in) off and measure again",
    "ground_3": "Grind 0.3 mm (0.012 in) off and measure again",
}
