"""What a disk may hold after a power cut, worked out from the notes of what was asked of it.

Of each file: all that was written before its last sync, and of what was written since any part, in any
combination, each write whole, missing or cut off anywhere. Of each folder: all names as of its last sync,
and of the changes of names since (made, renamed, deleted) either the first few, as a journalling file system
keeps their order, or any of them, as one without a journal may; a rename is done or not, never half. A write
that is under way harms nothing beside it, as SQLite itself supposes (its "powersafe overwrite").
"""

from __future__ import annotations

import os
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.recorded_disk import Event

NAMES = ("made", "folder", "rename", "delete")


@dataclass
class File:
    """The bytes that lie on the disk for good, and what was asked since."""

    safe: bytearray = field(default_factory=bytearray)
    since: list[Event] = field(default_factory=list)

    def settle(self) -> None:
        for event in self.since:
            apply(self.safe, event)
        self.since.clear()


@dataclass
class CutDisk:
    """The disk as it goes through the events one by one; `left_over` draws what a cut would leave."""

    root: str
    files: dict[str, File] = field(default_factory=dict)
    safe_names: dict[str, File | None] = field(default_factory=dict)
    since: list[tuple[Event, File | None]] = field(default_factory=list)

    def go_on(self, event: Event) -> None:
        if event.what in ("write", "truncate"):
            self.files[event.path].since.append(event)
        elif event.what == "sync":
            self.files[event.path].settle()
        elif event.what == "settle":
            self._settle(event.path)
        elif event.what in NAMES:
            self._name(event)
        elif event.what == "found" and event.path not in self.files:
            self.files[event.path] = never_synced(event.data)
            self.since.append((Event("made", event.path), self.files[event.path]))

    def _name(self, event: Event) -> None:
        if event.what == "made":
            known = event.path in self.files
            file = self.files.setdefault(event.path, File())
            if event.data:
                file.since = [Event("truncate", event.path), Event("write", event.path, 0, event.data)]
            if not known:
                self.since.append((event, file))
        elif event.what == "rename":
            self.files[event.to] = self.files.pop(event.path, None) or never_synced(event.data)
            self.since.append((event, self.files[event.to]))
        elif event.what == "delete":
            self.since.append((event, self.files.pop(event.path, None)))
        else:
            self.since.append((event, None))

    def _settle(self, folder: str) -> None:
        here = [entry for entry in self.since if os.path.dirname(entry[0].to or entry[0].path) == folder]
        for entry in here:
            name_it(self.safe_names, *entry)
        self.since = [entry for entry in self.since if entry not in here]

    def left_over(self, chance: random.Random) -> dict[str, bytes | None]:
        """Return the files, and the folders as None, of one disk that a cut at this moment may leave."""
        names = dict(self.safe_names)
        in_order = self.since[: chance.randint(0, len(self.since))]
        for entry in (
            in_order if chance.random() < 0.5 else [one for one in self.since if chance.random() < 0.5]
        ):
            name_it(names, *entry)
        keeps = chance.choice((0.0, 0.5, 0.5, 0.9, 1.0))
        return self._reached(names, lambda file: torn(file, chance, keeps))

    def _names_kept(self, chance: random.Random) -> list[tuple[Event, File | None]]:
        if chance.random() < 0.5:
            return self.since[: chance.randint(0, len(self.since))]
        return [entry for entry in self.since if chance.random() < 0.5]

    def worst(self) -> dict[str, bytes | None]:
        """Return the disk that holds nothing but what was synced."""
        return self._reached(self.safe_names, lambda file: bytes(file.safe))

    def _reached(
        self, names: dict[str, File | None], content: Callable[[File], bytes]
    ) -> dict[str, bytes | None]:
        """Return the content of each name whose folder is there."""
        inside = {path for path in names if path.startswith(f"{self.root}/")}
        there = {path for path in inside if os.path.dirname(path) in (self.root, *inside)}
        return {path: content(file) if file else None for path, file in names.items() if path in there}


def apply(content: bytearray, event: Event, kept: int | None = None) -> None:
    """Do to a file what was asked; of a write that was cut off, the first bytes only."""
    if event.what == "truncate":
        del content[event.at :]
        return
    data = event.data[:kept]
    content.extend(bytes(max(0, event.at - len(content))))
    content[event.at : event.at + len(data)] = data


def never_synced(content: bytes) -> File:
    """Return a file of which nothing need lie on the disk yet."""
    return File(since=[Event("write", "", 0, content)])


def name_it(names: dict[str, File | None], event: Event, file: File | None) -> None:
    """Do to the names of a disk what was asked."""
    if event.what == "rename":
        names.pop(event.path, None)
    names[event.to or event.path] = file
    if event.what == "delete":
        del names[event.path]


def torn(file: File, chance: random.Random, keeps: float) -> bytes:
    """Return a file with any part of what was asked since its last sync."""
    content = bytearray(file.safe)
    for event in file.since:
        if chance.random() < keeps:
            is_cut_off = event.what == "write" and chance.random() < 0.2
            apply(content, event, chance.randint(0, len(event.data)) if is_cut_off else None)
    return bytes(content)


def lay_out(left: dict[str, bytes | None], root: str, folder: Path) -> None:
    """Make a folder of what a cut left."""
    for path, content in sorted(left.items()):
        target = folder / os.path.relpath(path, root)
        if content is None:
            target.mkdir(parents=True, exist_ok=True)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)


def moments(events: list[Event], every: int) -> Iterator[int]:
    """Give the moments to cut at: around each sync and change of names, and every few writes between."""
    for index, event in enumerate(events):
        near = {event.what, events[index - 1].what if index else ""} & {"sync", "settle", "answered", *NAMES}
        if near or index % every == 0:
            yield index
