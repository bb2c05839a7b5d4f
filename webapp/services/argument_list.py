"""The arguments of the trade that a logbook can settle: the two ways, what is said for each, a fair trial."""

from __future__ import annotations

from dataclasses import dataclass

from model.argument_columns import Outcome
from model.argument_trial import Trial
from webapp.services.shop_cautions import COMMON_PRACTICE


@dataclass(frozen=True)
class Argument:
    """One argument.

    ways : the first and the second; said : what is said for each, and who says so
    outcomes : what the fit is asked about; counts : what is counted in the book besides (seal, cracks)
    alike : what differs between the ways by its nature; implied : other arguments that it decides
    reckoned : what a plan reckons with already, so that only what is left over is shown
    """

    key: str
    question: str
    ways: tuple[str, str]
    said: tuple[tuple[str, str], tuple[str, str]]
    trial: Trial
    how: str
    outcomes: tuple[Outcome, ...] = ()
    counts: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    implied: tuple[str, ...] = ()
    reckoned: str = ""
    caution: str = ""


def _practice(first: str, second: str) -> tuple[tuple[str, str], tuple[str, str]]:
    return (first, COMMON_PRACTICE), (second, COMMON_PRACTICE)


NOTE_BOX_IN = "note it where the box goes into the fire"
ARGUMENTS: tuple[Argument, ...] = (
    Argument(
        "fill",
        "Fill the box, or leave a gap?",
        ("filled to the lid", "a gap above the part"),
        _practice(
            "A full box keeps air out, and the pack cannot sink away from the work.",
            "Charcoal wants room for its gas, and a gap saves pack.",
        ),
        "one_fire",
        f"Two boxes alike in one fire, the same mix, one filled and one with a gap; {NOTE_BOX_IN}. Swap the "
        "boxes the next time.",
        outcomes=("depth",),
        counts=("seal",),
        reckoned="how a gap slows the warm-up",
    ),
    Argument(
        "seal",
        "Clay or mortar round the lid?",
        ("clay", "refractory mortar"),
        _practice(
            "Clay is cheap, gives a little as the box grows, and comes off with a knock.",
            "Mortar sets hard and holds through a long soak; clay dries, cracks and drops out.",
        ),
        "one_fire",
        f"Two boxes alike in one fire, the same mix, one luted with each; {NOTE_BOX_IN}, and note every seal "
        "that cracks. Swap the boxes the next time.",
        outcomes=("depth",),
        counts=("seal",),
    ),
    Argument(
        "charcoal",
        "Lump charcoal or briquettes?",
        ("lump", "briquettes"),
        _practice(
            "Lump is carbon and little else.",
            "Briquettes are cheap and even in size, and what is not carbon in them does no harm.",
        ),
        "one_fire",
        "Two boxes alike in one fire, as much carbonate in both, one of each charcoal. Swap the boxes the "
        "next time.",
        outcomes=("depth",),
        alike=("mix",),
    ),
    Argument(
        "carbonate",
        "Carbonate in the pack, or plain charcoal?",
        ("plain charcoal", "carbonate stirred in"),
        _practice(
            "Plain charcoal has always done it; carbonate is one more thing to buy.",
            "Without carbonate the pack is slow and uneven.",
        ),
        "one_fire",
        "Two boxes alike in one fire, one plain, one with carbonate. Swap the boxes the next time.",
        outcomes=("depth",),
        alike=("mix",),
        implied=("much",),
    ),
    Argument(
        "much",
        "A little carbonate, or a lot?",
        ("up to 8 % of carbonate", "more than 8 %"),
        _practice(
            "Five per cent does nearly all there is to do.",
            "Older recipes take a quarter of carbonate and more.",
        ),
        "one_fire",
        "Two boxes alike in one fire, the same carbonate, 5 % in one and 20 % in the other. Swap the boxes "
        "the next time.",
        outcomes=("depth",),
        alike=("mix",),
    ),
    Argument(
        "reused",
        "Fresh pack, or the old one topped up?",
        ("fresh", "used before"),
        _practice(
            "A spent pack is weak: its carbonate is gone and its dust chokes the gas.",
            "An old pack with a fifth of fresh works as well, and has no surprises left.",
        ),
        "one_fire",
        "Two boxes alike in one fire, one with fresh pack, one topped up, each kept as a mix of its own with "
        "its share of fresh pack. Swap the boxes the next time.",
        outcomes=("depth",),
        alike=("mix",),
    ),
    Argument(
        "oil",
        "Used engine oil in the pack?",
        ("no oil", "some in the pack"),
        _practice(
            "The charcoal gives all the carbon that steel can take; oil only smokes.",
            "Oil is carbon too, and cheap.",
        ),
        "one_fire",
        "None is offered: what it could add is not worth what it does to you. Where it was done, "
        f"{NOTE_BOX_IN}, and it is counted here.",
        outcomes=("depth",),
        caution="Do not try it. Oil in a box boils off as thick smoke that can flash, with metals and soot "
        "that harm; a shut box can burst. Nothing here asks you to.",
    ),
    Argument(
        "cool",
        "Cool in the box, or straight from the box into the bath?",
        ("cooled, then heated for the quench", "straight into the bath"),
        _practice(
            "A slow cool and a fresh heat make a finer grain and a tougher case.",
            "Straight from the box saves a heat, scale and bow.",
        ),
        "one_box",
        "Two coupons in one box: draw one hot into the bath as the box comes out, let the other cool and "
        "heat it for the quench.",
        outcomes=("hardness",),
        counts=("cracks", "bow"),
        reckoned="what either way makes of carbon and soft austenite",
    ),
    Argument(
        "motion",
        "Up and down in the bath, or sideways?",
        ("up and down", "side to side"),
        _practice(
            "Up and down wets all sides alike, so it bows least.",
            "What matters is that it moves; a wide bath is easier sideways.",
        ),
        "one_box",
        "Two coupons out of one box, one moved each way in the same bath; note the way with the quench.",
        outcomes=("hardness",),
        counts=("cracks", "bow"),
    ),
    Argument(
        "brine",
        "Weak brine or strong?",
        ("under 8 % of salt", "8 % and more"),
        _practice(
            "A handful of salt is enough: it is there to break the steam.",
            "Ten per cent quenches hardest; weaker is nearly water.",
        ),
        "one_box",
        "Two coupons out of one box, one into each bucket, both at the same heat and moved alike.",
        outcomes=("hardness",),
        counts=("cracks",),
        alike=("bath",),
        reckoned="how salt breaks the steam",
    ),
    Argument(
        "temper",
        "Temper, or leave it as quenched?",
        ("as quenched", "tempered"),
        _practice(
            "A case is wanted glass hard; a temper only takes some of it back.",
            "An hour in the oven costs a point or two and keeps corners from chipping.",
        ),
        "one_box",
        "Two coupons out of one quench: read both, temper one, read it again, and look at both for cracks "
        "and chips after use.",
        counts=("cracks", "pairs"),
    ),
)
OF_PACK = tuple(argument.key for argument in ARGUMENTS if "mix" in argument.alike)
BY_KEY = {argument.key: argument for argument in ARGUMENTS}
