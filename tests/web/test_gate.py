"""The door itself: passcodes, wrong tries, devices, codes, and the file they lie in."""

from __future__ import annotations

import stat
import threading
import time
import zipfile
from pathlib import Path

import pytest

from tests.conftest import FixedClock
from tests.web.lan import CHEAP, PASSCODE
from webapp.gate import passcode, tries
from webapp.gate.door import Answer, Door
from webapp.gate.door_file import DOOR_FILE, DoorTrouble
from webapp.gate.sessions import clean_name, hash_of
from webapp.services.backup import make_backup
from webapp.services.restore import restore

TABLET, OTHER = "192.168.1.77", "192.168.1.78"


@pytest.fixture
def door(tmp_path: Path, clock: FixedClock) -> Door:
    opened = Door(tmp_path, clock, CHEAP)
    opened.set_passcode(PASSCODE)
    return opened


def again(door: Door, clock: FixedClock) -> Door:
    """Return the door as the next start of the app finds it."""
    return Door(door.file.path.parent, clock, CHEAP)


@pytest.mark.parametrize(
    ("new", "why"),
    [
        ("short", "8 signs or more; this has 5"),
        ("  seven7  ", "this has 6"),
        ("x" * 201, "200 fit"),
        ("aaaaaaaaaaaa", "guessed first"),
        ("abababababab", "guessed first"),
        ("23456789", "guessed first"),
        ("hgfedcba", "guessed first"),
        ("Password-2026", "guessed first"),
        ("casewright!", "guessed first"),
    ],
)
def test_a_passcode_that_is_guessed_first_is_refused_with_the_reason(new: str, why: str) -> None:
    assert why in passcode.what_is_wrong(new)


@pytest.mark.parametrize(
    "new", [PASSCODE, "pawl-rod-clay", "härte süß 9", "七夕の炉は赤い夜だ", "x" * 190 + "1y z"]
)
def test_a_passcode_that_will_do_is_taken(new: str) -> None:
    assert passcode.what_is_wrong(new) == ""


def test_a_passcode_is_kept_so_that_nobody_can_read_it_back_and_never_twice_alike() -> None:
    kept = [passcode.keep(PASSCODE, CHEAP) for _ in range(2)]
    assert kept[0] != kept[1]
    assert all(word not in kept[0] for word in PASSCODE.split())
    assert passcode.is_right(PASSCODE, kept[0])
    assert not passcode.is_right(PASSCODE + "x", kept[0])
    assert not passcode.is_right("", kept[0])


def test_a_tablets_idle_space_and_its_other_way_to_write_an_accent_do_not_count() -> None:
    kept = passcode.keep("härte im kasten", CHEAP)
    assert passcode.is_right(" ha\u0308rte im kasten ", kept)


def test_the_true_cost_is_a_quarter_second_and_not_a_moment() -> None:
    began = time.process_time()
    kept = passcode.keep(PASSCODE)
    spent = time.process_time() - began
    assert kept.startswith("scrypt$32768$8$3$")
    assert 0.05 < spent < 5.0


@pytest.mark.parametrize(
    ("wrong", "since", "wrong_in_all", "since_any", "wait"),
    [
        (4, 0.0, 4, 0.0, 0.0),
        (5, 0.0, 5, 0.0, 10.0),
        (5, 4.0, 5, 4.0, 6.0),
        (6, 0.0, 6, 0.0, 20.0),
        (8, 0.0, 8, 0.0, 80.0),
        (5000, 0.0, 5000, 0.0, 900.0),
        (0, 1e9, 29, 0.0, 0.0),
        (0, 1e9, 30, 0.0, 60.0),
        (0, 1e9, 30, 45.0, 15.0),
        (5, -3600.0, 5, -3600.0, 10.0),
    ],
)
def test_a_wait_doubles_for_one_address_and_is_a_minute_for_all(
    wrong: int, since: float, wrong_in_all: int, since_any: float, wait: float
) -> None:
    assert tries.wait_of(wrong, since, wrong_in_all, since_any) == wait


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "1 second"), (9.1, "10 seconds"), (119.0, "119 seconds"), (121.0, "3 minutes")],
)
def test_a_wait_is_told_in_words_and_never_shorter_than_it_is(seconds: float, words: str) -> None:
    assert tries.say_wait(seconds) == words


