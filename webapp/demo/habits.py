"""How the demo's shop closed its boxes and moved its work, by batch, and where its charcoal came from.

All of it is invented, and the true forge knows nothing of it: neither what closes a lid nor the way of moving
makes any difference there, so whatever the logbook says of them is chance, or something that went with them.
"""

from __future__ import annotations

from typing import Any

# After clay dropped out of a corner mortar was tried, turn about with clay.
LUTED_WITH_MORTAR = frozenset({4, 7, 9, 10, 12, 14, 15, 16})
# The brine stands in a wide trough: whatever goes into it is moved sideways, and nothing else is.
MOVED_SIDEWAYS = frozenset({9, 13})
# A line of the shop's own, asked since the first sack was bought.
CHARCOAL_FROM, BOUGHT, SAWMILL = "Charcoal from", "bought, beech", "the sawmill, mixed wood"
FIRST_SACK, FROM_THE_SAWMILL = 4, frozenset({8, 9, 12, 13})
FIRST_NOTED = 3  # the old notebook says nothing of either


def box_in_settings(number: int) -> dict[str, Any]:
    """Return how a batch's box was closed, where that was not as it always is."""
    return {"seal": "refractory mortar"} if number in LUTED_WITH_MORTAR else {}


def quench_settings(number: int) -> dict[str, Any]:
    """Return how a batch's work went into its bath."""
    known = {"seconds_to_bath": 2, "agitation": "moderate"}
    if number < FIRST_NOTED:
        return known
    return known | {"motion": "side_to_side" if number in MOVED_SIDEWAYS else "up_and_down"}


def own_lines(number: int, line_id: int) -> dict[str, Any]:
    """Return what a batch says to the shop's own line."""
    if number < FIRST_SACK:
        return {}
    return {str(line_id): SAWMILL if number in FROM_THE_SAWMILL else BOUGHT}
