"""The unit of work: what is saved, what is refused, and that nothing is half done."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError
from sqlmodel import select

from webapp.store import engine, unit_of_work
from webapp.store.backup import check_database, copy_database, copy_path
from webapp.store.engine import Store, open_store, plain_trouble, read
from webapp.store.errors import (
    AlreadySaved,
    CannotOpen,
    CannotSave,
    ChangedMeanwhile,
    CopyFailed,
    FolderInUse,
    NotFound,
    Refused,
)
from webapp.store.folder_lock import hold_folder
from webapp.store.tables import Bar, Batch, Change, Fire, FormUse, Instrument
from webapp.store.unit_of_work import Actor, UnitOfWork, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
LATER = NOW + timedelta(minutes=5)
BENCH = Actor("bench tablet")
ROD = {"name": "rod", "carbon_low_wt": 0.15, "carbon_high_wt": 0.2}


def add_rod(store: Store, form_id: str | None = None) -> Bar:
    with write(store, BENCH, NOW, form_id) as work:
        bar = work.add(Bar(**ROD))
        work.answered_at("/bars/1")
        return bar


def count(store: Store, table: type) -> int:
    with read(store) as session:
        return len(session.exec(select(table)).all())


def changes(store: Store) -> list[Change]:
    with read(store) as session:
        return list(session.exec(select(Change).order_by(Change.id)))


def test_every_connection_keeps_the_promises_of_the_logbook(store: Store) -> None:
    for opened in (store.writer, store.reader):
        with opened.connect() as connection:
            pragma = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
            }
        assert pragma == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 5000}


def test_an_added_record_carries_its_times_and_a_line_in_the_change_record(store: Store) -> None:
    bar = add_rod(store)
    assert (bar.id, bar.version, bar.created_at, bar.updated_at) == (1, 1, NOW, NOW)
    (change,) = changes(store)
    assert (change.action, change.device, change.table_name, change.record_id) == (
        "added",
        "bench tablet",
        "bar",
        1,
    )
    assert change.before == {}
    assert (change.after["id"], change.after["name"], change.after["carbon_low_wt"]) == (1, "rod", 0.15)


def test_a_change_bumps_the_version_and_notes_only_what_changed(store: Store) -> None:
    add_rod(store)
    with write(store, BENCH, LATER) as work:
        bar = work.change(
            work.get(Bar, 1), version=1, name="round", carbon_low_wt=0.15, typed={"carbon": "0,15"}
        )
    assert (bar.version, bar.updated_at, bar.created_at) == (2, LATER, NOW)
    assert changes(store)[1].before == {"name": "rod", "typed": {}}
    assert changes(store)[1].after == {"name": "round", "typed": {"carbon": "0,15"}}


def test_a_change_that_changes_nothing_leaves_no_trace(store: Store) -> None:
    add_rod(store)
    with write(store, BENCH, LATER) as work:
        work.change(work.get(Bar, 1), version=1, name="rod")
    with read(store) as session:
        assert session.get(Bar, 1).version == 1
    assert len(changes(store)) == 1


def test_a_second_tablet_is_told_what_changed_meanwhile_and_overwrites_nothing(store: Store) -> None:
    add_rod(store)
    with write(store, BENCH, NOW) as work:
        work.change(work.get(Bar, 1), version=1, name="first")
    with pytest.raises(ChangedMeanwhile) as caught, write(store, BENCH, LATER) as work:
        work.change(work.get(Bar, 1), version=1, name="second")
    assert (caught.value.current["name"], caught.value.mine) == ("first", {"name": "second"})
    assert caught.value.current["version"] == 2
    with read(store) as session:
        assert session.get(Bar, 1).name == "first"


def test_a_form_answered_twice_is_saved_once_and_led_to_the_first_answer(store: Store) -> None:
    add_rod(store, "form-0001")
    with pytest.raises(AlreadySaved) as caught:
        add_rod(store, "form-0001")
    assert caught.value.location == "/bars/1"
    assert (count(store, Bar), count(store, FormUse)) == (1, 1)


def test_a_form_whose_save_failed_may_be_sent_again(store: Store) -> None:
    with pytest.raises(Refused), write(store, BENCH, NOW, "form-0001") as work:
        work.add(Bar(name="impossible", carbon_low_wt=0.3, carbon_high_wt=0.2))
    add_rod(store, "form-0001")
    assert count(store, Bar) == 1


def test_an_error_in_the_middle_leaves_nothing_behind(store: Store) -> None:
    def add_two_and_fail() -> None:
        with write(store, BENCH, NOW, "form-0001") as work:
            work.add(Bar(**ROD))
            work.add(Bar(**ROD))
            raise LookupError("in the middle")

    with pytest.raises(LookupError):
        add_two_and_fail()
    assert [count(store, table) for table in (Bar, Change, FormUse)] == [0, 0, 0]


def test_a_removed_record_is_hidden_and_can_be_put_back(store: Store) -> None:
    add_rod(store)
    with write(store, BENCH, LATER) as work:
        work.remove(work.get(Bar, 1), version=1)
    with pytest.raises(NotFound), write(store, BENCH, LATER) as work:
        work.get(Bar, 1)
    with write(store, BENCH, LATER) as work:
        bar = work.put_back(work.session.get(Bar, 1), version=2)
    assert (bar.deleted_at, bar.version) == (None, 3)
    assert [change.action for change in changes(store)] == ["added", "removed", "put back"]


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
def test_a_number_without_end_is_refused_everywhere(store: Store, bad: float) -> None:
    with pytest.raises(Refused), write(store, BENCH, NOW) as work:
        work.add(Instrument(name="eye", role="heat", method="colour", spread=bad))
    with pytest.raises(Refused), write(store, BENCH, NOW) as work:
        work.add(Bar(**ROD, screening={"file": [bad]}))
    assert (count(store, Instrument), count(store, Bar)) == (0, 0)


@pytest.mark.parametrize(
    "fields",
    [
        {"carbon_low_wt": 0.3},
        {"carbon_high_wt": 9.0},
        {"carbon_low_wt": -0.1},
        {"carbon_high_wt": None},
        {"note": "x" * 100_001},
    ],
)
def test_the_database_itself_refuses_what_cannot_be(store: Store, fields: dict[str, object]) -> None:
    with pytest.raises(Refused, match="constraint failed"), write(store, BENCH, NOW) as work:
        work.add(Bar(**(ROD | fields)))
    assert count(store, Bar) == 0


def test_a_reference_that_leads_nowhere_is_refused(store: Store) -> None:
    with pytest.raises(Refused, match="not in the logbook"), write(store, BENCH, NOW) as work:
        work.add(Fire(forge_id=7, heat_instrument_id=9))


def test_an_unknown_word_for_a_state_is_refused(store: Store) -> None:
    with pytest.raises(Refused, match="state_word"), write(store, BENCH, NOW) as work:
        work.add(Batch(number=1, state="lost", fire_id=1, box_id=1, mix_id=1, day=NOW.date()))


def test_fields_that_the_store_keeps_itself_cannot_be_set(store: Store) -> None:
    add_rod(store)
    for name in ("created_at", "deleted_at", "id", "colour"):
        with pytest.raises(TypeError), write(store, BENCH, NOW) as work:
            work.change(work.get(Bar, 1), **{name: 5})


def test_a_reader_cannot_write(store: Store) -> None:
    with pytest.raises(CannotSave, match="read-only"), read(store) as session:
        session.connection().exec_driver_sql("DELETE FROM bar")


def test_a_reader_sees_one_steady_picture_while_others_save(store: Store) -> None:
    with read(store) as session:
        assert len(session.exec(select(Bar)).all()) == 0
        add_rod(store)
        assert len(session.exec(select(Bar)).all()) == 0
    assert count(store, Bar) == 1


def test_many_tablets_saving_at_once_wait_for_each_other_and_lose_nothing(store: Store) -> None:
    def save_ten() -> None:
        for _ in range(10):
            with write(store, BENCH, NOW) as work:
                work.session.exec(select(Bar)).all()  # a read first must not keep the write from starting
                work.add(Bar(**ROD))

    threads = [threading.Thread(target=save_ten) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert (count(store, Bar), count(store, Change)) == (40, 40)


def test_a_save_that_hangs_makes_others_give_up_in_plain_words(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unit_of_work, "LOCK_TIMEOUT_S", 0.01)
    with store.lock, pytest.raises(CannotSave, match="Nothing was changed"):
        add_rod(store)
    add_rod(store)
    assert count(store, Bar) == 1


def add_many(work: UnitOfWork) -> None:
    for _ in range(40):
        work.add(Bar(**ROD, note="x" * 9000))


def test_a_full_disk_is_said_plainly_and_what_was_saved_stays(store: Store) -> None:
    add_rod(store)
    with store.writer.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(CannotSave, match="the disk is full"), write(store, BENCH, NOW, "form-0001") as work:
        add_many(work)
    assert (count(store, Bar), count(store, FormUse)) == (1, 0)


def test_a_read_only_logbook_is_said_plainly(store: Store) -> None:
    with store.writer.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only = ON")
    with pytest.raises(CannotSave, match="read-only"):
        add_rod(store)


def test_a_data_folder_that_is_a_file_is_refused_in_plain_words(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("not a folder")
    with pytest.raises(CannotOpen, match="choose another folder"):
        open_store(tmp_path / "data")


def test_a_file_that_is_no_logbook_is_refused_in_plain_words(tmp_path: Path) -> None:
    (tmp_path / engine.LOGBOOK_FILE).write_bytes(b"shopping list " * 1000)
    with pytest.raises(CannotOpen, match="not a logbook"):
        open_store(tmp_path)


def test_a_trouble_nobody_foresaw_still_reads_as_words() -> None:
    assert plain_trouble(OperationalError("SELECT 1", {}, Exception("weird"))).startswith(
        "the disk or the folder"
    )


def test_a_copy_holds_what_still_stands_in_the_wal_file(store: Store, tmp_path: Path) -> None:
    for _ in range(100):
        add_rod(store)
    assert (store.folder / "logbook.db-wal").stat().st_size > 0
    copy = copy_database(store.file, tmp_path / "copies" / "copy.db")
    check_database(copy)
    (tmp_path / "other").mkdir()
    copy.rename(tmp_path / "other" / engine.LOGBOOK_FILE)
    opened = open_store(tmp_path / "other")
    assert count(opened, Bar) == 100
    opened.close()


def test_a_copy_that_cannot_be_made_leaves_no_half_file_under_its_name(store: Store, tmp_path: Path) -> None:
    (tmp_path / "copies").write_text("a file where the folder should be")
    with pytest.raises(CopyFailed):
        copy_database(store.file, tmp_path / "copies" / "copy.db")
    assert (tmp_path / "copies").read_text() == "a file where the folder should be"


def test_a_damaged_copy_is_noticed(store: Store, tmp_path: Path) -> None:
    for _ in range(200):
        add_rod(store)
    copy = copy_database(store.file, tmp_path / "copy.db")
    content = bytearray(copy.read_bytes())
    content[len(content) // 2 :] = b"\xff" * (len(content) - len(content) // 2)
    copy.write_bytes(content)
    with pytest.raises(CopyFailed):
        check_database(copy)


def test_two_copies_of_the_same_second_get_different_names(tmp_path: Path) -> None:
    first = copy_path(tmp_path, "by-hand", NOW)
    first.parent.mkdir()
    first.touch()
    assert first.name == "2026-04-03T12-02-00Z-by-hand.db"
    assert copy_path(tmp_path, "by-hand", NOW).name == "2026-04-03T12-02-00Z-by-hand-1.db"


def test_a_data_folder_is_held_by_one_casewright_and_free_again_after_it(tmp_path: Path) -> None:
    with (
        pytest.raises(FolderInUse, match=r"http://127\.0\.0\.1:8350"),
        hold_folder(tmp_path, "http://127.0.0.1:8350"),
        hold_folder(tmp_path, "elsewhere"),
    ):
        pytest.fail("held twice")
    with hold_folder(tmp_path, "elsewhere"):
        assert (tmp_path / "in-use.txt").read_text() == "elsewhere"
