"""The fit itself, as the compute worker runs it: plain values in, plain values out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from model.argument_columns import Sides
from model.arguments import argue
from model.belief import ShopBelief
from model.calibration import FitResult, fit
from model.evidence import Check
from model.kept_forecasts import KeptForecasts
from model.piecework import Piecework, in_turn
from model.process import Process
from model.readings import Observation
from webapp.services.argument_list import OF_PACK
from webapp.services.course_readouts import course_readouts
from webapp.services.kept_file import keep_in_file, take_from_file
from webapp.services.readouts import readouts
from webapp.services.rule_readouts import rule_readouts
from webapp.side_by_side import side_by_side

# What this process has forecast for its fits: one more coupon costs hardly more than its own forecasts.
# The file beside the logbook outlives the process; without it the next fit takes some seconds more.
_KEPT = KeptForecasts()


@dataclass(frozen=True)
class FitOutcome:
    """A belief and what is to be said of it, ready for the store."""

    belief: dict[str, Any]
    summary: dict[str, Any]


def fit_again(
    observations: Sequence[Observation],
    checks: Sequence[Check],
    previous: ShopBelief | None,
    jobs: Sequence[Process] = (),
    sides: Sides | None = None,
    careful: bool = False,
    file: Path | None = None,
) -> FitOutcome:
    """Fit in the compute worker, with what it forecast for earlier fits, or one before it kept in a file."""
    if file is not None and not _KEPT.made():
        take_from_file(_KEPT, file)
    made = _KEPT.made()
    outcome = run_fit(observations, checks, previous, jobs, sides, _KEPT, careful, side_by_side)
    if file is not None and _KEPT.made() != made:
        keep_in_file(_KEPT, file)
    return outcome


def run_fit(
    observations: Sequence[Observation],
    checks: Sequence[Check],
    previous: ShopBelief | None,
    jobs: Sequence[Process] = (),
    sides: Sides | None = None,
    kept: KeptForecasts | None = None,
    careful: bool = False,
    piecework: Piecework = in_turn,
) -> FitOutcome:
    """Fit the shop's constants; `previous` is the belief to begin from.

    `jobs` are standard jobs on what the shop has, for the readouts; `sides` of the arguments, by reading;
    `kept` are forecasts of earlier fits; `careful` asks for the slower sums too;
    `piecework` is how forecasts are worked through, which changes the time taken and not the answer.
    """
    found = fit(observations, checks, previous=previous, kept=kept, careful=careful, piecework=piecework)
    taught = set(found.used_keys)
    used = [observation for observation in observations if observation.key in taught]
    summary = {
        "coupons": found.belief.coupons,
        "used": list(found.used_keys),
        "left_out": {left.key: left.reason for left in found.left_out},
        "predictions": _predictions(found),
        "fires": [asdict(row) for row in found.fires],
        "drifts": [asdict(row) for row in found.drifts],
        "careful": careful,
        "settled": found.diagnostics.settled,
        "diagnostics": asdict(found.diagnostics),
        "argued": asdict(argue(found.evidence, found.fitted, sides or {}, OF_PACK)),
        "rules": rule_readouts(used),
        "course": course_readouts(used, found.course, jobs),
        **readouts(used, found.belief, jobs),
    }
    return FitOutcome(found.belief.to_dict(), summary)


def _predictions(found: FitResult) -> list[dict[str, Any]]:
    """Return each value beside its prediction; an open end (a file that only skates) is None."""
    return [
        {name: _finite_or_none(value) for name, value in asdict(row).items()} for row in found.predictions
    ]


def _finite_or_none(value: Any) -> Any:
    return None if isinstance(value, float) and not isfinite(value) else value
