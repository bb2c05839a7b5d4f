"""What must hold of a logbook after any fault: it is whole, and every answered form is in it, once."""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlmodel import select

from tests.faults.tablets import Tablet
from webapp.store.engine import LOGBOOK_FILE, open_store, read
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.tables import Change, Record
from webapp.store.unit_of_work import plain_fields

KEPT_WITHOUT_NOTE = {"version", "updated_at"}
WORDS = {
    "bar": "SELECT name FROM bar",
    "event": "SELECT note FROM event",
    "reading": "SELECT note FROM reading",
    "reminder": "SELECT what FROM reminder",
    "edit": "SELECT json_extract(after, '$.note') FROM change"
    " WHERE table_name = 'batch' AND action = 'changed'",
}
ACTIONS = {"start": "added", "remove": "removed", "put back": "put back"}


def troubles_of_file(file: Path) -> list[str]:
    """Return what SQLite's own checks say against a database; an empty list is a whole one."""
    try:
        with closing(sqlite3.connect(file)) as book:
            found = [row[0] for row in book.execute("PRAGMA integrity_check") if row[0] != "ok"]
            return found + [f"loose reference {row}" for row in book.execute("PRAGMA foreign_key_check")]
    except sqlite3.Error as error:
        return [f"cannot be read: {error}"]


def photos_without_a_file(folder: Path) -> list[str]:
    """Return the photos that the book names and whose picture does not lie there whole."""
    with closing(sqlite3.connect(folder / LOGBOOK_FILE)) as book:
        names = [row[0] for row in book.execute("SELECT sha256 FROM photo")]
    files = {name: folder / PHOTO_FOLDER / f"{name}.jpg" for name in names}
    return [
        f"no whole file of photo {name[:8]}"
        for name, file in files.items()
        if not file.is_file() or hashlib.sha256(file.read_bytes()).hexdigest() != name
    ]


def lost_or_doubled(file: Path, tablets: list[Tablet]) -> list[str]:
    """Return the answered forms that the book lacks, and whatever stands in it twice or unasked."""
    with closing(sqlite3.connect(file)) as book:
        uses = dict(book.execute("SELECT form_id, location FROM formuse"))
        words = {does: Counter(row[0] for row in book.execute(sql)) for does, sql in WORDS.items()}
        noted = Counter(
            book.execute("SELECT action FROM change WHERE table_name = 'batch' AND action <> 'changed'")
        )
    wrong = []
    sent = {post.form_id: post for tablet in tablets for post in tablet.sent}
    for post in sent.values():
        is_kept = post.form_id in uses
        if post.led_to and uses.get(post.form_id) != post.led_to:
            wrong.append(f"lost: {post.does} {post.form_id}")
        if post.does in words and words[post.does][post.token] != is_kept:
            wrong.append(f"{post.form_id} stands {words[post.does][post.token]} times")
    for does, action in ACTIONS.items():
        kept = sum(post.does == does for form_id, post in sent.items() if form_id in uses)
        if noted[(action,)] != kept:
            wrong.append(f"{noted[(action,)]} batches {action}, {kept} forms")
    asked = {form_id for form_id in uses if form_id.startswith(tuple(tablet.name for tablet in tablets))}
    return wrong + [f"never sent: {form_id}" for form_id in asked - set(sent)]


def rows_that_differ(folder: Path) -> list[str]:
    """Return the records that are not what their own change records add up to."""
    told: dict[tuple[str, int], dict[str, Any]] = {}
    times: Counter[tuple[str, int]] = Counter()
    with closing(open_store(folder)) as store, read(store) as session:
        for change in session.exec(select(Change).order_by(Change.id)):
            told.setdefault((change.table_name, change.record_id), {}).update(change.after)
            times[(change.table_name, change.record_id)] += 1
        rows = [row for kind in Record.__subclasses__() for row in session.exec(select(kind))]
    wrong = []
    for row in rows:
        key = (type(row).__name__.lower(), row.id or 0)
        here, there = plain_fields(row), told.get(key, {})
        if row.version != times[key]:
            wrong.append(f"{key} has version {row.version} after {times[key]} changes")
        names = [name for name in here if name not in KEPT_WITHOUT_NOTE and here[name] != there.get(name)]
        wrong += [f"{key} {name}: {here[name]!r}, told {there.get(name)!r}" for name in names]
    return wrong
