"""Taking the port before anything else is opened, on this computer and on the shop's network."""

from __future__ import annotations

import errno
import re
import socket
import ssl
import sys
from dataclasses import dataclass, replace
from pathlib import Path

from webapp.gate.network import NoAddress, choose_reach
from webapp.settings import ANY_ADDRESS, Settings

WAITING_CONNECTIONS = 128
ANY_IPV4 = ANY_ADDRESS[0]
NAME = re.compile(r"[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)*")


class CannotListen(Exception):
    """The port, the address or the certificate cannot be used; `str()` is fit to show."""


@dataclass(frozen=True)
class Network:
    """What was said about the shop's network: whether and where to answer, under which names, locked how."""

    is_lan: bool = False
    address: str = ""
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None


def settings_of(data_folder: Path, host: str, port: int, network: Network) -> Settings:
    """Return the settings that were asked for; raises `CannotListen` where they do not go together."""
    _check_names(network)
    _check_lock(network)
    here = Settings(
        data_folder, host, port, names=network.names, certificate=network.certificate, key=network.key
    )
    if not network.is_lan:
        if network.address:
            raise CannotListen("--address says where to answer on the network: it goes with --lan.")
        return here
    try:
        reach = choose_reach(network.address)
    except NoAddress as problem:
        raise CannotListen(str(problem)) from None
    return replace(here, address=reach.bound, opened_at=reach.opened)


def listen_at_all(settings: Settings) -> list[socket.socket]:
    """Return the sockets to answer on; port 0 takes a free one, the same for all."""
    if settings.address == ANY_IPV4:
        return [listen(ANY_IPV4, settings.port)]
    here = listen(settings.host, settings.port)
    if not settings.is_lan:
        return [here]
    try:
        return [here, listen(settings.address, here.getsockname()[1])]
    except CannotListen:
        here.close()
        raise


def listen(host: str, port: int) -> socket.socket:
    """Take a port at an address of this computer."""
    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there the same switch would let two programs share the port
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if ":" in host:
        listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
    try:
        listener.bind((host, port))
        listener.listen(WAITING_CONNECTIONS)
    except OSError as error:
        listener.close()
        raise CannotListen(_why_not(error, host, port)) from error
    return listener


def _why_not(error: OSError, host: str, port: int) -> str:
    if error.errno == errno.EADDRNOTAVAIL:
        return f"{host} is not an address of this computer. Leave --address out, and the one it has is taken."
    if error.errno == errno.EADDRINUSE:
        return f"Port {port} is taken by another program. Choose another one with --port."
    return f"Port {port} cannot be used. Choose another one with --port."


def _check_names(network: Network) -> None:
    for name in network.names:
        if not NAME.fullmatch(name):
            raise CannotListen(f"“{name}” is no computer's name. Give it without http:// and without a port.")


def _check_lock(network: Network) -> None:
    if not network.certificate and not network.key:
        return
    if not network.certificate or not network.key:
        raise CannotListen("--tls-cert and --tls-key go together: the certificate and its key.")
    try:
        tried = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        tried.load_cert_chain(network.certificate, network.key, _no_password)
    except OSError as problem:  # SSLError is one
        raise CannotListen(
            f"The certificate {network.certificate} and the key {network.key} cannot be used: "
            f"{problem.strerror or problem}. Both must be PEM files, the key without a password."
        ) from problem


def _no_password() -> str:
    raise CannotListen("The key for --tls-key is locked with a password. Give one without.")
