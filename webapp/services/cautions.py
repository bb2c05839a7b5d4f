"""The usual caution at each step, one line each. All of them are common practice, no source."""

from __future__ import annotations

LOCAL_CODES = "Local codes and licensed practice come first."

_CAUTIONS: dict[str, tuple[str, ...]] = {
    "box_in": (
        "A packed box and a gas forge give off carbon monoxide: doors open, fan on, alarm working.",
        "Never leave a lit forge alone; have the gas valve within reach and the way out clear.",
        "No galvanised or plated steel in the fire: zinc fume is poisonous.",
    ),
    "at_heat": ("Stay with the fire: a soak is long, and a burner can go out unheard.",),
    "box_out": (
        "Do not open a hot box: the charcoal flares up and the gas that comes out is poisonous.",
        "Set the box on dry brick, away from anything that burns. No water on it.",
        "Its gas keeps coming until it is cold: not indoors, and an alarm where people sleep.",
    ),
    "drawn": (
        "A box opened hot flares and gives off carbon monoxide: stand aside, face shield, long gloves.",
    ),
    "reheat": ("Same fire, same rules: air through the shop, carbon monoxide alarm on, nobody walks away.",),
    "quench": (
        "Oil can flare: lid and extinguisher at hand, never water near it. Work and tongs go in dry.",
        "Water and brine throw steam and hot drops: face shield, sleeves down, lower it in all at once.",
    ),
    "temper": ("Not in an oven used for food. Oil left on the work smokes: wipe it first.",),
    "break": (
        "A glass-hard coupon throws shards: break or bend it wrapped in cloth, in a vice, eyes shielded.",
    ),
    "burner out": (
        "Gas off first. Let it air out for some minutes before you relight: unburnt gas can explode.",
        "Carbon monoxide builds up while the fire is sick: if the alarm sounds, everybody out.",
    ),
    "gas ran out": (
        "Close the burner valve before you change the bottle, and check the joint with soapy water.",
    ),
    "lit again": ("Stay with it until the whole burner is hot: a cold one goes out again.",),
    "burning back": (
        "Gas off at once and let the burner cool: a flame inside the mixer can burst the hose.",
    ),
    "seal cracked": ("A leaking box lets carbon monoxide into the shop: more air, and keep your face away.",),
    "box turned": ("Long tongs and a face shield: a box that tips spills burning charcoal.",),
}


def cautions_for(step: str) -> tuple[str, ...]:
    """Return the cautions of a step or event, the last of them that local codes come first; empty if none."""
    lines = _CAUTIONS.get(step, ())
    return (*lines, LOCAL_CODES) if lines else ()
