"""What a plan asks: heat, hours, mix, bath and temper in plain sight; no hours and no mix without a case."""

from __future__ import annotations

from typing import Annotated

from model.ranges import (
    HOURS,
    MINUTES,
    REHEAT_TEMPERATURE_C,
    SOAK_TEMPERATURE_C,
    TEMPER_TEMPERATURE_C,
)
from webapp.forms.kit import Ask, Form
from webapp.forms.shop import Note
from webapp.forms.steps import CLOCK_FROM, TEMPER_ADVICE

Heat = Annotated[
    float,
    Ask("Heat", kind="stepper", quantity="temperature", range=SOAK_TEMPERATURE_C, step=10.0),
]
Hours = Annotated[
    float | None,
    Ask(
        "Soak",
        kind="stepper",
        quantity="duration",
        range=HOURS,
        step=0.25,
        help="At heat. Blank takes the hours with the best odds.",
    ),
]
TemperHeat = Annotated[
    float | None,
    Ask(
        "Temper",
        kind="stepper",
        quantity="temperature",
        range=TEMPER_TEMPERATURE_C,
        advice=TEMPER_ADVICE,
        step=10.0,
        help="Blank: not tempered",
    ),
]


class PlanForm(Form):
    """A plan for a part."""

    part_id: Annotated[int, Ask("Part", kind="hidden")]
    temperature_K: Heat
    soak_s: Hours = None
    mix_id: Annotated[int, Ask("Mix", dynamic=True)]
    bath_id: Annotated[int, Ask("Bath", dynamic=True)]
    temper_K: TemperHeat = None
    temper_s: Annotated[float | None, Ask("Temper for", quantity="duration", range=HOURS, folded=True)] = None
    reheat_K: Annotated[
        float | None,
        Ask(
            "Reheat for the quench",
            kind="stepper",
            quantity="temperature",
            range=REHEAT_TEMPERATURE_C,
            step=10.0,
            help="Blank: straight from the box into the bath",
            folded=True,
        ),
    ] = None
    reheat_s: Annotated[
        float | None, Ask("Reheat for", quantity="duration", unit="min", range=MINUTES, folded=True)
    ] = None
    box_id: Annotated[int, Ask("Box", dynamic=True, folded=True)]
    heat_instrument_id: Annotated[int, Ask("Heat is told by", dynamic=True, folded=True)]
    clock_from: Annotated[str, Ask("The soak clock starts when", choices=CLOCK_FROM, folded=True)] = "at_heat"
    note: Note = ""


class NoCaseForm(PlanForm):
    """A plan for a part whose steel needs no case: one heat, a bath, a temper; no pack, so no soak."""

    temperature_K: Annotated[
        float,
        Ask(
            "Heat for the quench",
            kind="stepper",
            quantity="temperature",
            range=REHEAT_TEMPERATURE_C,
            step=10.0,
        ),
    ]
    soak_s: Annotated[float | None, Ask("Soak", kind="hidden")] = None
    mix_id: Annotated[int, Ask("Mix", kind="hidden")]
    reheat_K: Annotated[float | None, Ask("Reheat for the quench", kind="hidden")] = None
    reheat_s: Annotated[
        float | None, Ask("Hold it at heat for", quantity="duration", unit="min", range=MINUTES, folded=True)
    ] = None
    box_id: Annotated[int, Ask("Box", kind="hidden")]
    clock_from: Annotated[str, Ask("The soak clock starts when", kind="hidden")] = "at_heat"
