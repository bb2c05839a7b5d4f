"""The server as it is started: its addresses, https, slow and many callers, the passcode's commands."""

from __future__ import annotations

import asyncio
import os
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from typer.testing import CliRunner

from tests.web.lan import PASSCODE
from tests.web.run_aside import run_aside
from webapp import cli
from webapp.clock import SystemClock
from webapp.commands import passcode as passcode_command
from webapp.commands import patient_server, running
from webapp.commands import serve as serve_command
from webapp.commands.listening import CannotListen, Network, listen, listen_at_all, settings_of
from webapp.gate import network
from webapp.gate.door import Door
from webapp.gate.network import NoAddress, choose_reach
from webapp.gate.pairing import drawn_for_a_terminal
from webapp.security import LimitedBody, Patience
from webapp.settings import Settings

run = CliRunner()
PATIENCE_S = 20.0


@pytest.mark.parametrize(
    ("told", "bound", "opened"),
    [
        ("192.168.1.20", "192.168.1.20", "192.168.1.20"),
        ("fd00::2", "fd00::2", "fd00::2"),
        ("0.0.0.0", "0.0.0.0", "10.1.2.3"),
        ("", "10.1.2.3", "10.1.2.3"),
    ],
)
def test_the_address_is_the_one_that_was_given_else_the_one_found(
    monkeypatch: pytest.MonkeyPatch, told: str, bound: str, opened: str
) -> None:
    monkeypatch.setattr(network, "_found", lambda: "10.1.2.3")
    reach = choose_reach(told)
    assert (reach.bound, reach.opened) == (bound, opened)


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ("shop.local", "behind --name"),
        ("127.0.0.1", "this computer alone"),
        ("::1", "this computer alone"),
        ("192.168.1.20:80", "no address in numbers"),
    ],
)
def test_what_is_no_address_of_a_network_is_refused_with_the_way_out(told: str, why: str) -> None:
    with pytest.raises(NoAddress, match=why):
        choose_reach(told)


def test_an_address_the_whole_internet_reaches_is_taken_only_when_it_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(network, "_found", lambda: "8.8.8.8")
    with pytest.raises(NoAddress, match=r"--address 8\.8\.8\.8"):
        choose_reach("")
    assert choose_reach("8.8.8.8").bound == "8.8.8.8"


def test_loopback_is_what_is_taken_when_nothing_else_is_asked(tmp_path: Path) -> None:
    settings = settings_of(tmp_path, "127.0.0.1", 0, Network())
    assert not settings.is_lan
    (listener,) = listen_at_all(settings)
    with closing(listener):
        assert listener.getsockname()[0] == "127.0.0.1"


