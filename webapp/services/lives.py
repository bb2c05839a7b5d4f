"""All that a piece has been through: the batches it came from, its own batch, and what put it right since."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby
from typing import Any

from model.dated_changes import Loosened
from model.process import Process
from model.process import Step as ProcessStep
from webapp.services.batch_rows import BatchRows, aware, rework_steps, row_id
from webapp.services.dated_changes import before_rework
from webapp.services.processes import (
    NotYet,
    process_at_reading,
    process_of_item,
    process_step,
    was_tempered_so,
)
from webapp.store.tables import Bar, Bath, Item, Step

GONE = NotYet("the batch that it came from was removed")


@dataclass(frozen=True)
class Life:
    """What was done to put a piece right once, and the keys of its bath and oven; blank as before.

    `loosened` is what was changed of baths and ovens between its batch and then.
    """

    steps: tuple[ProcessStep, ...]
    bath: str
    oven: str
    loosened: tuple[Loosened, ...]


@dataclass(frozen=True)
class Story:
    """A piece's story: what came before its batch, its batch, and every life since."""

    before: tuple[ProcessStep, ...]
    first: Process
    later: tuple[Life, ...]

    def whole(self) -> Process:
        """Return everything that was done so far."""
        return self.until(1 + len(self.later))

    def until(self, life: int) -> Process:
        """Return what was done up to the end of a life."""
        keys, steps = self.first.keys, [*self.before, *self.first.steps]
        for made in self.later[: life - 1]:
            keys = replace(keys, bath=made.bath or keys.bath, oven=made.oven or keys.oven)
            keys = replace(keys, loosened=(*self.first.keys.loosened, *made.loosened))
            steps += made.steps
        return replace(self.first, steps=tuple(steps), keys=keys)

    def since(self, life: int) -> int:
        """Return how many steps were done before a life."""
        lives = [self.first.steps, *(made.steps for made in self.later)]
        return len(self.before) + sum(len(steps) for steps in lives[: life - 1])

    def at_reading(self, after: str, life: int) -> Process:
        """Return the story cut off where a reading was taken."""
        process, first = self.until(life), self.since(life)
        part = process_at_reading(replace(process, steps=process.steps[first:]), after)
        return replace(process, steps=(*process.steps[:first], *part.steps))

    def life(self, life: int) -> Process:
        """Return what was done in one life only."""
        process = self.until(life)
        return replace(process, steps=process.steps[self.since(life) :])


class ToldStory:
    """A story as its readings ask it, who often ask the same: what it was at each is made once."""

    def __init__(self, story: Story) -> None:
        """Take the story that is asked."""
        self._story = story
        self._at_readings: dict[tuple[Any, ...], Process] = {}
        self._tempered: dict[tuple[str, int], bool] = {}

    def at_reading(self, after: str, life: int, loosened: tuple[Loosened, ...]) -> Process:
        """Return the story up to where a reading was taken, with what was loosened of its tester."""
        asked = (after, life, loosened)
        if asked not in self._at_readings:
            process = self._story.at_reading(after, life)
            if loosened:
                keys = replace(process.keys, loosened=(*process.keys.loosened, *loosened))
                process = replace(process, keys=keys)
            self._at_readings[asked] = process
        return self._at_readings[asked]

    def was_tempered_so(self, after: str, life: int) -> bool:
        """Return whether the tempers of a life that a reading came after are all noted."""
        asked = (after, life)
        if asked not in self._tempered:
            self._tempered[asked] = was_tempered_so(self._story.life(life), after)
        return self._tempered[asked]


def story_of_item(
    rows: BatchRows, item: Item, bar: Bar, baths: dict[int, Bath], now: datetime
) -> Story | NotYet:
    """Return a piece's story so far; `baths` holds the shop's baths."""
    first = process_of_item(rows, item, bar, baths, now)
    if isinstance(first, NotYet):
        return first
    before: tuple[ProcessStep, ...] = ()
    if item.from_item_id is not None:
        found = rows.earlier.get(row_id(item))
        earlier = story_of_item(*found, bar, baths, now) if found else GONE
        if isinstance(earlier, NotYet):
            return GONE if found is None else NotYet(f"of the batch that it came from, {earlier.why}")
        before = earlier.whole().steps
    lives = groupby(rework_steps(rows, item), lambda step: step.life)
    return Story(before, first, tuple(_life(rows, list(steps), baths) for _, steps in lives))


def _life(rows: BatchRows, steps: list[Step], baths: dict[int, Bath]) -> Life:
    bath = next((step.bath_id for step in reversed(steps) if step.kind == "quench"), None)
    oven = next((step.instrument_id for step in reversed(steps) if step.kind == "temper"), None)
    made = (process_step(step, baths) for step in steps)
    done = tuple(step for step in made if step is not None)
    loosened = before_rework(rows.changes, rows.batch.day, _last_day(rows, steps))
    return Life(done, str(bath or ""), str(oven or ""), loosened)


def _last_day(rows: BatchRows, steps: list[Step]) -> date:
    """Return the day on which a life ended, by universal time; that of its batch where it was not noted."""
    moments = [aware(step.started_at) for step in steps if step.started_at is not None]
    return max((moment.date() for moment in moments), default=rows.batch.day)
