"""One piece of steel over draws of the constants, as told or under another version of what happened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief
from model.cause_changes import Version, is_by_eye, is_rockwell
from model.errors import ModelError
from model.inputs import bias_terms, links
from model.look import Look
from model.priors import prior_for
from model.process import Process
from model.readings import Observation
from model.sight import Prediction, Reading, Seen

Array = NDArray[np.float64]


@dataclass(frozen=True)
class DrawnPiece:
    """What is seen of a piece under one version, over draws.

    seen : by the process as it was told; bias : of each tester, (draws,) in its own unit
    """

    version: Version
    seen: Mapping[Process, Seen]
    bias: Mapping[str, Array]

    def shows(self, process: Process, reading: Reading) -> Prediction:
        """Return what a reading of this kind would show, (draws, points)."""
        found = reading.predicted(self.seen[process])
        key, share = reading.tester
        value = found.value.copy()
        if is_rockwell(reading):
            value -= self.version.thin_case_doubts * found.doubt
        if key:
            off = self.version.tester_sds * prior_for(f"tester/{key}").sd * (key == self.version.tester)
            value += share * (self.bias.get(key, np.zeros(len(value))) + off)[:, None]
        if is_by_eye(reading):
            value *= 1.0 + self.version.depth_share
        return Prediction(value, found.doubt)

    def log_likelihood(self, observations: Sequence[Observation]) -> Array:
        """Return the log likelihood of all readings together, (draws,)."""
        total = np.zeros(1)
        for observation in observations:
            reading = cast(Reading, observation.reading)
            found = self.shows(observation.process, reading)
            total = total + reading.likelihood(found.value, found.doubt).log.sum(axis=1)
        return total


def draw_piece(
    observations: Sequence[Observation],
    versions: Sequence[Version],
    belief: ShopBelief,
    look: Look,
    draws: int,
    seed: int = 0,
) -> list[DrawnPiece]:
    """Return a piece under each version, from the same draws; versions the model refuses are left out.

    observations : all readings of the piece, of one process or of several that are its cuts
    versions : what may have happened; belief : of the shop; look : what can be seen of processes
    draws : 1 or more; seed : any integer
    """
    told = tuple(dict.fromkeys(observation.process for observation in observations))
    testers = tuple(dict.fromkeys(key for one in observations if (key := _tester(one))))
    drawn = {process: _drawn(process, belief, testers, draws, seed) for process in told}
    jobs: dict[tuple[Process, tuple[float, ...]], Array] = {}
    for version in versions:
        for process in told:
            changed = version.of(process)
            if changed is not None:
                inputs = _drawn(changed, belief, (), draws, seed)[0]
                jobs[changed, version.shifts] = inputs + np.array(version.shifts)
    seen = _look_at(jobs, look)
    bias = {key: drawn[told[0]][1][:, place] for place, key in enumerate(testers)}
    pieces = []
    for version in versions:
        found = {process: _seen(seen, process, version) for process in told}
        known = {process: one for process, one in found.items() if one is not None}
        if len(known) == len(told):
            pieces.append(DrawnPiece(version, known, bias))
    return pieces


def _tester(observation: Observation) -> str:
    return cast(Reading, observation.reading).tester[0]


def _drawn(
    process: Process, belief: ShopBelief, testers: tuple[str, ...], draws: int, seed: int
) -> tuple[Array, Array]:
    """Return local inputs and testers' bias, drawn together."""
    linked = links(process)
    names = linked.names_in_turn()
    biases = [dict(bias_terms(key, 1.0, process.keys)) for key in testers]
    steps = tuple(dict.fromkeys(name for terms in biases for name in terms))
    coordinates = belief.drawn((*names, *steps), draws, seed, linked.scatter)
    inputs = linked.offset + coordinates[:, : len(names)] @ linked.matrix(names).T
    sds = np.array([[terms.get(name, 0.0) for name in steps] for terms in biases]).reshape(
        len(biases), len(steps)
    )
    return inputs, coordinates[:, len(names) :] @ sds.T


def _look_at(
    jobs: Mapping[tuple[Process, tuple[float, ...]], Array], look: Look
) -> dict[tuple[Process, tuple[float, ...]], Seen]:
    """Look at all at once; if the model refuses one of them, at each alone."""
    if not jobs:
        return {}
    try:
        found = look([process for process, _ in jobs], np.stack(list(jobs.values())))
        return dict(zip(jobs, found, strict=True))
    except ModelError:
        if len(jobs) == 1:
            return {}
    alone = (_look_at({job: inputs}, look) for job, inputs in jobs.items())
    return {job: one for found_alone in alone for job, one in found_alone.items()}


def _seen(
    seen: Mapping[tuple[Process, tuple[float, ...]], Seen], process: Process, version: Version
) -> Seen | None:
    changed = version.of(process)
    found = seen.get((changed, version.shifts)) if changed is not None else None
    if found is None or not version.softens_after:
        return found
    return replace(found, hardness_HV=found.tempered_HV)