def test_tries_are_counted_by_household() -> None:
    assert tries.household("2001:db8:1:2::5") == tries.household("2001:db8:1:2:ffff::9")
    assert tries.household("2001:db8:1:2::5") != tries.household("2001:db8:1:3::5")
    assert tries.household("::ffff:192.168.1.7") == tries.household("192.168.1.7")
    assert tries.household("fe80::1%eth0") == "fe80::/64"
    assert tries.household("testclient") == "testclient"


def test_the_sixth_wrong_try_waits_and_so_does_the_right_passcode_until_then(
    door: Door, clock: FixedClock
) -> None:
    assert [door.sign_in("wrong", TABLET, "x") for _ in range(5)] == [Answer()] * 5
    assert door.sign_in(PASSCODE, TABLET, "x") == Answer(wait_s=10.0)
    assert door.sign_in(PASSCODE, OTHER, "x").token
    clock.move(seconds=9)
    assert again(door, clock).sign_in(PASSCODE, TABLET, "x") == Answer(wait_s=1.0)
    clock.move(seconds=1)
    assert door.sign_in(PASSCODE, TABLET, "x").token


def test_the_right_passcode_clears_what_was_wrong_before(door: Door) -> None:
    for _ in range(4):
        door.sign_in("wrong", TABLET, "x")
    assert door.sign_in(PASSCODE, TABLET, "x").token
    assert [door.sign_in("wrong", TABLET, "x") for _ in range(5)] == [Answer()] * 5


def test_many_addresses_together_are_slowed_down_too(door: Door, clock: FixedClock) -> None:
    for number in range(30):
        assert door.sign_in("wrong", f"10.0.0.{number}", "x") == Answer()
    assert door.sign_in("wrong", "10.0.1.1", "x") == Answer(wait_s=60.0)
    clock.move(hours=1, seconds=1)
    assert door.sign_in("wrong", "10.0.1.1", "x") == Answer()