def test_on_a_network_this_computers_own_address_goes_on_answering_at_the_same_port(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = settings_of(tmp_path, "127.0.0.1", 0, Network(is_lan=True, address="192.168.1.20"))
    taken: list[tuple[str, int]] = []

    def note(host: str, port: int) -> socket.socket:
        taken.append((host, port))
        return listen("127.0.0.1", 0)

    monkeypatch.setattr("webapp.commands.listening.listen", note)
    listeners = listen_at_all(settings)
    assert taken == [("127.0.0.1", 0), ("192.168.1.20", listeners[0].getsockname()[1])]
    for listener in listeners:
        listener.close()


@pytest.mark.parametrize(
    ("network_", "why"),
    [
        (Network(address="192.168.1.20"), "goes with --lan"),
        (Network(names=("http://shop.local",)), "no computer's name"),
        (Network(names=("shop.local:8350",)), "no computer's name"),
        (Network(certificate=Path("x")), "go together"),
        (Network(certificate=Path("no-such"), key=Path("no-such")), "cannot be used: No such file"),
    ],
)
def test_options_that_do_not_go_together_are_refused_in_words(
    tmp_path: Path, network_: Network, why: str
) -> None:
    with pytest.raises(CannotListen, match=why):
        settings_of(tmp_path, "127.0.0.1", 0, network_)


def test_an_address_of_another_computer_is_said_in_words(tmp_path: Path) -> None:
    options = ["--lan", "--address", "203.0.113.9", "--data", str(tmp_path / "data"), "--port", "0"]
    result = run.invoke(cli.app, ["serve", *options, "--no-open"])
    assert result.exit_code == 1
    assert "not an address of this computer" in result.output


@contextmanager
def served(app: object, **options: object) -> Iterator[int]:
    """Serve an app by the server's own protocol and give its port."""
    with closing(listen("127.0.0.1", 0)) as listener:
        config = uvicorn.Config(
            app,  # type: ignore[arg-type]
            http=patient_server.PatientProtocol,
            ws="none",
            lifespan="off",
            log_level="warning",
            **options,  # type: ignore[arg-type]
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        yield listener.getsockname()[1]
        server.should_exit = True
        thread.join(PATIENCE_S)


def test_one_who_connects_and_says_nothing_is_let_go_and_one_who_asks_is_answered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(patient_server, "HEAD_WITHIN_S", 0.2)
    with served(PlainTextResponse("here")) as port:
        for beginning in (b"", b"GET / HTTP/1.1\r\nHost: x\r\n"):
            with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as silent:
                silent.sendall(beginning)
                with suppress(ConnectionResetError):
                    assert silent.recv(100) == b""
        monkeypatch.setattr(patient_server, "HEAD_WITHIN_S", PATIENCE_S)  # this machine may be busy
        assert httpx.get(f"http://127.0.0.1:{port}/").text == "here"


def answered_in_the_end(port: int) -> str:
    """Ask until the server has noticed that somebody left."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        with suppress(httpx.TransportError):
            return httpx.get(f"http://127.0.0.1:{port}/").text
    return ""


def test_one_address_cannot_take_every_connection(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patient_server, "MOST_FROM_ONE", 2)
    with served(PlainTextResponse("here")) as port:
        held = [socket.create_connection(("127.0.0.1", port), PATIENCE_S) for _ in range(2)]
        for one in held:
            one.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            assert one.recv(1000).startswith(b"HTTP/1.1 200")
        with pytest.raises(httpx.TransportError):
            httpx.get(f"http://127.0.0.1:{port}/")
        held.pop().close()
        assert answered_in_the_end(port) == "here"
        held.pop().close()


def test_a_head_that_is_too_large_is_refused() -> None:
    size = patient_server.LARGEST_HEAD_BYTES
    with served(PlainTextResponse("here"), h11_max_incomplete_event_size=size) as port:
        assert httpx.get(f"http://127.0.0.1:{port}/", headers={"x-long": "x" * 5000}).text == "here"
        with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as endless:
            with suppress(ConnectionError):
                endless.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX-Long: " + b"x" * 20 * size)
            with suppress(ConnectionResetError):
                assert endless.recv(100).startswith(b"HTTP/1.1 400")


def test_a_body_that_trickles_is_given_up_and_one_that_is_only_slow_is_not() -> None:
    assert Patience().left_s(0, 0.0) == 30.0
    assert Patience().left_s(0, 31.0) == 0.0
    assert Patience().left_s(100 * 2**20, 3600.0) > 0.0  # a large photo over weak Wi-Fi

    async def read_all(scope: Scope, receive: Receive, send: Send) -> None:
        while (await receive()).get("more_body"):
            pass
        await asyncio.wait_for(receive(), PATIENCE_S)  # the body is whole: waits for the browser to go

    async def think_first(scope: Scope, receive: Receive, send: Send) -> None:
        await asyncio.sleep(0.1)  # what the app takes before it asks, as for a long export, is its own doing
        await read_all(scope, receive, send)

    async def ask(pieces: list[Message], first_s: float, app: ASGIApp = read_all) -> None:
        async def receive() -> Message:
            if not pieces:
                await asyncio.Event().wait()
            return pieces.pop(0)

        async def send(message: Message) -> None:
            raise AssertionError

        scope = {"type": "http", "path": "/parts", "headers": []}
        await LimitedBody(app, Patience(first_s))(scope, receive, send)

    def piece(more: bool) -> Message:
        return {"type": "http.request", "body": b"x", "more_body": more}

    with pytest.raises(HTTPException) as refused:
        run_aside(ask([piece(True)], 0.05))
    assert refused.value.status_code == 408
    for first_s, app in ((PATIENCE_S, read_all), (0.05, think_first)):
        whole = [piece(True), piece(False), {"type": "http.disconnect"}]
        run_aside(ask(whole, first_s, app))


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate made by the test for itself."""
    if shutil.which("openssl") is None:
        pytest.skip("there is no openssl on this machine to make a certificate with")
    folder = tmp_path_factory.mktemp("certificate")
    made, key = folder / "shop.pem", folder / "shop.key"
    command = "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2"
    name = ["-subj", "/CN=shop.local", "-addext", "subjectAltName=DNS:shop.local,IP:127.0.0.1"]
    subprocess.run([*command.split(), "-keyout", key, "-out", made, *name], check=True, capture_output=True)
    return made, key


def test_https_works_with_a_certificate_of_ones_own(tmp_path: Path, certificate: tuple[Path, Path]) -> None:
    made, key = certificate
    settings = settings_of(tmp_path, "127.0.0.1", 0, Network(certificate=made, key=key))
    assert settings.url.startswith("https://")
    trusting = ssl.create_default_context(cafile=str(made))
    with served(PlainTextResponse("locked"), ssl_certfile=made, ssl_keyfile=key) as port:
        assert httpx.get(f"https://127.0.0.1:{port}/", verify=trusting).text == "locked"


def test_a_key_that_is_locked_or_of_another_certificate_is_said_in_words(
    tmp_path: Path, certificate: tuple[Path, Path]
) -> None:
    made, key = certificate
    locked = tmp_path / "locked.key"
    command = f"openssl pkey -in {key} -aes128 -passout pass:secret -out {locked}"
    subprocess.run(command.split(), check=True, capture_output=True)
    with pytest.raises(CannotListen, match="without"):
        settings_of(tmp_path, "127.0.0.1", 0, Network(certificate=made, key=locked))
    with pytest.raises(CannotListen, match="cannot be used"):
        settings_of(tmp_path, "127.0.0.1", 0, Network(certificate=made, key=made))


def door_in(folder: Path) -> Door:
    return Door(folder, SystemClock())


@pytest.fixture
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the commands hash at the least cost."""
    monkeypatch.setattr(passcode_command, "Door", lambda folder, clock: Door(folder, clock, 2**4))


def test_passcode_reset_lets_the_owner_back_in_and_signs_everybody_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cheap: None
) -> None:
    door = Door(tmp_path, SystemClock(), 2**4)
    door.set_passcode("forgotten since")
    token = door.let_in("shop tablet")
    for _ in range(6):
        door.sign_in("wrong", "192.168.1.77", "x")
    monkeypatch.setattr(passcode_command, "is_typed_at", lambda: True)
    typed = f"short\n{PASSCODE}\nsomething else\n{PASSCODE}\n{PASSCODE}\n"
    result = run.invoke(cli.app, ["passcode", "reset", "--data", str(tmp_path)], input=typed)
    assert result.exit_code == 0, result.output
    assert "8 signs or more" in result.output
    assert "not the same" in result.output
    assert PASSCODE not in result.output
    assert door.find(token) is None
    assert door.sign_in(PASSCODE, "192.168.1.77", "x").token


def test_passcode_reset_without_a_terminal_shuts_the_door_and_says_where_to_go_on(
    tmp_path: Path, cheap: None
) -> None:
    Door(tmp_path, SystemClock(), 2**4).set_passcode(PASSCODE)
    result = run.invoke(cli.app, ["passcode", "reset", "--data", str(tmp_path)])
    assert result.exit_code == 0
    assert "Shop, Tablets and passcode" in result.output
    assert not door_in(tmp_path).has_passcode


def test_a_code_is_drawn_in_the_terminal_once_tablets_can_reach_this_computer(
    tmp_path: Path, cheap: None
) -> None:
    too_early = run.invoke(cli.app, ["passcode", "pair", "--data", str(tmp_path)])
    assert too_early.exit_code == 1
    assert "casewright serve --lan first" in too_early.output
    door = door_in(tmp_path)
    door.note_reached_at("http://192.168.1.20:8350")
    result = run.invoke(cli.app, ["passcode", "pair", "--data", str(tmp_path)])
    code = result.output.split("http://192.168.1.20:8350/pair/")[1].split()[0]
    assert door.is_open_code(code)
    assert "▀" in result.output


def test_a_terminals_code_reads_as_the_address() -> None:
    import segno

    address = "http://192.168.1.20:8350/pair/abc"
    matrix = segno.make(address, error="l", micro=False).matrix
    lines = [line[len("\x1b[97;40m") : -len("\x1b[0m")] for line in drawn_for_a_terminal(address).split("\n")]
    drawn = [[block in half for block in line] for line in lines for half in ("█▀", "█▄")]
    light = [[not module for module in row] for row in matrix]
    inner = [row[2:-2] for row in drawn[2:]]
    assert inner[: len(light)] == light


@pytest.mark.parametrize("address", ["", "192.168.1.20"])
def test_serve_sees_to_a_passcode_before_others_can_knock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    order: list[str] = []
    monkeypatch.setattr(serve_command, "listen_at_all", lambda _: [listen("127.0.0.1", 0)])
    monkeypatch.setattr(serve_command, "ask_for_passcode", lambda _: order.append("asked"))
    monkeypatch.setattr(running, "run_app", lambda *_: order.append("ran"))
    options = ["--lan", "--address", address] if address else []
    folder = tmp_path / "data"
    result = run.invoke(cli.app, ["serve", *options, "--data", str(folder), "--no-open"])
    assert result.exit_code == 0, result.output
    assert order == (["asked", "ran"] if address else ["ran"])
    assert (folder / "door.db").exists() == bool(address)


def test_the_server_is_started_with_its_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[uvicorn.Config] = []

    def note(server: uvicorn.Server, sockets: object) -> None:
        seen.append(server.config)

    monkeypatch.setattr(running.AnnouncedServer, "run", note)
    monkeypatch.setattr(running, "create_app", lambda _: PlainTextResponse("x"))
    running.run_app(Settings(tmp_path), [], open_browser=False)
    (config,) = seen
    assert config.http is patient_server.PatientProtocol
    assert (config.limit_concurrency, config.timeout_keep_alive, config.timeout_graceful_shutdown) == (
        256,
        5,
        3,
    )
    assert config.h11_max_incomplete_event_size == 32 * 1024
    assert not config.proxy_headers
    assert config.ws == "none"


def test_the_owner_alone_may_read_the_file_whatever_the_machine_allows(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        door_in(tmp_path).note_reached_at("http://192.168.1.20:8350")
    finally:
        os.umask(before)
    assert door_in(tmp_path).file.path.stat().st_mode & 0o777 == 0o600
