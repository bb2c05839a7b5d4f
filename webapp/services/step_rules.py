"""What may come next in a batch, and which times and heats make no sense: rules over plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

PLANNED, IN_THE_FIRE, COOLING = "planned", "in_the_fire", "cooling"
HARDENED, MEASURED, GIVEN_UP = "hardened", "measured", "given_up"

STATE_WORDS = {
    PLANNED: "planned",
    IN_THE_FIRE: "in the fire",
    COOLING: "cooling",
    HARDENED: "hardened",
    MEASURED: "measured",
    GIVEN_UP: "given up",
}
STEP_WORDS = {
    "box_in": "Box in the fire",
    "soak": "Soak",
    "box_out": "Box out, fire off",
    "drawn": "Taken out of the box",
    "reheat": "Reheat",
    "quench": "Quench",
    "temper": "Temper",
}
ACTION_WORDS = {
    "box_in": "Box in the fire",
    "at_heat": "At heat: start the soak clock",
    "box_out": "Box out, fire off",
    "drawn": "Draw it hot, now",
    "reheat": "Reheated for the quench",
    "quench": "Quenched",
    "temper": "Tempered",
    "measured": "All measured",
}
CLOCK_FROM_WORDS = {
    "at_heat": "the work is at heat",
    "evenly_red": "the box is evenly red",
    "box_in": "the box went in",
}

BEGAN_WORDS = {
    "box_in": "the box went into the fire",
    "soak": "the soak clock was started",
    "box_out": "the box came out",
    "drawn": "the piece left the box",
    "reheat": "the reheat",
    "quench": "the quench",
    "temper": "the temper before it",
}

MOST_TEMPERS = 2
MOST_REHEATS = 2  # when carbon is evened out: one long heat, and one for the quench
CLOCK_WENT_BACK = (
    "If the clock of the computer that keeps the logbook went back, put it right and press again, "
    "or type the time here."
)
CLOCKS_DIFFER = timedelta(minutes=2)  # between the tablet and the machine that keeps the logbook
OLDEST = timedelta(days=365 * 40)


class StepRefused(Exception):
    """A step that cannot have happened so: the field it concerns and what to do about it."""

    def __init__(self, field: str, message: str, may_insist: bool = False) -> None:
        """Keep the field; `may_insist` says that a user who is sure may go on."""
        self.field, self.message, self.may_insist = field, message, may_insist
        super().__init__(message)


@dataclass(frozen=True)
class Began:
    """When a step began, as far as is known."""

    kind: str
    moment: datetime | None


def state_of(kinds: Sequence[str]) -> str:
    """Return the state that a batch's steps amount to."""
    if "quench" in kinds:
        return HARDENED
    if "box_out" in kinds:
        return COOLING
    return IN_THE_FIRE if "box_in" in kinds or "soak" in kinds else PLANNED


def next_actions(state: str, kinds: Sequence[str]) -> tuple[str, ...]:
    """Return what may be done next, the likeliest first."""
    if state == PLANNED:
        return ("box_in",)
    if state == IN_THE_FIRE:
        return ("box_out",) if "soak" in kinds else ("at_heat",)
    if state == COOLING:
        return ("quench", "reheat") if "reheat" in kinds else ("reheat", "quench")
    return _finishing_actions(state, kinds)


def _finishing_actions(state: str, kinds: Sequence[str]) -> tuple[str, ...]:
    """Return what may follow the quench."""
    tempers = kinds.count("temper")
    temper = ("temper",) if tempers < MOST_TEMPERS else ()
    if state == HARDENED:
        return ("measured", *temper) if tempers else (*temper, "measured")
    return temper if state == MEASURED else ()


def next_item_actions(kinds: Sequence[str], batch_kinds: Sequence[str]) -> tuple[str, ...]:
    """Return what may be done next with one item that goes, or could go, its own way."""
    if "drawn" not in kinds:
        return ("drawn",) if "soak" in batch_kinds else ()
    if "quench" not in kinds:
        return ("quench", "reheat") if "reheat" in kinds else ("reheat", "quench")
    return ("temper",) if kinds.count("temper") < MOST_TEMPERS else ()


def next_rework_actions(way: str, kinds: Sequence[str]) -> tuple[str, ...]:
    """Return what may be done next with a piece that is put right outside a box, the likeliest first."""
    temper = ("temper",) if kinds.count("temper") < MOST_TEMPERS else ()
    if way == "temper" or "quench" in kinds:
        return temper
    reheats = kinds.count("reheat")
    if not reheats:
        return ("reheat",)
    if way == "even_out" and reheats < MOST_REHEATS:
        return ("reheat", "quench")
    return ("quench", "reheat") if reheats < MOST_REHEATS else ("quench",)


def check_moment(
    when: datetime, now: datetime, earlier: Sequence[Began], field: str = "at", insisted: bool = False
) -> None:
    """Refuse a moment before what came earlier; ask about one that has not come yet."""
    for step in reversed(earlier):
        if step.moment is not None and when < step.moment:
            advice = CLOCK_WENT_BACK if when == now else "Check the time and the day."
            raise StepRefused(field, f"That is before {BEGAN_WORDS[step.kind]}. {advice}")
    if when < now - OLDEST:
        raise StepRefused(field, "That is more than forty years ago. Check the year.")
    if when > now + CLOCKS_DIFFER and not insisted:
        raise StepRefused(
            field,
            "That time has not come yet. Correct it, or say below that it stands.",
            may_insist=True,
        )
