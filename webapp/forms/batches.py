"""What is asked when a batch is planned, put right, or written up from an old notebook."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import model_validator

from model.ranges import DIAMETER_MM, HOURS, REHEAT_TEMPERATURE_C, SOAK_TEMPERATURE_C, TEMPER_TEMPERATURE_C
from webapp.forms.kit import Ask, Doubtful, FieldProblem, Form
from webapp.forms.steps import CLOCK_FROM, TEMPER_ADVICE, THEN

BoxId = Annotated[int, Ask("Box", dynamic=True)]
MixId = Annotated[int, Ask("Pack mix", dynamic=True)]
ForgeId = Annotated[int, Ask("Forge", dynamic=True, folded=True)]
HeatId = Annotated[int, Ask("Heat known by", dynamic=True)]
Note = Annotated[str, Ask("Note", kind="notes", folded=True)]


class BatchForm(Form):
    """A batch before it is fired."""

    box_id: BoxId
    mix_id: MixId
    heat_instrument_id: HeatId
    forge_id: ForgeId
    fire_id: Annotated[
        int | None,
        Ask("Shares the fire of", help="empty: a fire of its own", dynamic=True, folded=True),
    ] = None
    with_pin: Annotated[
        bool,
        Ask("Pack the standard pin", help="it makes every batch a measurement", kind="yesno", folded=True),
    ] = True
    day: Annotated[date | None, Ask("Day", help="empty means today", folded=True)] = None
    plan_id: Annotated[int | None, Ask("Plan", kind="hidden")] = None
    note: Note = ""


class BatchChangeForm(Form):
    """What a batch ran with, put right."""

    box_id: BoxId
    mix_id: MixId
    heat_instrument_id: HeatId
    forge_id: ForgeId
    day: Annotated[date | None, Ask("Day", folded=True)] = None
    note: Note = ""


class WriteUpForm(Form):
    """An old batch, as far as anyone remembers."""

    day: Annotated[date, Ask("Day", help="roughly is fine")]
    box_id: BoxId
    mix_id: MixId
    heat_instrument_id: HeatId
    temperature_K: Annotated[
        Doubtful,
        Ask("Heat of the soak", quantity="temperature", range=SOAK_TEMPERATURE_C, kind="doubtful"),
    ]
    soak_s: Annotated[
        Doubtful,
        Ask("Time at heat", help="as in 4 or 4:30", quantity="duration", range=HOURS, kind="doubtful"),
    ]
    clock_from: Annotated[str, Ask("Counted from when", choices=CLOCK_FROM)] = "at_heat"
    then: Annotated[str, Ask("And then", choices=THEN)] = "slow_cool"
    reheat_K: Annotated[
        Doubtful | None,
        Ask(
            "Reheated to",
            help="empty if it was not",
            quantity="temperature",
            range=REHEAT_TEMPERATURE_C,
            kind="doubtful",
        ),
    ] = None
    bath_id: Annotated[int | None, Ask("Quenched in", help="empty if it was not", dynamic=True)] = None
    temper_K: Annotated[
        Doubtful | None,
        Ask(
            "Tempered at",
            help="empty if it was not",
            quantity="temperature",
            range=TEMPER_TEMPERATURE_C,
            advice=TEMPER_ADVICE,
            kind="doubtful",
        ),
    ] = None
    temper_s: Annotated[
        Doubtful | None, Ask("Tempered for", quantity="duration", range=HOURS, kind="doubtful")
    ] = None
    part_id: Annotated[int | None, Ask("A part that lay in it", dynamic=True)] = None
    coupon_size_m: Annotated[
        float | None,
        Ask("A round coupon lay in it: diameter", quantity="length", range=DIAMETER_MM),
    ] = None
    forge_id: ForgeId
    note: Note = ""

    @model_validator(mode="after")
    def quenched_in_something(self) -> WriteUpForm:
        """Ask for the bath where what came after shows that there was one."""
        if self.bath_id is None and self.then == "straight_to_bath":
            raise FieldProblem("bath_id", "It went straight into the bath: pick which.")
        if self.bath_id is None and self.temper_K is not None:
            raise FieldProblem("bath_id", "It was tempered, so it was quenched before: pick in what.")
        return self
