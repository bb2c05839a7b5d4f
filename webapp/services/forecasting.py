"""The forecast of the JSON interface: input to process, process to forecast, forecast to answer."""

from __future__ import annotations

from dataclasses import fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model import MODEL_VERSION
from model.belief import Constants, ShopBelief, handbook_belief
from model.conversion import ROCKWELL_C_RANGE, rockwell_c_continued
from model.errors import ModelError
from model.forecast import Forecast, forecast
from model.hardening import Hardened
from model.traverse import CaseDepth
from model.units import MM_m
from webapp.forms.forecast_input import ForecastInput
from webapp.forms.forecast_output import (
    BandAnswer,
    CaseDepthAnswer,
    ConstantAnswer,
    ConstantsAnswer,
    DepthName,
    DepthStatus,
    ForecastAnswer,
    StateAnswer,
    WarningAnswer,
)
from webapp.forms.json_error import ErrorItem, Refused, errors_of_model
from webapp.services.forecast_request import process_of

Array = NDArray[np.float64]

BAND: Final = (0.05, 0.95)
BY_EYE: Final = (
    "The books' constants are used, and the heat is taken as judged by eye, which is the widest doubt "
    "of all; an atmosphere or a surface that was stated is taken as stated."
)
BY_FIT: Final = (
    "What fit {fit} learnt from {coupons} is used for the pack and the eye; the mix and the way of telling "
    "heat are not named here, so those are as in the books, and the heat is taken as judged by eye."
)
NO_LOGBOOK: Final = ErrorItem(
    path="fit",
    what="a fit belongs to a logbook, and none is open here",
    advice="Leave it out, or ask POST /api/forecast of the running app.",
)
_DEPTHS: Final[tuple[DepthName, ...]] = ("HV550", "HRC50", "core50", "total", "rim")
_UNITS: Final = {
    "_K": "K", "_m_per_s": "m/s", "_J_per_mol": "J/mol", "_s": "s", "_wt": "wt%", "_HV": "HV",
}  # fmt: skip


def answer_forecast(wanted: ForecastInput, learnt: ShopBelief | None = None) -> ForecastAnswer:
    """Forecast what an input describes; raises Refused for what cannot be.

    `learnt` is what the fit that it asks for believes; without one the handbook is used.
    """
    if wanted.fit is not None and learnt is None:
        raise Refused([NO_LOGBOOK])
    try:
        process, assumed = process_of(wanted)
        belief = learnt or handbook_belief()
        constants = belief.constants(process, wanted.draws, wanted.seed)
        middle = forecast(process, belief.point(process))
        drawn = forecast(process, constants)
    except ModelError as problem:
        raise Refused(errors_of_model(problem)) from None
    return _answer(middle, drawn, [*assumed, _source_words(wanted, belief)], _constants(constants, wanted))


def _source_words(wanted: ForecastInput, belief: ShopBelief) -> str:
    """Return what the constants rest on."""
    if wanted.fit is None:
        return BY_EYE
    counted = "1 coupon" if belief.coupons == 1 else f"{belief.coupons} coupons"
    return BY_FIT.format(fit=wanted.fit, coupons=counted)


