"""Pack mixes: how much carbonate a substance amounts to, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from model.box_course import USUAL_SOAK_K, warm_up
from model.box_fill import Bed
from model.energizers import SUBSTANCE_PERCENT, carbonate_percent_of, safety_stop, substances
from model.errors import NotPossible
from model.packed_box import PackedBox
from model.units import INCH_m, MINUTE_s
from webapp.forms.ask import Choice
from webapp.forms.numbers import amount
from webapp.forms.shop import CHARCOALS, MixForm
from webapp.services.box_rows import bed_of, with_water
from webapp.services.sheets import Line, NotAccepted, SheetKind
from webapp.services.shop_cautions import cautions_named
from webapp.services.showing import Showing, say_duration
from webapp.services.words import label_of, length_text, weigh
from webapp.store.tables import Mix

PLAIN = "none"
OTHER = "something else"
NOT_KEPT = "This mix is not kept, and no plan is made with it."
HARDLY_LIVELY_PERCENT = 2.0
DRY_ENOUGH_PERCENT = 8.0
USUAL_BOX = PackedBox("square", 37.5e-3)


def substance_choices() -> dict[str, tuple[Choice, ...]]:
    """Return what may be stirred in, with its share of carbonate, and the way to ask about anything else."""
    known = tuple(
        Choice(substance.name, _title(substance.name), _share_words(substance.carbonate_share))
        for substance in substances()
    )
    return {"substance": (*known, Choice(OTHER, "Something else", "say what it is, and ask"))}


def carbonate_sum(substance: str, percent: float) -> str:
    """Return how much carbonate a mix holds, with the sum that gives it."""
    carbonate = carbonate_percent_of(substance, percent)
    share = carbonate_percent_of(substance, 1.0)
    if percent <= 0 or share <= 0:
        return "no carbonate"
    if share == 1.0:
        return f"{_percent(carbonate)} carbonate by weight"
    return (
        f"{_percent(carbonate)} carbonate by weight: {_percent(percent)} {substance}, "
        f"of which {_percent(100 * share)} is carbonate"
    )


def mix_fields(form: MixForm) -> dict[str, Any]:
    """Return the row's fields of a mix form; raises `NotAccepted` for what must not or cannot be used."""
    refuse_poison(form)
    substance = form.substance
    if substance == OTHER:
        substance = named_substance(form.other_substance)
    percent = 0.0 if substance == PLAIN else form.substance_percent
    _check_amount(form, substance)
    return {
        "name": form.name,
        "charcoal": form.charcoal,
        "grain_m": form.grain_m,
        "substance": substance,
        "substance_percent": percent,
        "fresh_share": form.fresh_percent / 100.0,
        "litre_kg": form.litre_kg,
        "water_percent": form.water_percent,
        "note": form.note,
    }


def refuse_poison(form: MixForm) -> None:
    """Stop the page if anything typed names a poison: no forecast is made with it."""
    for name in ("other_substance", "substance", "name", "note"):
        stop = safety_stop(getattr(form, name))
        if stop:
            raise NotAccepted({name: NOT_KEPT}, stop=stop.removeprefix("Stop: "))


def named_substance(typed: str) -> str:
    """Return a typed substance by its name in the list; raises `NotAccepted` if it is not there."""
    if not typed:
        raise NotAccepted({"other_substance": "Type what it says on the bag."})
    try:
        carbonate_percent_of(typed, 0.0)
    except NotPossible as problem:
        what = problem.what[0].upper() + problem.what[1:]
        raise NotAccepted({"other_substance": f"{what}. {problem.advice}"}) from None
    return " ".join(typed.casefold().split())


def _check_amount(form: MixForm, substance: str) -> None:
    known = {choice.value for choice in substance_choices()["substance"]}
    if substance not in known:
        raise NotAccepted({"substance": "That is not in the list. Pick one of the choices shown."})
    if substance != PLAIN and form.substance_percent <= 0:
        raise NotAccepted({"substance_percent": f"How much {substance}? Or pick none, for plain charcoal."})
    if form.substance_percent > SUBSTANCE_PERCENT.high:
        raise NotAccepted({"substance_percent": SUBSTANCE_PERCENT.advice})


