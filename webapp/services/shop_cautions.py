"""What can hurt in this work, what to do, and who says so; `cautions.py` has the short lines by step."""

from __future__ import annotations

from dataclasses import dataclass

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Caution:
    """One caution: what can hurt, what to do, and who says so."""

    key: str
    title: str
    text: str
    source: str


@dataclass(frozen=True)
class CautionGroup:
    """The cautions of one side of the work."""

    title: str
    cautions: tuple[Caution, ...]


AIR = CautionGroup(
    "The air you breathe",
    (
        Caution(
            "carbon_monoxide",
            "The box makes carbon monoxide",
            "Gas from a hot pack is one part in five to nearly all carbon monoxide. It has no smell and it "
            "kills. Work outdoors or under a strong draught with an alarm beside you, another where people "
            "sleep, and light the gas where it leaves the box. The flame may be pale.",
            "Limits at work: 50 ppm over a shift (OSHA); 35 ppm, and never above 200 ppm (NIOSH 1972)",
        ),
        Caution(
            "opening_hot",
            "A box opened hot can flash",
            "Air meeting hot gas and charcoal flares up, and the charcoal burns on. Stand aside, lift the "
            "lid away from you, and wear a face shield.",
            COMMON_PRACTICE,
        ),
        Caution(
            "gas_while_it_cools",
            "A cooling box goes on giving gas",
            "Carbon monoxide keeps coming until the charcoal is cold, long after the fire is off. Let the "
            "box cool outdoors or under the draught, never in a house or below a bedroom, and leave an "
            "alarm on where people sleep.",
            COMMON_PRACTICE,
        ),
        Caution(
            "lining_fibre",
            "Forge lining and its dust scar the lungs",
            "Old fibre lining sheds fine fibres, and fired fibre holds silica. Coat it, do not brush or "
            "blow it out dry; wear a P100 or FFP3 mask when you mend it.",
            "Fibre possibly causes cancer, group 2B (IARC monograph 81, 2002): value from memory",
        ),
        Caution(
            "luting_dust",
            "Dry clay and charcoal dust stay out of the lungs",
            "Clay and mortar hold quartz. Damp them before you scrape them off, or wear a mask.",
            "Breathable quartz, limit at work 0.05 mg/m³ (OSHA 29 CFR 1910.1053): value from memory",
        ),
    ),
)
BOX = CautionGroup(
    "The box",
    (
        Caution(
            "never_sealed_tight",
            "Never weld or screw a box shut",
            "The pack gives off gas as it heats: 100 g (3.5 oz) of carbonate alone makes 100 to 200 litres "
            "(26 to 53 US gallons), hot. A lid bedded in clay lets it out; a welded or threaded box can "
            "burst. If in doubt, drill a vent of 3 mm (1/8 in).",
            "Gas volumes computed from the reactions; the rest " + COMMON_PRACTICE,
        ),
        Caution(
            "zinc_fume",
            "No galvanised, plated or painted steel in the fire",
            "Zinc boils off well below carburizing heat, and its fume makes you ill for a day or worse. "
            "Use plain black steel for the box, and bare steel for the work.",
            "Zinc oxide fume limit 5 mg/m³ (OSHA)",
        ),
        Caution(
            "damp_pack",
            "A damp pack spits",
            "Dry the charcoal, and let fresh luting dry before the box goes into the fire. Steam blows the "
            "luting out and can throw hot charcoal.",
            COMMON_PRACTICE,
        ),
        Caution(
            "stripped_tube",
            "Zinc hides inside a stripped tube",
            "Acid or grinding takes zinc off the outside; inside a tube and in its seams it stays. Do not "
            "use tube that was ever galvanised.",
            COMMON_PRACTICE,
        ),
        Caution(
            "hot_box_weight",
            "The glowing box is heavier than it looks",
            "Lift it cold in its tongs before you light up. If it takes two hands and a strain, use a "
            "trolley or let it cool in the forge. A clear path, dry brick at its end.",
            COMMON_PRACTICE,
        ),
        Caution(
            "no_water_on_hot",
            "No water on a hot box or hot charcoal",
            "Water on glowing charcoal makes steam and gas that burns, and the burst throws embers. Shut "
            "the air off and wait.",
            "Water gas, C + H2O -> CO + H2; the advice is " + COMMON_PRACTICE,
        ),
        Caution(
            "spent_pack",
            "Spent pack goes into a lidded metal bin",
            "Charcoal that feels cold can hold an ember and catch again for a day. Metal bin, lid on, "
            "outdoors, on stone.",
            COMMON_PRACTICE,
        ),
    ),
)
PACK = CautionGroup(
    "The pack",
    (
        Caution(
            "barium",
            "Barium compounds are poison",
            "Old recipes call for barium carbonate. Swallowed, about a gram can kill, and its dust gets onto "
            "hands and food. Soda ash or chalk does the same work: keep barium out of a small shop.",
            "Limit at work 0.5 mg/m³ as barium; the lethal amount is a value from memory",
        ),
        Caution(
            "cyanide",
            "No cyanide, no prussiate",
            "Cyanide salts kill by a breath or a touch, and yellow prussiate gives off cyanide when heated. "
            "They are for licensed works with the right equipment only.",
            COMMON_PRACTICE,
        ),
        Caution(
            "soda",
            "Soda ash hurts the eyes",
            "Wear goggles when you crush or mix it, and keep the dust down.",
            "Hazard statement H319, serious eye irritation",
        ),
        Caution(
            "spent_lime",
            "Spent chalk or shell is quicklime",
            "After the fire it burns wet skin and heats up with water. Let it stand in the open to slake, "
            "and wear gloves.",
            COMMON_PRACTICE,
        ),
    ),
)
QUENCH = CautionGroup(
    "The quench",
    (
        Caution(
            "oil_flash",
            "Oil can catch fire",
            "Keep the oil at least 28 °C (50 °F) below its flash point, and leave more if you can. Lower "
            "the work fully and fast, with tongs long enough: half-dipped work lights the surface. Lid and "
            "extinguisher within reach, never water.",
            "50 °F margin: fire-code practice after NFPA 86",
        ),
        Caution(
            "water_in_oil",
            "No water in the oil",
            "Water lying under hot oil flashes to steam and throws the oil out of the bath. Keep a lid on "
            "it, and do not use oil that crackles when a drop is heated.",
            "Ordinary oils hold about 0.1 % water; the remedy is " + COMMON_PRACTICE,
        ),
        Caution(
            "brine",
            "Brine bites hard",
            "It quenches harder than water: thin work and sharp corners crack more often. It spits, it "
            "stings the eyes, and it rusts everything nearby.",
            COMMON_PRACTICE,
        ),
        Caution(
            "steam_and_shards",
            "Steam burns, and glass-hard work can fly",
            "Face shield, gloves and apron at the bath. Work with a high-carbon skin can crack or shatter "
            "in the quench, on straightening, or minutes later.",
            COMMON_PRACTICE,
        ),
        Caution(
            "oil_tank",
            "Oil only in a deep, lidded metal tank",
            "Deep enough for the work to be wholly under with a hand of oil above it, wide enough not to "
            "tip, on a floor that does not burn. Never in plastic, never in a bucket filled to the brim.",
            COMMON_PRACTICE,
        ),
        Caution(
            "used_oil",
            "No used engine oil",
            "It stinks, its smoke is foul, it holds water and metals, and nobody knows its flash point "
            "any more.",
            COMMON_PRACTICE,
        ),
    ),
)
FIRE = CautionGroup(
    "The fire",
    (
        Caution(
            "lit_forge",
            "Never leave a lit forge alone",
            "A burner can go out, or burn back, unheard. Someone who knows the valve stays in sight of it "
            "from light-up to fire off.",
            COMMON_PRACTICE,
        ),
        Caution(
            "gas_bottles",
            "Gas bottles stand upright, outdoors or in a draught",
            "The gas is heavier than air and lies in pits and cellars. Soap every joint, never heat a "
            "bottle with a flame, shut it at the bottle after work. A flame that burns back into the "
            "mixer comes of too little pressure: valve shut, let it air out, wait, then relight.",
            "Propane weighs 44 against 29 of air (molar masses); the advice is " + COMMON_PRACTICE,
        ),
        Caution(
            "solvent_rags",
            "Rags wet with linseed oil catch fire by themselves",
            "Drying oils warm up as they dry, and a heap of rags holds the heat. Spread them out flat "
            "outdoors, or drown them in a lidded metal tin. Solvents stay away from the fire.",
            "Spontaneous heating of drying oils: fire-protection handbooks, value from memory",
        ),
        Caution(
            "food_oven",
            "No oven that cooks food",
            "Oil left on the work smokes and taints it. Wipe the work first, and open a window.",
            COMMON_PRACTICE,
        ),
    ),
)
FINISHING = CautionGroup(
    "Afterwards",
    (
        Caution(
            "etching_acids",
            "Etching acids burn skin and eyes",
            "Nitric acid in alcohol: acid into alcohol, a few in a hundred at most, never kept in a tight "
            "bottle. Goggles, gloves, a window, water and soda beside you.",
            "Nitric acid: hazard statement H314, severe burns; the rest is " + COMMON_PRACTICE,
        ),
        Caution(
            "grinding",
            "Grinding throws sparks and dust",
            "Goggles and a mask; keep the wheel away from oil, rags and charcoal. Wet cuts keep the dust "
            "down and the case cool.",
            COMMON_PRACTICE,
        ),
    ),
)
CAUTION_GROUPS = (AIR, FIRE, BOX, PACK, QUENCH, FINISHING)
LOCAL_RULES = (
    "Local fire, gas and building rules come first, and so does the advice of someone licensed for the work. "
    "What stands here is the usual caution, not a safety plan for your shop."
)
_BY_KEY = {caution.key: caution for group in CAUTION_GROUPS for caution in group.cautions}


def cautions_named(*keys: str) -> tuple[Caution, ...]:
    """Return the cautions of these keys, for the place where they apply."""
    return tuple(_BY_KEY[key] for key in keys)
