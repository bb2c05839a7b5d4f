"""`casewright forecast FILE`: the JSON interface without a server and without a logbook."""

from __future__ import annotations

import sys
from pathlib import Path

from webapp.forms.forecast_input import read_forecast_input
from webapp.forms.json_error import ErrorBody, ErrorItem, Refused, json_of
from webapp.services.forecasting import answer_forecast

REFUSED = 2


def run_forecast(path: str) -> int:
    """Read a file, or standard input for `-`; write the forecast, or the errors on standard error.

    Returns 0, or 2 where the interface would answer 422.
    """
    try:
        answer = answer_forecast(read_forecast_input(_read(path)))
    except Refused as refused:
        sys.stderr.write(json_of(refused.body, indent=2) + "\n")
        return REFUSED
    except OSError as problem:
        item = ErrorItem(
            path="", what=f"cannot read {path}: {problem.strerror}", advice="Check the file's name."
        )
        sys.stderr.write(json_of(ErrorBody(errors=[item]), indent=2) + "\n")
        return REFUSED
    sys.stdout.write(json_of(answer, indent=2) + "\n")
    return 0


def _read(path: str) -> bytes:
    return sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