def _answer(
    middle: Forecast, drawn: Forecast, assumed: list[str], constants: ConstantsAnswer
) -> ForecastAnswer:
    """Write the middle's profiles with the draws' bands."""
    hardened = middle.hardened
    return ForecastAnswer(
        model_version=MODEL_VERSION,
        depth_mm=_listed(middle.depth_m / MM_m),
        carbon_wt=_listed(middle.carbon_wt[0]),
        carbon_wt_90=_band(drawn.carbon_wt),
        carbon_in_austenite_wt=_first(middle.carbon_in_austenite_wt),
        retained_austenite=_share(hardened, "retained_austenite"),
        martensite=_share(hardened, "martensite"),
        pearlite_bainite_ferrite=_share(hardened, "pearlite_bainite_ferrite"),
        ferrite=_share(hardened, "ferrite"),
        pearlite=_share(hardened, "pearlite"),
        bainite=_share(hardened, "bainite"),
        carbide=_share(hardened, "carbide"),
        hardness_as_quenched_HV=_first(middle.hardness_as_quenched_HV),
        hardness_tempered_HV=_first(middle.hardness_tempered_HV),
        hardness_HV_90=None if drawn.hardness_HV is None else _band(drawn.hardness_HV),
        film_seconds=None if hardened is None else float(hardened.film_s[0]),
        surface_HV=_number(middle.surface_HV),
        surface_HRC=_rockwell(middle.surface_HV),
        surface_HRC_90=_ends(_continued(drawn.surface_HV)),
        reading_HRC=_on_scale(_number(middle.reading_HRC)),
        reading_sd_HRC=_number(middle.reading_sd_HRC),
        reading_HRC_90=_ends(drawn.reading_HRC),
        core_HV=_number(middle.core_HV),
        core_HRC=_rockwell(middle.core_HV),
        case_depth_mm={name: _depth(middle.case_depth[name], drawn.case_depth[name]) for name in _DEPTHS},
        carbon_gain_g_per_m2=float(middle.carbon_gain_kg_per_m2[0]) * 1e3,
        states=_states(middle),
        warnings=[WarningAnswer(code=w.code, path=w.path, text=w.text) for w in drawn.warnings],
        assumptions=[*assumed, *middle.assumptions],
        constants=constants,
    )


def _listed(values: Array) -> list[float]:
    return [float(value) for value in values]


def _share(hardened: Hardened | None, name: str) -> list[float] | None:
    """Return a constituent's share at the middle of what is believed."""
    return None if hardened is None else _listed(getattr(hardened, name)[0])


def _first(values: Array | None) -> list[float] | None:
    return None if values is None else _listed(values[0])


def _number(values: Array | None) -> float | None:
    return None if values is None else float(values[0])


def _band(values: Array) -> BandAnswer:
    low, high = np.quantile(values, BAND, axis=0)
    return BandAnswer(low=_listed(low), high=_listed(high))


def _on_scale(hardness_HRC: float | None) -> float | None:
    """Return a Rockwell C number, or None off the scale."""
    low, high = ROCKWELL_C_RANGE
    return hardness_HRC if hardness_HRC is not None and low <= hardness_HRC <= high else None


def _continued(hardness_HV: Array | None) -> Array | None:
    return None if hardness_HV is None else rockwell_c_continued(hardness_HV)


def _rockwell(hardness_HV: Array | None) -> float | None:
    return _on_scale(_number(_continued(hardness_HV)))


def _ends(hardness_HRC: Array | None) -> list[float | None] | None:
    if hardness_HRC is None:
        return None
    return [_on_scale(float(end)) for end in np.quantile(hardness_HRC, BAND)]


def _depth(middle: CaseDepth | None, drawn: CaseDepth | None) -> CaseDepthAnswer:
    """Write a case depth; a draw without a case counts as 0, one with nothing else as the whole depth."""
    if middle is None or drawn is None:
        return CaseDepthAnswer(value=None, low=None, high=None, status="not_modelled")
    low, high = (float(end) / MM_m for end in np.quantile(drawn.depth_m, BAND))
    value = float(middle.depth_m[0]) / MM_m if middle.found[0] else None
    status: DepthStatus = "none"
    if middle.found[0] or middle.whole_section[0]:
        status = "found" if middle.found[0] else "whole_section"
    return CaseDepthAnswer(value=value, low=low, high=high, status=status)


def _states(middle: Forecast) -> list[StateAnswer]:
    return [
        StateAnswer(
            stage=place,
            carbon_wt=_listed(state.carbon_wt[0]),
            carbon_gain_g_per_m2=float(state.gained_kg_per_m2[0]) * 1e3,
        )
        for place, state in enumerate(middle.states)
    ]


def _constants(constants: Constants, wanted: ForecastInput) -> ConstantsAnswer:
    """Echo what the forecast was made with."""
    values = {}
    for field in fields(constants):
        low, median, high = np.quantile(getattr(constants, field.name), (BAND[0], 0.5, BAND[1]))
        unit = next((unit for end, unit in _UNITS.items() if field.name.endswith(end)), "")
        values[field.name] = ConstantAnswer(median=float(median), low=float(low), high=float(high), unit=unit)
    return ConstantsAnswer(
        source="handbook" if wanted.fit is None else "logbook",
        fit=wanted.fit,
        draws=wanted.draws,
        seed=wanted.seed,
        values=values,
    )
