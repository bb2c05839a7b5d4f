"""A backup holds everything, is checked when made, and brings everything back; what is none is refused."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import typer
from fastapi.testclient import TestClient
from sqlalchemy import Table

from tests.conftest import A_SPRING_DAY
from tests.migrations.older import to_form
from tests.web.batch_steps import start
from tests.web.fitted_demo import fitted_demo, speaking_to, store_of
from tests.web.kept_books import add_photo, book_of, pictures_of, rows_of
from tests.web.page_forms import begin
from webapp.commands import backup as commands
from webapp.services import backup as backup_module
from webapp.services.backup import make_backup
from webapp.services.backup_file import LIST_FILE, BackupFile
from webapp.services.restore import restore
from webapp.services.whole_export import document_pieces
from webapp.settings import Settings
from webapp.store.backup import copy_database
from webapp.store.engine import LOGBOOK_FILE, open_store, read
from webapp.store.errors import CannotOpen, CannotSave, CopyFailed, LogbookNewer, Refused
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Batch
from webapp.store.unit_of_work import Actor, write

OLDEST = "0001"


@pytest.fixture(scope="module")
def speaking(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A logbook in use, with a batch, three photos of which one is in the bin, and odd words."""
    with speaking_to(Settings(data_folder=tmp_path_factory.mktemp("kept") / "data")) as client:
        begin(client)
        start(client)
        with write(store_of(client), Actor("test bench"), A_SPRING_DAY) as work:
            photos = [add_photo(work, store_of(client), radius) for radius in (150, 170, 190)]
            work.remove(photos[0])
            work.change(work.get(Batch, 1), note="=1+1 «½ in» 漢字")
        yield client


@pytest.fixture(scope="module")
def filled(speaking: TestClient) -> Path:
    return store_of(speaking).folder