def test_a_hundred_tries_at_once_get_no_more_free_looks_than_one_after_another(door: Door) -> None:
    answers: list[Answer] = []
    threads = [
        threading.Thread(target=lambda: answers.append(door.sign_in("wrong", TABLET, "x"))) for _ in range(20)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 20
    assert sum(1 for answer in answers if answer.wait_s == 0.0) == 5


def test_a_device_stays_in_while_it_is_used_for_a_year_at_most(door: Door, clock: FixedClock) -> None:
    token = door.sign_in(PASSCODE, TABLET, "shop tablet").token
    for _ in range(12):
        clock.move(days=30)
        found = again(door, clock).find(token)
        assert found is not None
        assert found.name == "shop tablet"
    clock.move(days=6)
    assert door.find(token) is None
    assert door.devices() == []


def test_a_device_that_is_not_used_for_90_days_is_out(door: Door, clock: FixedClock) -> None:
    token = door.sign_in(PASSCODE, TABLET, "x").token
    clock.move(days=89)
    assert door.find(token)
    clock.move(days=91)
    assert door.find(token) is None


def test_when_a_device_was_seen_is_noted_every_five_minutes_at_most(door: Door, clock: FixedClock) -> None:
    token = door.sign_in(PASSCODE, TABLET, "x").token
    begun = clock.now()
    clock.move(minutes=4)
    door.find(token)
    assert door.devices()[0].seen_at == begun
    door.find(token)
    now = clock.move(minutes=2)
    door.find(token)
    assert door.devices()[0].seen_at == now


def test_a_device_is_signed_out_from_elsewhere_and_the_others_stay(door: Door) -> None:
    tokens = [door.sign_in(PASSCODE, TABLET, name).token for name in ("one", "two")]
    lost = next(device for device in door.devices() if device.name == "one")
    door.end(lost.number)
    assert door.find(tokens[0]) is None
    assert door.find(tokens[1]) is not None


@pytest.mark.parametrize("rule", ["set", "forget", "end all"])
def test_a_new_passcode_signs_every_device_out_and_shuts_every_code(door: Door, rule: str) -> None:
    token, code = door.sign_in(PASSCODE, TABLET, "x").token, door.new_code()
    {
        "set": lambda: door.set_passcode("three other words"),
        "forget": door.forget_passcode,
        "end all": door.end_all,
    }[rule]()
    assert door.find(token) is None
    assert not door.is_open_code(code)
    assert door.pair(code, "x") == ""
    assert bool(door.sign_in(PASSCODE, TABLET, "x").token) == (rule == "end all")


def test_without_a_passcode_nothing_signs_in(tmp_path: Path, clock: FixedClock) -> None:
    door = Door(tmp_path, clock, CHEAP)
    assert not door.has_passcode
    assert door.sign_in("", TABLET, "x") == Answer()
    assert door.sign_in(PASSCODE, TABLET, "x") == Answer()


def test_a_code_lets_one_device_in_once(door: Door) -> None:
    code = door.new_code()
    assert door.is_open_code(code)
    token = door.pair(code, "shop tablet")
    found = door.find(token)
    assert found is not None
    assert found.name == "shop tablet"
    assert not door.is_open_code(code)
    assert door.pair(code, "another") == ""


@pytest.mark.parametrize("by", [{"seconds": 601}, {"hours": -1}])
def test_a_code_is_good_for_ten_minutes_whatever_the_clock_does(
    door: Door, clock: FixedClock, by: dict[str, float]
) -> None:
    code = door.new_code()
    clock.move(**by)
    assert not door.is_open_code(code)
    assert door.pair(code, "late") == ""


def test_no_token_lies_in_the_file_as_it_is(door: Door) -> None:
    code, session = door.new_code(), door.sign_in(PASSCODE, TABLET, "x").token
    content = door.file.path.read_bytes()
    assert code.encode() not in content
    assert session.encode() not in content
    assert PASSCODE.encode() not in content
    assert len(session) >= 43


def test_the_file_is_its_owners_alone_even_where_it_was_not(door: Door) -> None:
    assert stat.S_IMODE(door.file.path.stat().st_mode) == 0o600
    door.file.path.chmod(0o644)
    door.new_code()
    assert stat.S_IMODE(door.file.path.stat().st_mode) == 0o600


def test_looking_makes_no_file(tmp_path: Path, clock: FixedClock) -> None:
    door = Door(tmp_path, clock, CHEAP)
    assert not door.has_passcode
    assert not door.asks_here
    assert door.find("x") is None
    assert door.devices() == []
    assert not door.is_open_code("x")
    assert not (tmp_path / DOOR_FILE).exists()


def test_a_file_that_is_none_is_said_in_words_and_shuts_the_door(tmp_path: Path, clock: FixedClock) -> None:
    (tmp_path / DOOR_FILE).write_text("this is no database at all, and long enough to look like one" * 20)
    door = Door(tmp_path, clock, CHEAP)
    with pytest.raises(DoorTrouble, match="cannot be used"):
        door.find("x")
    with pytest.raises(DoorTrouble, match="cannot be used"):
        door.set_passcode(PASSCODE)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("  shop \n tablet ", "shop tablet"),
        ("", "unnamed device"),
        ("\x00\u202e", "unnamed device"),
        ("x" * 60, "x" * 40),
        ("<b>forge</b>", "<b>forge</b>"),
    ],
)
def test_a_devices_name_is_one_short_line(typed: str, kept: str) -> None:
    assert clean_name(typed) == kept


def test_a_backup_carries_no_secret_and_a_restore_locks_nobody_out(
    logbook_folder: Path, clock: FixedClock, tmp_path: Path
) -> None:
    door = Door(logbook_folder, clock, CHEAP)
    door.set_passcode(PASSCODE)
    token = door.let_in("shop tablet")
    zipped = make_backup(logbook_folder, tmp_path / "all.zip", clock.now()).file
    with zipfile.ZipFile(zipped) as packed:
        assert [name for name in packed.namelist() if "door" in name] == []
        assert all(hash_of(token).encode() not in packed.read(name) for name in packed.namelist())
    restore(zipped, logbook_folder, clock.now())
    found = door.find(token)
    assert found is not None
    assert found.name == "shop tablet"
    fresh = tmp_path / "another computer"
    restore(zipped, fresh, clock.now())
    assert not (fresh / DOOR_FILE).exists()
