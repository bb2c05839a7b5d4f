"""What is asked at each step of a batch."""

from __future__ import annotations

from typing import Annotated

from model.ranges import (
    BATH_TEMPERATURE_C,
    HOURS,
    MINUTES,
    REHEAT_TEMPERATURE_C,
    SECONDS_TO_BATH,
    SOAK_TEMPERATURE_C,
    TEMPER_TEMPERATURE_C,
    WORK_KG,
)
from webapp.forms.common import BeganAt, TimedForm
from webapp.forms.kit import Ask, Choice, Doubtful, Form
from webapp.forms.shop import FILLS, SEALS

CLOCK_FROM = (
    Choice("at_heat", "The work is at heat", "a thermocouple or witness in the box says so"),
    Choice("evenly_red", "The box is evenly red", "seen all round"),
    Choice("box_in", "The box went in", "the warm-up is counted too"),
)
AS_USUAL = Choice("", "As this box always is")
EXTRAS = (
    Choice("engine_oil", "Used engine oil", "not advised: smoke that can flash, metals, a box that bursts"),
    Choice("", "Nothing else"),
)
THEN = (
    Choice("slow_cool", "Cools shut", "in its pack, lid on"),
    Choice("open_air", "Opened, cools in air"),
    Choice("straight_to_bath", "Straight into the bath", "the work, hot from the box"),
)
DRAWN_THEN = (
    Choice("quench", "Straight into the bath"),
    Choice("air", "Cools in air"),
    Choice("with_box", "It stayed with the box", "and goes its own way from there"),
)
WRAPPING = (
    Choice("bare", "Bare"),
    Choice("wrapped", "Wrapped in foil"),
    Choice("repacked", "Packed again", "in spent charcoal"),
)
FLAMES = (
    Choice("", "Not noted"),
    Choice("rich", "Rich", "yellow and long, little scale"),
    Choice("lean", "Lean", "blue and sharp, scales the work"),
)
AGITATION = (
    Choice("still", "Held still"),
    Choice("mild", "Moved a little"),
    Choice("moderate", "Moved well"),
    Choice("strong", "Stirred hard"),
)
WAY_IN = (
    Choice("end", "End first", "upright"),
    Choice("edge", "Edge first"),
    Choice("flat", "Flat side first", "cools one side first and bows"),
    Choice("loose", "Any way it fell"),
    Choice("", "Not noted"),
)
HELD = (
    Choice("tongs", "In tongs", "their grip stays softer"),
    Choice("wire", "Hung on a wire"),
    Choice("basket", "In a basket"),
    Choice("dropped", "Let go"),
    Choice("", "Not noted"),
)
MOTION = (
    Choice("up_and_down", "Up and down"),
    Choice("side_to_side", "Side to side", "cools one face first"),
    Choice("round", "Round in circles"),
    Choice("", "Not noted"),
)
TEMPER_ADVICE = (
    "Near 720 °C (1330 °F) and above steel hardens afresh: that would be a reheat. "
    "A case is usually tempered at 120 to 205 °C (250 to 400 °F)."
)

Agitation = Annotated[str, Ask("In the bath", choices=AGITATION, folded=True)]
WayIn = Annotated[str, Ask("Went in", choices=WAY_IN, folded=True)]
Held = Annotated[str, Ask("Held", choices=HELD, folded=True)]
Motion = Annotated[str, Ask("Moved which way", choices=MOTION, folded=True)]
BathBefore = Annotated[
    float | None,
    Ask("Bath before", help="empty: as usual", quantity="temperature", range=BATH_TEMPERATURE_C, folded=True),
]
WorkWeight = Annotated[
    float | None,
    Ask(
        "Weight of all the work",
        help="a small bath warms by it",
        quantity="number",
        unit="kg",
        range=WORK_KG,
        folded=True,
    ),
]
BathAfter = Annotated[
    float | None, Ask("Bath after", quantity="temperature", range=BATH_TEMPERATURE_C, folded=True)
]
SecondsToBath = Annotated[
    float | None,
    Ask("From the fire to under", quantity="duration", unit="s", range=SECONDS_TO_BATH, folded=True),
]


class BoxInForm(TimedForm):
    """The box went into the fire; how it was packed is asked only where it was not as usual."""

    fill: Annotated[
        str,
        Ask("Pack this time", choices=(*FILLS, AS_USUAL), folded=True),
    ] = ""
    seal: Annotated[str, Ask("Closed this time with", choices=(*SEALS, AS_USUAL), folded=True)] = ""
    extra: Annotated[str, Ask("Anything else in the pack", choices=EXTRAS, folded=True)] = ""


class AtHeatForm(TimedForm):
    """The soak clock starts."""

    temperature_K: Annotated[
        Doubtful | None,
        Ask("Heat of the soak", quantity="temperature", range=SOAK_TEMPERATURE_C, kind="doubtful"),
    ] = None
    clock_from: Annotated[str, Ask("The clock starts because", choices=CLOCK_FROM)] = "at_heat"