@pytest.fixture(scope="module")
def backup(filled: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_backup(filled, tmp_path_factory.mktemp("made") / "whole.zip", A_SPRING_DAY).file


def test_what_a_backup_brings_back_to_a_fresh_folder_is_the_same_to_the_last_row_and_picture(
    filled: Path, backup: Path, tmp_path: Path
) -> None:
    found = restore(backup, tmp_path / "new", A_SPRING_DAY)
    assert book_of(tmp_path / "new") == book_of(filled)
    assert len(pictures_of(filled)) == 6
    assert (found.staged.counts["batch"], found.staged.counts["photo"], found.aside) == (1, 2, None)


def test_the_demo_with_its_fit_comes_back_the_same(tmp_path: Path) -> None:
    old = tmp_path / "old"
    old.mkdir()
    copy_database(fitted_demo(), old / LOGBOOK_FILE)
    made = make_backup(old, tmp_path / "demo.zip", A_SPRING_DAY)
    restore(made.file, tmp_path / "new", A_SPRING_DAY)
    assert rows_of(tmp_path / "new" / LOGBOOK_FILE) == rows_of(old / LOGBOOK_FILE)
    assert made.counts["fit"] == 1


def test_a_backup_lists_every_file_with_its_checksum_and_says_what_is_not_in_it(
    filled: Path, backup: Path
) -> None:
    (filled / "forecasts.npz").write_bytes(b"thrown away")
    with zipfile.ZipFile(backup) as archive:
        told = json.loads(archive.read(LIST_FILE))
        for name, one in told["files"].items():
            assert hashlib.sha256(archive.read(name)).hexdigest() == one["sha256"], name
        names = set(archive.namelist())
        tables = {name for name in names if name.startswith("tables/")}
        assert len(archive.read("tables/batch.csv").decode("utf-8-sig").splitlines()) == 2
        assert "passcode" in archive.read("read-me.txt").decode()
    assert {LIST_FILE, LOGBOOK_FILE, "read-me.txt"} | tables | {
        f"photos/{name}" for name in pictures_of(filled)
    } == names
    assert (told["revision"], told["missing_photos"]) == (newest(filled), [])
    assert {"tables/reading.csv", "tables/change.csv"} <= tables


def newest(folder: Path) -> str:
    return str(rows_of(folder / LOGBOOK_FILE)["alembic_version"][0][0])


def test_the_tables_of_a_backup_are_those_that_are_taken_along(
    speaking: TestClient, filled: Path, backup: Path
) -> None:
    along = zipfile.ZipFile(io.BytesIO(speaking.get("/everything.zip").content))
    with zipfile.ZipFile(backup) as archive:
        for name in along.namelist():
            if name.endswith(".csv"):
                assert lines_of(archive, f"tables/{name}") == lines_of(along, name), name


def lines_of(archive: zipfile.ZipFile, name: str) -> list[dict[str, str]]:
    """Return a table's rows by heading; a migrated database may have its columns in another order."""
    return list(csv.DictReader(io.StringIO(archive.read(name).decode("utf-8-sig"), newline="")))


def test_saves_go_on_while_a_backup_is_made(
    backup: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    used = tmp_path / "used"
    restore(backup, used, A_SPRING_DAY)
    made_table = backup_module._csv_of
    with closing(open_store(used)) as store:

        def save_between(connection: Any, table: Table, counts: dict[str, int]) -> Iterator[bytes]:
            if table.name == "batch":
                with write(store, Actor("another"), A_SPRING_DAY) as work:
                    work.change(work.get(Batch, 1), note="saved meanwhile")
            return made_table(connection, table, counts)

        monkeypatch.setattr(backup_module, "_csv_of", save_between)
        make_backup(used, tmp_path / "while.zip", A_SPRING_DAY)
    assert "saved meanwhile" in str(rows_of(used / LOGBOOK_FILE)["batch"])
    restore(tmp_path / "while.zip", tmp_path / "new", A_SPRING_DAY)
    assert book_of(tmp_path / "new") == (rows_of(before(backup, tmp_path)), pictures_of(used))


def before(backup: Path, tmp_path: Path) -> Path:
    """Return the database in a backup, as it lies there."""
    with closing(BackupFile(backup)) as opened, (tmp_path / "before.db").open("wb") as out:
        opened.put(LOGBOOK_FILE, out)
    return tmp_path / "before.db"


def test_a_backup_that_does_not_read_back_is_thrown_away(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def note_it_wrong(packer: backup_module.Packer, name: str, *told: Any) -> None:
        real(packer, name, *told)
        if name == LOGBOOK_FILE:
            packer.told[name]["sha256"] = "0" * 64

    real = backup_module.Packer.pieces
    monkeypatch.setattr(backup_module.Packer, "pieces", note_it_wrong)
    with pytest.raises(CopyFailed, match="not whole and was thrown away"):
        make_backup(filled, tmp_path / "bad.zip", A_SPRING_DAY)
    assert [path.name for path in tmp_path.iterdir() if "zip" in path.name] == []


def test_a_photo_whose_picture_is_gone_is_told_and_does_not_stop_a_backup(
    backup: Path, tmp_path: Path
) -> None:
    restore(backup, tmp_path / "less", A_SPRING_DAY)
    gone = next(file for file in (tmp_path / "less/photos").glob("*.jpg") if "-small" not in file.name)
    gone.unlink()
    made = make_backup(tmp_path / "less", tmp_path / "less.zip", A_SPRING_DAY)
    assert made.missing_photos == (gone.name,)
    found = restore(made.file, tmp_path / "new", A_SPRING_DAY)
    assert found.staged.missing_photos == 1


def test_the_logbook_that_was_there_is_kept_aside_and_can_be_put_back(
    filled: Path, backup: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    with closing(open_store(other)) as store:
        bring_up_to_date(store, A_SPRING_DAY)
    before = rows_of(other / LOGBOOK_FILE)
    found = restore(backup, other, A_SPRING_DAY)
    assert found.aside is not None
    assert rows_of(found.aside / LOGBOOK_FILE) == before
    assert book_of(other) == book_of(filled)
    again = restore(found.aside / LOGBOOK_FILE, other, A_SPRING_DAY)
    assert rows_of(other / LOGBOOK_FILE) == before
    assert again.aside != found.aside


def changed(
    backup: Path, to: Path, change: Callable[[dict[str, bytes], dict[str, Any]], None], sums: bool = True
) -> Path:
    """Return a backup whose files were changed; with `sums`, as by one who knows how its list is made."""
    with zipfile.ZipFile(backup) as archive:
        files = {name: archive.read(name) for name in archive.namelist() if name != LIST_FILE}
        told = json.loads(archive.read(LIST_FILE))
    change(files, told)
    if sums:
        told["files"] = {
            name: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
            for name, content in files.items()
        }
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
        archive.writestr(LIST_FILE, json.dumps(told))
    return to


def swollen(files: dict[str, bytes], told: dict[str, Any]) -> None:
    files["read-me.txt"] = bytes(80_000_000)


def climbing(files: dict[str, bytes], told: dict[str, Any]) -> None:
    files["photos/../../out.jpg"] = b"\xff\xd8\xff"


def absolute(files: dict[str, bytes], told: dict[str, Any]) -> None:
    files["/tmp/out.jpg"] = b"\xff\xd8\xff"


def other_picture(files: dict[str, bytes], told: dict[str, Any]) -> None:
    name = next(name for name in files if name.startswith("photos/") and "-small" not in name)
    files[name] = b"\xff\xd8\xff another"


def no_database(files: dict[str, bytes], told: dict[str, Any]) -> None:
    files[LOGBOOK_FILE] = b"SQLite format 3\0" + bytes(5000)


def without_database(files: dict[str, bytes], told: dict[str, Any]) -> None:
    del files[LOGBOOK_FILE]


def newer_list(files: dict[str, bytes], told: dict[str, Any]) -> None:
    told["schema"] = 2


def database_with(*statements: str) -> Callable[[dict[str, bytes], dict[str, Any]], None]:
    def change(files: dict[str, bytes], told: dict[str, Any]) -> None:
        connection = sqlite3.connect(":memory:")
        connection.deserialize(files[LOGBOOK_FILE])
        for statement in statements:
            connection.execute(statement)
        connection.commit()
        files[LOGBOOK_FILE] = connection.serialize()

    return change


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        (swollen, Refused, "far more than a logbook"),
        (climbing, Refused, "none of casewright's"),
        (absolute, Refused, "none of casewright's"),
        (other_picture, Refused, "another picture"),
        (no_database, Refused, "damaged"),
        (without_database, Refused, "does not name a logbook"),
        (newer_list, LogbookNewer, "newer casewright"),
        (database_with("UPDATE alembic_version SET version_num = '9999'"), LogbookNewer, "newer casewright"),
        (database_with("DROP TABLE alembic_version"), Refused, "no logbook"),
        (database_with("CREATE VIEW odd AS SELECT 1"), Refused, "no logbook"),
        (
            database_with("CREATE TRIGGER odd AFTER INSERT ON bar BEGIN DELETE FROM bar; END"),
            Refused,
            "no logbook",
        ),
        (database_with("ALTER TABLE broughtin DROP COLUMN rows"), Refused, "lacks rows of broughtin"),
        (database_with("PRAGMA foreign_keys = OFF", "DELETE FROM forge"), Refused, "lead nowhere"),
    ],
)
def test_what_is_no_whole_backup_is_refused_and_the_logbook_stays(
    filled: Path,
    backup: Path,
    tmp_path: Path,
    change: Callable[..., None],
    error: type[Exception],
    words: str,
) -> None:
    other = tmp_path / "other"
    restore(backup, other, A_SPRING_DAY)
    before = book_of(other)
    with pytest.raises(error, match=words):
        restore(changed(backup, tmp_path / "changed.zip", change), other, A_SPRING_DAY)
    assert book_of(other) == before
    assert {path.name for path in other.iterdir()} == {LOGBOOK_FILE, "photos", "restored.json"}
    assert not list(tmp_path.rglob("out.jpg"))


def lost_byte(files: dict[str, bytes], told: dict[str, Any]) -> None:
    files[LOGBOOK_FILE] = files[LOGBOOK_FILE][:-1]


def more_than_listed(files: dict[str, bytes], told: dict[str, Any]) -> None:
    files["tables/more.csv"] = b"x"


def claims_less(files: dict[str, bytes], told: dict[str, Any]) -> None:
    told["files"]["read-me.txt"]["bytes"] = 5


@pytest.mark.parametrize("change", [lost_byte, more_than_listed, claims_less])
def test_a_file_that_is_not_as_listed_is_refused(
    backup: Path, tmp_path: Path, change: Callable[..., None]
) -> None:
    with pytest.raises(Refused):
        restore(changed(backup, tmp_path / "changed.zip", change, sums=False), tmp_path / "new", A_SPRING_DAY)
    assert not (tmp_path / "new" / LOGBOOK_FILE).exists()


@pytest.mark.parametrize("place", [0.1, 0.5, 0.9])
def test_a_flipped_byte_or_a_lost_end_anywhere_is_found(backup: Path, tmp_path: Path, place: float) -> None:
    content = bytearray(backup.read_bytes())
    cut = tmp_path / "cut.zip"
    cut.write_bytes(content[: int(len(content) * place)])
    content[int(len(content) * place)] ^= 0xFF
    flipped = tmp_path / "flipped.zip"
    flipped.write_bytes(content)
    for file in (cut, flipped):
        with pytest.raises(Refused):
            restore(file, tmp_path / "new", A_SPRING_DAY)


@pytest.mark.parametrize("content", [b"", b"hello", b"PK\x03\x04 no zip", b'{"kind": 1}', bytes(4096)])
def test_what_is_no_copy_at_all_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "odd.zip").write_bytes(content)
    with pytest.raises(Refused):
        restore(tmp_path / "odd.zip", tmp_path / "new", A_SPRING_DAY)
    with pytest.raises(CannotOpen):
        restore(tmp_path / "not there.zip", tmp_path / "new", A_SPRING_DAY)


def test_a_backup_of_an_older_form_is_made_and_is_brought_up_to_date_when_it_comes_back(
    tmp_path: Path,
) -> None:
    with closing(open_store(tmp_path / "old")) as store:
        bring_up_to_date(store, A_SPRING_DAY, to_form(OLDEST))
        with store.writer.begin() as connection:
            connection.exec_driver_sql(
                "INSERT INTO bar(id, version, created_at, updated_at, note, name, carbon_low_wt,"
                " carbon_high_wt, screening, typed)"
                " VALUES (1, 1, '2026-01-01', '2026-01-01', '', 'old bar', .1, .2, '{}', '{}')"
            )
    made = make_backup(tmp_path / "old", tmp_path / "old.zip", A_SPRING_DAY)
    restore(made.file, tmp_path / "new", A_SPRING_DAY)
    assert "old bar" in str(rows_of(tmp_path / "new" / LOGBOOK_FILE)["bar"])
    with closing(open_store(tmp_path / "new")) as store, read(store) as session:
        whole = json.loads(b"".join(document_pieces(session, A_SPRING_DAY)))
    assert whole["tables"]["bar"][0]["name"] == "old bar"


def test_everything_taken_along_comes_back_by_the_same_way(
    speaking: TestClient, filled: Path, tmp_path: Path
) -> None:
    (tmp_path / "all.json").write_bytes(speaking.get("/api/export").content)
    found = restore(tmp_path / "all.json", tmp_path / "new", A_SPRING_DAY)
    assert (found.staged.counts["batch"], found.staged.missing_photos) == (1, 3)
    new, old = rows_of(tmp_path / "new" / LOGBOOK_FILE), rows_of(filled / LOGBOOK_FILE)
    assert {**new, "formuse": []} == {**old, "formuse": []}


def test_a_disk_without_room_is_told_before_it_is_full(
    backup: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("webapp.services.restore.ROOM_TO_SPARE", 10**18)
    with pytest.raises(CannotSave, match="Make room"):
        restore(backup, tmp_path / "new", A_SPRING_DAY)


def test_the_commands_say_what_they_did_and_refuse_in_plain_words(
    filled: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target, other = tmp_path / "by command.zip", Settings(data_folder=tmp_path / "other").data_folder
    commands.backup(target, filled)
    assert "read again and whole" in capsys.readouterr().out
    with pytest.raises(typer.Exit):
        commands.backup(target, filled)
    assert "there already" in capsys.readouterr().err
    commands.restore(target, other)
    commands.restore(target, other)
    told = capsys.readouterr().out
    assert "1 batch, 1 piece, 2 photos" in told
    assert "The logbook that was there lies in" in told
    with pytest.raises(typer.Exit):
        commands.restore(tmp_path / "none.zip", other)
    assert "cannot be read" in capsys.readouterr().err
    with pytest.raises(typer.Exit):
        commands.backup(tmp_path / "x.zip", tmp_path / "empty")
    assert "no logbook" in capsys.readouterr().err


def test_an_open_backup_says_what_it_holds(backup: Path) -> None:
    with closing(BackupFile(backup)) as opened:
        assert len(opened.photos) == 6
        assert opened.about["made_at"] == A_SPRING_DAY.isoformat()
