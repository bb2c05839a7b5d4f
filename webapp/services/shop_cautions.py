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
            "kills. Work outdoors or under a strong draught with an alarm beside you, and light the gas "
            "where it leaves the box. The flame may be pale.",
            "Limits at work: 50 ppm over a shift (OSHA); 35 ppm, and never above 200 ppm (NIOSH 1972)",
        ),
        Caution(
            "opening_hot",
            "A box opened hot can flash",
            "Air meeting hot gas and charcoal flares up, and the charcoal burns on. Stand aside, lift the "
            "lid away from you, and wear a face shield.",
            COMMON_PRACTICE,
        ),
    ),
)
BOX = CautionGroup(
    "The box",
    (
        Caution(
            "never_sealed_tight",
            "Never weld or screw a box shut",
            "The pack gives off gas as it heats: 100 g of carbonate alone makes 100 to 200 litres, hot. A "
            "lid bedded in clay lets it out; a welded or threaded box can burst. If in doubt, drill a 3 mm "
            "vent.",
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
    ),
)
CAUTION_GROUPS = (AIR, BOX, PACK, QUENCH)
LOCAL_RULES = (
    "Local fire, gas and building rules come first, and so does the advice of someone licensed for the work. "
    "What stands here is the usual caution, not a safety plan for your shop."
)
_BY_KEY = {caution.key: caution for group in CAUTION_GROUPS for caution in group.cautions}


def cautions_named(*keys: str) -> tuple[Caution, ...]:
    """Return the cautions of these keys, for the place where they apply."""
    return tuple(_BY_KEY[key] for key in keys)
