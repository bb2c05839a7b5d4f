"""Cuts the power at moments all along what the disk was asked, and opens what each may leave."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.faults.after_a_cut import CutDisk, File, lay_out, moments
from tests.faults.recorded_disk import Event
from tests.faults.tablets import Tablet
from tests.web.page_forms import begin
from tests.web.quick_start import quick_app
from webapp.settings import Settings
from webapp.store.engine import LOGBOOK_FILE

Check = Callable[[Path, Tablet], list[str]]


@dataclass
class Stream:
    """What was asked of the disk, what lay on it before, and the tablet that had it asked."""

    root: Path
    events: list[Event]
    before: dict[str, bytes]
    tablet: Tablet


@cache
def begun_logbook() -> bytes:
    """Return the file of a logbook of a shop that has begun, closed in order."""
    with TemporaryDirectory() as folder:
        settings = Settings(data_folder=Path(folder))
        app = quick_app(settings, FixedClock())
        with TestClient(app, base_url=settings.url, follow_redirects=False) as client:
            begin(client)
        return (settings.data_folder / LOGBOOK_FILE).read_bytes()


def settled_book(folder: Path) -> dict[str, bytes]:
    """Lay a logbook of a shop that has begun in a new folder, and return what lies there."""
    folder.mkdir()
    (folder / LOGBOOK_FILE).write_bytes(begun_logbook())
    return {str(folder / LOGBOOK_FILE): begun_logbook()}


def only_the_book(folder: Path) -> dict[str, bytes]:
    """Take away what lies beside a logbook that was closed in order, and return the file as it is."""
    content = (folder / LOGBOOK_FILE).read_bytes()
    shutil.rmtree(folder)
    folder.mkdir()
    (folder / LOGBOOK_FILE).write_bytes(content)
    return {str(folder / LOGBOOK_FILE): content}


def cut_everywhere(
    stream: Stream, place: Path, every: int, samples: int, check: Check
) -> tuple[int, list[str]]:
    """Cut at moments all along; return how many disks were opened and what was lost, with where."""
    chance = random.Random(28)
    disk = CutDisk(str(stream.root))
    for path, content in stream.before.items():
        disk.files[path] = disk.safe_names[path] = File(bytearray(content))
    wanted, tries, lost = set(moments(stream.events, every)), 0, []
    told = Tablet("power", chance, [replace(post, led_to="") for post in stream.tablet.sent])
    answers = {post.form_id: (post, known) for post, known in zip(told.sent, stream.tablet.sent, strict=True)}
    for index, event in enumerate(stream.events):
        if index in wanted:
            for left in (disk.worst(), *(disk.left_over(chance) for _ in range(samples))):
                tries += 1
                folder = place / "cut"
                lay_out(left, disk.root, folder)
                wrong = check(folder, told)
                lost += [f"cut before {index}, {event.what} {event.path[-30:]}: {each}" for each in wrong]
                shutil.rmtree(folder)
        if event.what == "answered":
            post, known = answers[event.path]
            post.led_to = known.led_to
        disk.go_on(event)
    lay_out(disk.worst(), disk.root, place / "end")
    return tries, lost + check(place / "end", told)
