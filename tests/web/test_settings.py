"""Settings, resources, the shop's time zone and the command line's own words."""

from __future__ import annotations

import socket
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from webapp import cli, resources
from webapp.commands import running
from webapp.settings import Settings, default_data_folder
from webapp.store.errors import LogbookNewer
from webapp.zone import day_of, field_text, is_zone, read_wall_time, to_utc, to_wall

run = CliRunner()


def test_the_default_folder_is_this_users_own(tmp_path: Path) -> None:
    assert default_data_folder().is_relative_to(tmp_path / "home")
    assert default_data_folder().name == "casewright"


def test_only_loopback_names_with_the_right_port_are_answered() -> None:
    assert Settings(port=8350).allowed_hosts == {"localhost:8350", "127.0.0.1:8350", "[::1]:8350"}
    assert "localhost" in Settings(port=80).allowed_hosts
    assert "localhost" not in Settings(port=8350).allowed_hosts


def test_resources_are_found_in_the_checkout() -> None:
    assert (resources.migrations_folder() / "env.py").is_file()
    assert (resources.static_folder() / "css").is_dir()
    assert (resources.templates_folder() / "base.html").is_file()


def test_resources_are_found_in_an_installed_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "webapp" / "_migrations").mkdir(parents=True)
    (tmp_path / "webapp" / "_migrations" / "env.py").touch()
    monkeypatch.setattr(resources, "CHECKOUT", tmp_path)
    monkeypatch.setattr(resources, "PACKAGE", tmp_path / "webapp")
    assert resources.migrations_folder() == tmp_path / "webapp" / "_migrations"
    with pytest.raises(FileNotFoundError, match="Install it again"):
        resources.static_folder()


@pytest.mark.parametrize(
    ("wall", "zone", "utc"),
    [
        ("2026-04-03T14:02", "Europe/Berlin", "2026-04-03T12:02"),
        ("2026-01-03T23:30", "Pacific/Auckland", "2026-01-03T10:30"),
        ("2026-04-03T20:00", "America/Los_Angeles", "2026-04-04T03:00"),
        ("2026-10-25T02:30", "Europe/Berlin", "2026-10-25T00:30"),  # shown twice: the first
        ("2026-03-29T02:30", "Europe/Berlin", "2026-03-29T01:30"),  # skipped: as the clock ran before
    ],
)
def test_a_time_on_the_shops_clock_becomes_the_right_moment(wall: str, zone: str, utc: str) -> None:
    assert read_wall_time(wall, zone) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize("zone", ["America/Los_Angeles", "Pacific/Auckland", "Europe/Berlin", "UTC"])
def test_the_date_that_was_entered_is_the_date_that_is_seen(zone: str) -> None:
    for month in range(1, 13):
        for text in (f"2026-{month:02}-01T00:00", f"2026-{month:02}-28T23:59"):
            moment = read_wall_time(text, zone)
            assert moment is not None
            assert field_text(moment, zone) == text
            assert day_of(moment, zone) == date.fromisoformat(text[:10])


@pytest.mark.parametrize(
    "text", ["", "soon", "2026-02-30T10:00", "2026-04-03T10:00+02:00", "0001-01-01T00:00", "nan"]
)
def test_what_is_no_time_on_a_clock_is_no_moment(text: str) -> None:
    assert read_wall_time(text, "Pacific/Auckland") is None


def test_zones_and_naive_times_are_told_apart() -> None:
    assert is_zone("Europe/Berlin")
    assert not is_zone("Europe/Atlantis")
    assert field_text(None, "UTC") == ""
    with pytest.raises(ValueError, match="carries a zone"):
        to_utc(datetime(2026, 1, 1, tzinfo=UTC), "UTC")
    with pytest.raises(ValueError, match="carries no zone"):
        to_wall(datetime(2026, 1, 1), "UTC")


@pytest.mark.parametrize("command", ["serve", "demo", "forecast", "migrate"])
def test_help_explains_every_command(command: str) -> None:
    whole, one = run.invoke(cli.app, ["--help"]), run.invoke(cli.app, [command, "--help"])
    assert (whole.exit_code, one.exit_code) == (0, 0)
    assert f"  {command}  " in whole.output
    assert len(one.output.split("Options:")[0].splitlines()) >= 3


def test_an_option_before_a_command_is_refused_not_ignored(tmp_path: Path) -> None:
    result = run.invoke(cli.app, ["--data", str(tmp_path), "migrate"])
    assert result.exit_code == 2
    assert "after the command" in result.output
    assert list(tmp_path.glob("*.db")) == []


def test_migrate_makes_the_logbook_and_says_so(tmp_path: Path) -> None:
    result = run.invoke(cli.app, ["migrate", "--data", str(tmp_path / "data")])
    assert result.exit_code == 0, result.output
    assert "is up to date" in result.output
    assert (tmp_path / "data" / "logbook.db").is_file()


def test_a_data_folder_that_cannot_be_used_is_said_in_words_without_a_trace(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for command in (["migrate"], ["demo", "--no-open", "--port", "0"], ["serve", "--no-open", "--port", "0"]):
        result = run.invoke(cli.app, [*command, "--data", str(tmp_path / "file")])
        assert result.exit_code == 1
        assert "choose another folder" in result.output
        assert "Traceback" not in result.output


def test_a_taken_port_is_said_in_words(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        result = run.invoke(cli.app, ["--data", str(tmp_path / "data"), "--port", str(port), "--no-open"])
    assert result.exit_code == 1
    assert f"Port {port} is taken" in result.output
    assert not (tmp_path / "data").exists()


def test_casewright_alone_serves_and_opens_the_browser(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    served: list[tuple[Settings, bool]] = []

    def note(settings: Settings, listeners: list[socket.socket], opens: bool) -> None:
        assert [listener.getsockname() for listener in listeners] == [("127.0.0.1", settings.port)]
        served.append((settings, opens))

    monkeypatch.setattr(running, "run_app", note)
    result = run.invoke(cli.app, ["--port", "0"])
    assert result.exit_code == 0, result.output
    ((settings, opens),) = served
    assert opens
    assert settings.host == "127.0.0.1"
    assert settings.port > 0
    assert settings.data_folder == default_data_folder()


def test_a_logbook_of_a_newer_casewright_stops_serve_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise LogbookNewer("This logbook was written by a newer casewright.")

    monkeypatch.setattr(running, "create_app", refuse)
    result = run.invoke(cli.app, ["serve", "--data", str(tmp_path / "data"), "--port", "0", "--no-open"])
    assert result.exit_code == 1
    assert "newer casewright" in result.output


def test_the_demo_never_touches_a_real_logbook(tmp_path: Path) -> None:
    from webapp.clock import SystemClock
    from webapp.store.engine import open_store
    from webapp.store.migrate import bring_up_to_date
    from webapp.store.tables import Shop
    from webapp.store.unit_of_work import Actor, write

    store = open_store(tmp_path)
    bring_up_to_date(store, SystemClock().now())
    with write(store, Actor("test bench"), SystemClock().now()) as work:
        work.add(Shop(id=1, name="A real shop"))
    store.close()
    result = run.invoke(cli.app, ["demo", "--data", str(tmp_path), "--port", "0", "--no-open"])
    assert result.exit_code == 1
    assert "real logbook" in result.output


def test_the_version_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    result = run.invoke(cli.app, ["--version"])
    assert result.exit_code == 0
    assert result.output.startswith("casewright ")
