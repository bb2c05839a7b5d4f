"""What to get hold of where a shop can read little, and what the panel cannot know."""

from __future__ import annotations

from webapp.services.coupon_shop import ShopThings

MUCH_LUCK = 1.15
PRACTICE = "Common practice, no source."
LIMITS = (
    "For the depth of the same job once more, the pick hardly matters: in a study with invented shops it did "
    "no better there than any varied coupon. It pays for a mix or a box that is new to you.",
    "It is reckoned from what is believed now, straight along. A seal that leaks, a misread dial or a fire "
    "that has changed is not foreseen.",
    "Two coupons a batch are plenty. After that more batches teach more than more coupons.",
)


NO_TESTER = (
    "No way of telling hardness is written down. One good old file tells a hard skin from a soft one, and "
    f"a set of hardness files says how hard; a shop nearby may lend a tester. {PRACTICE}"
)
ONE_FILE = (
    "A set of hardness files says between which two a skin lies; one file only on which side of it. "
    f"{PRACTICE}"
)
LOUPE = (
    "A loupe of ten times and a steel rule with half millimetres make the rim of a break easier to read. "
    f"{PRACTICE}"
)
NO_THERMOCOUPLE = (
    "A thermocouple and its meter teach more than any number of coupons: with heat told by eye, most of "
    "what is left is the eye’s own luck from fire to fire (a study with invented shops)."
)
WIDE = (
    "Your fires scatter more than the books expect, and that widens every give or take here. The same seal, "
    "the same burner setting and the same way of telling heat each time would take more off than any coupon."
)


def advice_of(things: ShopThings, luck: float) -> tuple[str, ...]:
    """Return what to buy, borrow or do alike; `luck` : of its fires, 1 as the books have it."""
    methods = {row.method for row in things.testers.values()}
    heats = {row.method for row in things.heats.values()}
    advice = {
        WIDE: luck >= MUCH_LUCK,
        NO_TESTER: not methods,
        ONE_FILE: methods == {"one_file"},
        LOUPE: not methods & {"vickers", "lab"},
        NO_THERMOCOUPLE: "thermocouple" not in heats,
    }
    return tuple(words for words, applies in advice.items() if applies)
