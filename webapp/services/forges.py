"""The forge and the quench baths: what is kept of them."""

from __future__ import annotations

from typing import Any

from webapp.forms.numbers import amount
from webapp.forms.shop import FUELS, HOT_ENDS, MEDIA, BathForm, ForgeForm
from webapp.services.sheets import Line, SheetKind
from webapp.services.shop_cautions import cautions_named
from webapp.services.showing import Showing
from webapp.services.words import label_of, length_text, sizes_text
from webapp.store.tables import Bath, Forge

LITRE_m3 = 1e-3
USUAL_BRINE_PERCENT = 8.0
# Keep bulk oil under about this: 28 K under the lowest usual flash point, 150 °C, leaves a wide margin.
WARM_OIL_K = 353.15
WARM_WATER_K = 313.15


def forge_fields(form: ForgeForm) -> dict[str, Any]:
    """Return the row's fields of a forge form."""
    return form.model_dump()


def forge_values(forge: Forge) -> dict[str, Any]:
    """Return a forge's fields as its form takes them."""
    return {name: getattr(forge, name) for name in ForgeForm.model_fields}


def forge_lines(forge: Forge, showing: Showing) -> tuple[Line, ...]:
    """Return what a forge's card says."""
    sizes = (forge.inside_length_m, forge.inside_width_m, forge.inside_height_m)
    jet = (Line("Jet", length_text(showing, forge.jet_m)),) if forge.jet_m is not None else ()
    return (
        Line("Fuel", label_of(FUELS, forge.fuel)),
        Line("Inside", sizes_text(showing, sizes)),
        Line("Hottest at", label_of(HOT_ENDS, forge.hot_end).lower() if forge.hot_end != "even" else "even"),
        *jet,
    )


def bath_fields(form: BathForm) -> dict[str, Any]:
    """Return the row's fields of a bath form; brine takes the usual salt if none is given."""
    fields = form.model_dump()
    litres = fields.pop("volume_litres")
    fields["volume_m3"] = None if litres is None else litres * LITRE_m3
    if form.medium == "brine" and form.salt_percent is None:
        fields["salt_percent"] = USUAL_BRINE_PERCENT
    return fields


def bath_values(bath: Bath) -> dict[str, Any]:
    """Return a bath's fields as its form takes them."""
    own = {name: getattr(bath, name) for name in BathForm.model_fields if name != "volume_litres"}
    return {**own, "volume_litres": None if bath.volume_m3 is None else bath.volume_m3 / LITRE_m3}


def bath_lines(bath: Bath, showing: Showing) -> tuple[Line, ...]:
    """Return what a bath's card says."""
    medium = label_of(MEDIA, bath.medium)
    if bath.medium == "brine" and bath.salt_percent:
        medium += f", {amount(bath.salt_percent, '%', 'percent')} % salt"
    lines = [Line("In it", medium), Line("Usually at", showing.temperature(bath.temperature_K))]
    if bath.volume_m3 is not None:
        lines.append(Line("Volume", f"{amount(bath.volume_m3 / LITRE_m3, '', 'number')} litres"))
    return tuple(lines)


def bath_warnings(bath: Bath) -> tuple[str, ...]:
    """Return what a bath's card warns of."""
    if bath.medium == "oil" and bath.temperature_K > WARM_OIL_K:
        return ("Hot for an oil bath: stay at least 28 °C (50 °F) under its flash point.",)
    if bath.medium in ("water", "brine") and bath.temperature_K > WARM_WATER_K:
        return ("Warm for a water bath: it bites far less, and leaves soft spots.",)
    if bath.medium == "brine":
        return ("Bites hard: thin work and sharp corners may crack.",)
    if bath.medium == "air":
        return ("Air does not harden the steels of this logbook through.",)
    return ()


FORGES = SheetKind(
    key="forges",
    title="Forge",
    one="forge",
    teach="Its inside says which boxes fit with room for the flame; its hot end says where to put them.",
    row=Forge,
    form=ForgeForm,
    fields_of=forge_fields,
    values_of=forge_values,
    lines_of=forge_lines,
    defaults={"fuel": "propane"},
    cautions=cautions_named("carbon_monoxide", "opening_hot"),
)
BATHS = SheetKind(
    key="baths",
    title="Quench baths",
    one="bath",
    teach="How hard the bath bites decides whether the skin gets hard, and whether it cracks.",
    row=Bath,
    form=BathForm,
    fields_of=bath_fields,
    values_of=bath_values,
    lines_of=bath_lines,
    defaults={"medium": "water"},
    warnings_of=bath_warnings,
    cautions=cautions_named("oil_flash", "water_in_oil", "brine", "steam_and_shards"),
)
