"""Kept forecasts in a file beside the logbook, so that a start of the app does not cost a fit from nothing.

With them go the sketches of coolings (`model.cooling_sketch`), for which each start would make its cooling
tables anew.

The file may be thrown away at any time; one that is broken, foreign or of another model is not read.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from model import MODEL_VERSION
from model.cooling_sketch import sketches_to_keep, take_sketches
from model.inputs import LOCAL_INPUTS
from model.kept_forecasts import Forecasts, KeptForecasts

Array = NDArray[np.float64]

KEPT_FILE = "forecasts.npz"
MOST_NUMBERS = 8_000_000  # 64 MB, some thousand processes; what was not asked for longest is left out
UNREADABLE = (OSError, EOFError, ValueError, KeyError, TypeError, BadZipFile)


def keep_in_file(kept: KeptForecasts, file: Path) -> None:
    """Write what is kept, whole or not at all; a folder that takes no file is left as it is."""
    works, blocks, room = [], [], MOST_NUMBERS
    for mark, one in kept.forecasts.newest_first():
        own = np.concatenate([one.inputs, *one.values.values()], axis=1)
        if (room := room - own.size) < 0:
            break
        works.append((mark, len(own), [(kind, values.shape[1]) for kind, values in one.values.items()]))
        blocks.append(own.ravel())
    coolings, sketches = sketches_to_keep()
    told = {"model": MODEL_VERSION, "works": works, "coolings": coolings}
    index = json.dumps(told).encode()
    fresh = file.with_suffix(".fresh.npz")
    try:
        with fresh.open("wb") as whole:
            numbers = np.concatenate([[], *blocks])
            np.savez(
                whole,
                index=np.frombuffer(index, dtype=np.uint8),
                numbers=numbers,
                sketches=sketches,
            )
        fresh.replace(file)
    except OSError:
        return


def take_from_file(kept: KeptForecasts, file: Path) -> None:
    """Add what a file keeps, all of it or, where it cannot be read, nothing."""
    try:
        with file.open("rb") as whole, np.load(whole, allow_pickle=False) as stored:
            told = json.loads(stored["index"].tobytes())
            numbers = np.asarray(stored["numbers"], dtype=float)
            sketches = np.asarray(stored["sketches"], dtype=np.float32)
        if told["model"] != MODEL_VERSION:
            return
        found = _forecasts(told["works"], numbers)
        take_sketches(told["coolings"], sketches)
    except UNREADABLE:
        return
    for mark, one in reversed(found):
        kept.forecasts.put(mark, one)


def _forecasts(works: list[Any], numbers: Array) -> list[tuple[str, Forecasts]]:
    """Return the forecasts that an index cuts a row of numbers into; ValueError where it does not fit."""
    found, begin = [], 0
    for mark, members, kinds in works:
        edges = np.cumsum([len(LOCAL_INPUTS), *(columns for _, columns in kinds)])
        own = numbers[begin : begin + members * edges[-1]].reshape(members, edges[-1])
        inputs, *values, _ = np.split(own, edges, axis=1)
        named = {kind: one.copy() for (kind, _), one in zip(kinds, values, strict=True)}
        found.append((str(mark), Forecasts(inputs.copy(), named)))
        begin += own.size
    if begin != len(numbers):
        raise ValueError("an index that is not of these numbers")
    return found