class BoxOutForm(TimedForm):
    """The box came out, or the fire was put out."""

    then: Annotated[str, Ask("And then", choices=THEN)] = "slow_cool"
    bath_id: Annotated[int | None, Ask("Bath", help="if straight into it", dynamic=True, folded=True)] = None
    seconds_to_bath: SecondsToBath = None
    agitation: Agitation = "moderate"
    way_in: WayIn = ""
    held: Held = ""
    motion: Motion = ""
    bath_before_K: BathBefore = None
    bath_after_K: BathAfter = None
    work_kg: WorkWeight = None


class ReheatForm(TimedForm):
    """The work was heated for the quench."""

    at: BeganAt = None
    temperature_K: Annotated[
        Doubtful, Ask("Heat", quantity="temperature", range=REHEAT_TEMPERATURE_C, kind="doubtful")
    ]
    seconds: Annotated[float | None, Ask("At heat for", quantity="duration", unit="min", range=MINUTES)] = (
        None
    )
    wrapping: Annotated[
        str,
        Ask("The work was", choices=WRAPPING, help="Wrapped or packed again is the way for a thin case"),
    ] = "bare"
    flame: Annotated[
        str,
        Ask(
            "The flame was",
            choices=FLAMES,
            help="Bare work loses carbon in a lean flame; else its skin is taken to keep it.",
        ),
    ] = ""
    instrument_id: Annotated[int | None, Ask("Its heat was judged by", dynamic=True, folded=True)] = None


class QuenchForm(TimedForm):
    """The work went into the bath."""

    bath_id: Annotated[int, Ask("Bath", dynamic=True)]
    seconds_to_bath: SecondsToBath = None
    agitation: Agitation = "moderate"
    way_in: WayIn = ""
    held: Held = ""
    motion: Motion = ""
    bath_before_K: BathBefore = None
    bath_after_K: BathAfter = None
    work_kg: WorkWeight = None


class TemperForm(TimedForm):
    """The work was tempered."""

    at: BeganAt = None
    temperature_K: Annotated[
        Doubtful,
        Ask(
            "Heat",
            help=(
                "a case usually at 120 to 205 °C (250 to 400 °F); near 720 °C (1330 °F) steel hardens afresh"
            ),
            quantity="temperature",
            range=TEMPER_TEMPERATURE_C,
            advice=TEMPER_ADVICE,
            kind="doubtful",
        ),
    ]
    seconds: Annotated[float, Ask("For", quantity="duration", range=HOURS)]
    instrument_id: Annotated[int | None, Ask("Oven", dynamic=True)] = None


class DrawnForm(TimedForm):
    """One coupon or part left the box on its own."""

    then: Annotated[str, Ask("And then", choices=DRAWN_THEN)] = "quench"
    bath_id: Annotated[int | None, Ask("Bath", help="if straight into it", dynamic=True)] = None
    seconds: Annotated[
        float | None,
        Ask(
            "Or: so long after the soak clock began",
            help="if the time of day is not known",
            quantity="duration",
            range=HOURS,
            folded=True,
        ),
    ] = None
    seconds_to_bath: SecondsToBath = None
    agitation: Agitation = "moderate"
    way_in: WayIn = ""
    held: Held = ""
    motion: Motion = ""
    bath_before_K: BathBefore = None
    bath_after_K: BathAfter = None
    work_kg: WorkWeight = None


class SoakCorrectionForm(AtHeatForm):
    """A soak put right afterwards."""

    seconds: Annotated[
        Doubtful | None,
        Ask(
            "Time at heat",
            help="Only where the times of day are not known",
            quantity="duration",
            range=HOURS,
            kind="doubtful",
        ),
    ] = None


class BoxOutCorrectionForm(TimedForm):
    """When the box came out, and what became of it, put right."""

    then: Annotated[str, Ask("And then", choices=THEN[:2])] = "slow_cool"


class DrawnCorrectionForm(TimedForm):
    """When one piece left the box, put right."""

    seconds: Annotated[
        float | None,
        Ask("So long after the soak clock began", quantity="duration", range=HOURS),
    ] = None


class MeasuredForm(Form):
    """All coupons of the batch are measured: nothing more to ask."""


class GiveUpForm(Form):
    """A batch ends early."""

    why: Annotated[str, Ask("Why", help="what went wrong, in a few words", longest=200)]


STEP_FORMS: dict[str, type[TimedForm]] = {
    "box_in": BoxInForm,
    "at_heat": AtHeatForm,
    "box_out": BoxOutForm,
    "reheat": ReheatForm,
    "quench": QuenchForm,
    "temper": TemperForm,
    "drawn": DrawnForm,
}
