"""`casewright passcode`: a new passcode, or a code for one tablet, in the terminal of the machine itself."""

from __future__ import annotations

import sys
from pathlib import Path

import typer

from webapp.clock import SystemClock
from webapp.gate.door import Door
from webapp.gate.door_file import DoorTrouble
from webapp.gate.pairing import LASTS_S, address_of, drawn_for_a_terminal
from webapp.gate.passcode import what_is_wrong

NOT_STARTED = "No tablet reaches this computer yet. Start it with casewright serve --lan first."


def reset(data_folder: Path) -> None:
    """Throw the passcode away, sign every device out, and ask for a new one where somebody can type it."""
    door = Door(data_folder, SystemClock())
    try:
        data_folder.mkdir(parents=True, exist_ok=True)
        door.forget_passcode()
        typer.echo("The passcode is gone and every device is signed out.")
        ask_for_passcode(door)
    except (DoorTrouble, OSError) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error


def ask_for_passcode(door: Door) -> None:
    """Ask for a new passcode in the terminal, until one will do; without a terminal say where to set it."""
    if not is_typed_at():
        typer.echo(
            "No passcode is set: nobody gets in from another device. Set one on this computer, in the app: "
            "Shop, Tablets and passcode."
        )
        return
    while True:
        new = typer.prompt("New passcode for tablets, 8 signs or more", hide_input=True)
        problem = what_is_wrong(new)
        if not problem and typer.prompt("The same once more", hide_input=True) != new:
            problem = "The two are not the same."
        if not problem:
            door.set_passcode(new)
            typer.echo("The passcode is set.")
            return
        typer.echo(problem)


def pair(data_folder: Path) -> None:
    """Draw a code for one tablet."""
    door = Door(data_folder, SystemClock())
    try:
        base = door.reached_at
        if not base:
            typer.echo(NOT_STARTED, err=True)
            raise typer.Exit(1)
        show_code(door, base)
    except DoorTrouble as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error


def show_code(door: Door, base: str) -> None:
    """Draw a fresh code, with what it is for under it."""
    address = address_of(base, door.new_code())
    typer.echo(drawn_for_a_terminal(address))
    typer.echo(f"Point one tablet's camera at it within {LASTS_S / 60:.0f} minutes, or type {address} there.")


def is_typed_at() -> bool:
    """Tell whether somebody sits at the terminal."""
    return sys.stdin.isatty()
