"""What a batch or a piece ran on: its settings in numbers, whether two are alike, how they are said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from webapp.services.batch_rows import BatchRows, aware
from webapp.services.showing import Showing, say_duration
from webapp.store.tables import Step

NEAR_K = 15.0  # as far as a good eye or a thermocouple in a small forge repeats itself; own choice
NEAR_SHARE = 0.15
"""How far two heats or times may lie apart and still count as the same setting; own choice."""


@dataclass(frozen=True)
class Settings:
    """What was done, in SI; None for what was not done or not noted."""

    box_id: int
    mix_id: int
    soak_K: float | None
    soak_s: float | None
    reheat_K: float | None
    reheat_s: float | None
    bath_id: int | None
    temper_K: float | None
    temper_s: float | None


def settings_of(rows: BatchRows, steps: Sequence[Step]) -> Settings:
    """Return the settings of a batch and of the steps that it, or a piece of it, went through."""
    by_kind = {step.kind: step for step in reversed(steps)}
    soak, reheat, temper = (by_kind.get(kind) for kind in ("soak", "reheat", "temper"))
    quench = by_kind.get("quench")
    return Settings(
        rows.batch.box_id,
        rows.batch.mix_id,
        soak.temperature_K if soak else None,
        soak_seconds(steps),
        reheat.temperature_K if reheat else None,
        reheat.seconds if reheat else None,
        quench.bath_id if quench else None,
        temper.temperature_K if temper else None,
        temper.seconds if temper else None,
    )


def soak_seconds(steps: Sequence[Step]) -> float | None:
    """Return how long a soak took: as noted, else from its clock to the box's coming out."""
    soak = next((step for step in steps if step.kind == "soak"), None)
    out = next((step for step in steps if step.kind in ("box_out", "drawn")), None)
    if soak is None or soak.seconds is not None:
        return soak.seconds if soak else None
    if soak.started_at is None or out is None or out.started_at is None:
        return None
    return (aware(out.started_at) - aware(soak.started_at)).total_seconds()


def alike(one: Settings, other: Settings) -> bool:
    """Return whether two settings are the same within what a shop can hold."""
    same = (one.box_id, one.mix_id, one.bath_id) == (other.box_id, other.mix_id, other.bath_id)
    heats = ((one.soak_K, other.soak_K), (one.reheat_K, other.reheat_K), (one.temper_K, other.temper_K))
    return same and all(_near_heat(*pair) for pair in heats) and _near_time(one.soak_s, other.soak_s)


def _near_heat(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= NEAR_K


def _near_time(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= NEAR_SHARE * max(one, other)


def say_settings(told: Settings, bath: str, showing: Showing) -> Iterator[str]:
    """Yield what was done, in its order."""
    if told.soak_s is not None:
        yield f"{say_duration(told.soak_s)} at {showing.temperature(told.soak_K)}"
    if told.reheat_K is not None:
        minutes = f", {say_duration(told.reheat_s)}" if told.reheat_s else ""
        yield f"reheat to {showing.temperature(told.reheat_K)}{minutes}"
    if bath:
        yield f"quench in {bath}"
    if told.temper_K is not None:
        hours = f", {say_duration(told.temper_s)}" if told.temper_s else ""
        yield f"temper at {showing.temperature(told.temper_K)}{hours}"