def mix_lines(mix: Mix, showing: Showing) -> tuple[Line, ...]:
    """Return what a mix's card says."""
    lines = [
        Line("Charcoal", f"{label_of(CHARCOALS, mix.charcoal)}, about {length_text(showing, mix.grain_m)}"),
        Line("Carbonate", carbonate_sum(mix.substance, mix.substance_percent)),
    ]
    if mix.fresh_share < 1.0:
        lines.append(Line("Fresh pack", f"{_percent(100 * mix.fresh_share)} of it"))
    if mix.litre_kg is not None:
        lines.append(Line("A litre weighs", weigh(mix.litre_kg, showing)))
    if mix.water_percent is not None:
        lines.append(Line("Water", f"{_percent(mix.water_percent)} by weight"))
    return tuple(lines)


def mix_warnings(mix: Mix) -> tuple[str, ...]:
    """Return what a card warns of: plain charcoal, and what the substance itself is known for."""
    carbonate = carbonate_percent_of(mix.substance, mix.substance_percent)
    found = []
    if carbonate < HARDLY_LIVELY_PERCENT:
        found.append("Next to no carbonate: slow and uneven. 5 % soda ash by weight makes it far livelier.")
    note = next((s.note for s in substances() if s.name == mix.substance and s.carbonate_share), "")
    if note:
        found.append(f"{_title(mix.substance)}: {note}.")
    if mix.water_percent is not None and mix.water_percent > DRY_ENOUGH_PERCENT:
        found.append(_damp_words(mix))
    return tuple(found)


def _damp_words(mix: Mix) -> str:
    """Return what the water of a damp mix does, in minutes of a usual box's warm-up."""
    damp = bed_of(mix)
    wet, dry = (
        warm_up(replace(USUAL_BOX, bed=bed), USUAL_SOAK_K).at_heat_s
        for bed in (damp, with_water(damp, Bed().water))
    )
    later = say_duration(max(wet - dry, MINUTE_s))
    return (
        f"Damp: it spits steam, and a box of {2e3 * USUAL_BOX.half_m:.0f} mm "
        f"({2.0 * USUAL_BOX.half_m / INCH_m:.1f} in) takes about {later} longer to warm. Dry it first."
    )


def mix_values(mix: Mix) -> dict[str, Any]:
    """Return a mix's fields as its form takes them."""
    names = (
        "name", "charcoal", "grain_m", "substance", "substance_percent", "litre_kg", "water_percent", "note",
    )  # fmt: skip
    own = {name: getattr(mix, name) for name in names}
    return {**own, "fresh_percent": 100.0 * mix.fresh_share}


def _title(name: str) -> str:
    return "None: plain charcoal" if name == PLAIN else name[0].upper() + name[1:]


def _share_words(share: float) -> str:
    if not share:
        return "slow and uneven"
    return "all of it carbonate" if share == 1.0 else f"{100 * share:.0f} % of it is carbonate"


def _percent(value: float) -> str:
    return f"{amount(round(value, 1), '%', 'percent')} %"


MIXES = SheetKind(
    key="mixes",
    title="Pack mixes",
    one="pack mix",
    teach=(
        "Charcoal carries the carbon; a little carbonate makes it lively. It counts by its carbonate: "
        "crystals and baking soda hold less than soda ash."
    ),
    row=Mix,
    form=MixForm,
    fields_of=mix_fields,
    values_of=mix_values,
    lines_of=mix_lines,
    defaults={"charcoal": "lump", "substance": "soda ash", "substance_percent": 5.0},
    choices_of=lambda _session: substance_choices(),
    warnings_of=mix_warnings,
    cautions=cautions_named("barium", "cyanide", "soda", "spent_lime"),
)
