"""The words of a schedule's lines: what each is called, what is done, what to tick, and which cautions apply.

All of it common practice, no source, where no caution names one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from webapp.services.schedule_tasks import FIRE, Task

WHY_LUTED: Final = (
    "Luting keeps air out, which would burn the charcoal and take carbon back out of the steel; the gas that "
    "the pack makes must still find its way out through it, or the lid lifts and the box can burst."
)


@dataclass(frozen=True)
class Said:
    """What a line says: its title, the work, what to tick, and cautions by their key."""

    title: str
    work: str
    checks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


SAID: Final[dict[str, Said]] = {
    "clean": Said(
        "Clean and scuff the steel",
        "Wash off oil, then scuff to bright metal: scale and grease keep carbon out.",
        ("Bright all over, no scale, no oil", "Marks cut in"),
        ("solvent_rags", "stripped_tube"),
    ),
    "weigh": Said(
        "Weigh the mix",
        "By weight, charcoal dry.",
        ("Weights noted", "Charcoal dry"),
        ("soda", "barium"),
    ),
    "pack": Said(
        "Pack the box",
        "A finger's width of pack round every piece, tamped.",
        (
            "Steel scuffed bright",
            "Nothing touches",
            "Coupon in",
            "Box of bare black steel",
        ),
        ("zinc_fume", "never_sealed_tight"),
    ),
    "lute": Said(
        "Lute the lid",
        "A thin bed of clay round the lid; leave it to dry.",
        ("Not welded, not screwed shut",),
        ("luting_dust", "never_sealed_tight"),
    ),
    "dry": Said("The luting dries", "At least eight hours, overnight is best. Nothing burns."),
    "check_luting": Said(
        "Check the luting",
        WHY_LUTED,
        ("Dry and pale right through", "Cracks filled and dry again"),
        ("damp_pack",),
    ),
    "light": Said(
        "Light up",
        "Air through the shop, alarm on, then the burner.",
        ("Carbon monoxide alarm tested", "Bottle weighed, joints soaped", "Extinguisher at hand"),
        ("carbon_monoxide", "lit_forge", "gas_bottles", "lining_fibre"),
    ),
    "box_in": Said(
        "Box in the fire",
        "Now it warms up: note the time.",
        ("Time noted",),
        ("hot_box_weight", "carbon_monoxide"),
    ),
    "at_heat": Said(
        "Expected at heat",
        "From the warm-up as it is believed of this box. Trust what you see inside the fire over this clock.",
        ("Heat read and noted",),
        ("lit_forge",),
    ),
    "box_out": Said(
        "Box out, or fire off",
        "Leave it shut.",
        ("Time noted", "Burner and bottle shut"),
        ("no_water_on_hot", "gas_while_it_cools", "hot_box_weight"),
    ),
    "cool": Said(
        "The box cools shut",
        "Nothing burns, so it may stand overnight; its gas keeps coming. The time is for a box left in its "
        "shut forge, as the plan counts on; out in the air it is cold far sooner, and takes up less carbon.",
        (),
        ("gas_while_it_cools",),
    ),
    "open": Said(
        "Open the cold box",
        "Cold to the hand right through, 50 °C (120 °F) in the middle, before the lid comes off: hotter "
        "charcoal flares up in air and glows on.",
        ("Box cold", "Pack sieved, kept dry"),
        ("opening_hot", "spent_pack", "luting_dust", "spent_lime"),
    ),
    "machine": Said(
        "Machine what must stay soft",
        "While the part is still soft: take the stock off these areas, through the case.",
        ("Stock off, threads cut",),
    ),
    "oven_on": Said(
        "Oven on", "It must be hot before the quench.", ("Oven thermometer read",), ("food_oven",)
    ),
    "reheat": Said(
        "Light up and reheat",
        "Bring it to the hardening heat and hold it; wrapped or packed again for a thin case.",
        ("Bath as planned, lid by it", "Way to the bath clear"),
        ("carbon_monoxide", "lit_forge"),
    ),
    "quench": Said(
        "Quench",
        "Straight down, wholly under, until it is cold. The clock to the temper runs from here.",
        ("Work and tongs dry", "File skates"),
        (),
    ),
    "temper_in": Said(
        "In the oven",
        "As soon as it is hand-warm, within the hour: a hard case can crack while it waits.",
        ("Wiped dry of oil", "Time noted"),
        ("steam_and_shards", "food_oven"),
    ),
    "temper_out": Said("Out of the oven", "Cools in air; oven off.", ("Time noted",)),
    "grind": Said(
        "Finish grind",
        "Light wet cuts, sharp wheel. Then look for burn: straw or blue bands, or dark patches in an etch.",
        ("No burn", "Size reached"),
        ("grinding", "etching_acids"),
    ),
    "second_temper": Said(
        "A short second temper",
        "An hour, 10 to 15 °C (20 to 30 °F) below the first: it calms what the wheel has strained.",
        (),
        ("food_oven",),
    ),
    "second_out": Said("Out of the oven", "Cools in air; oven off. Done.", ("Read and logged",)),
}
QUENCH_CAUTIONS: Final = {
    "oil": ("oil_flash", "water_in_oil", "oil_tank", "used_oil", "steam_and_shards"),
    "brine": ("brine", "steam_and_shards"),
    "water": ("steam_and_shards",),
    "air": (),
}


def cautions_at(task: Task, medium: str) -> tuple[str, ...]:
    """Return the keys of the cautions that apply at a line."""
    if task.kind != "quench":
        return SAID[task.kind].cautions
    opened_hot = ("opening_hot",) if task.block.startswith(FIRE) else ()
    return (*opened_hot, *QUENCH_CAUTIONS[medium])
