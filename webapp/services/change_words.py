"""What may be changed in a shop, in its own words: by the list that the thing stands in."""

from __future__ import annotations

from webapp.forms.ask import Choice
from webapp.services.heats_seen import AS_BEFORE

DRIFTED = "heat_drift"

CHANGES: dict[str, tuple[Choice, ...]] = {
    "forges": (
        Choice("relined", "Relined or patched inside"),
        Choice("new_burner", "New burner or jet"),
        Choice("other_forge_change", "Something else", "door, shelf or place moved"),
    ),
    "heats": (
        Choice("heat_moved", "Moved or set otherwise", "same wire and meter, another place or angle"),
        Choice("heat_replaced", "Replaced", "new wire, new meter, another pair of eyes"),
    ),
    "boxes": (
        Choice("box_mended", "Mended", "new lid, wall patched"),
        Choice("box_repacked", "Filled, closed or stood otherwise"),
    ),
    "mixes": (
        Choice("mix_topped_up", "Topped up", "fresh charcoal or carbonate in the old tin"),
        Choice("mix_renewed", "Made up anew", "by the same recipe"),
    ),
    "baths": (
        Choice("bath_fresh", "Emptied and filled fresh"),
        Choice("bath_topped_up", "Topped up"),
        Choice("salt_topped_up", "Salt topped up"),
        Choice("bath_moved", "Stirred or worked otherwise"),
    ),
    "ovens": (
        Choice("oven_mended", "Mended", "new heater or feeler"),
        Choice("oven_moved", "Moved", "another shelf, another place"),
        Choice("oven_replaced", "Replaced by another"),
    ),
    "testers": (
        Choice("tester_serviced", "Serviced or set right"),
        Choice("tester_point", "New point, ball or files"),
    ),
}
# What only the answer to a question of the app's own notes.
ANSWERED = {
    DRIFTED: "Came to read otherwise, cause not known",
    AS_BEFORE: "Looked at, and nothing was changed",
}
LABELS = {choice.value: choice.label for choices in CHANGES.values() for choice in choices} | ANSWERED
# What each list's changes leave open, in words: what a page says will be less sure.
LOOSENS = {
    "forges": "how far off each way of knowing its heat is, and how long a box takes to warm",
    "heats": "how far off it is",
    "boxes": "how long it takes to warm",
    "mixes": "how fast it gives its carbon",
    "baths": "how hard it bites",
    "ovens": "how far off its dial is",
    "testers": "how far off it is",
}
