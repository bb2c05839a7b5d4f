"""The fit itself, as the compute worker runs it: plain values in, plain values out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from model.belief import ShopBelief
from model.calibration import fit
from model.evidence import InstrumentCheck
from model.readings import Observation


@dataclass(frozen=True)
class FitOutcome:
    """A belief and what is to be said of it, ready for the store."""

    belief: dict[str, Any]
    summary: dict[str, Any]


def run_fit(
    observations: Sequence[Observation],
    checks: Sequence[InstrumentCheck],
    previous: Mapping[str, Any] | None,
) -> FitOutcome:
    """Fit the shop's constants; `previous` is a stored belief to begin from."""
    found = fit(observations, checks, previous=ShopBelief.from_dict(previous) if previous else None)
    summary = {
        "used": list(found.used_keys),
        "left_out": {left.key: left.reason for left in found.left_out},
        "predictions": [asdict(row) for row in found.predictions],
        "fires": [asdict(row) for row in found.fires],
        "settled": found.diagnostics.settled,
        "diagnostics": asdict(found.diagnostics),
    }
    return FitOutcome(found.belief.to_dict(), summary)
