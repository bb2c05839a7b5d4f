"""The command `casewright`: each command is described here and done in `webapp/commands`.

Commands import what they need when they run, so that `casewright --help` answers at once.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from webapp.collector import kept_for_good
from webapp.settings import DEFAULT_HOST, DEFAULT_PORT, default_data_folder

app = typer.Typer(
    help="A workshop logbook that plans pack carburizing batches and learns the constants of your own forge.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

DataFolder = Annotated[
    Path | None,
    typer.Option("--data", help="Folder that holds the logbook. [default: this user's own data folder]"),
]
Port = Annotated[
    int, typer.Option(min=0, max=65535, help="Port to answer on; 0 takes a free one.", metavar="NUMBER")
]
NoOpen = Annotated[bool, typer.Option("--no-open", help="Do not open the browser.")]


def show_version(wanted: bool) -> None:
    """Say the version and stop."""
    if wanted:
        from webapp.services.condition import program_version

        typer.echo(f"casewright {program_version()}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    data: DataFolder = None,
    port: Port = DEFAULT_PORT,
    no_open: NoOpen = False,
    _version: Annotated[
        bool,
        typer.Option("--version", callback=show_version, is_eager=True, help="Show the version and stop."),
    ] = False,
) -> None:
    """Plan pack carburizing batches and learn the constants of your own forge.

    Without a command: start the app on this computer and open it in the browser.
    """
    if context.invoked_subcommand is None:
        with kept_for_good():
            from webapp.commands.serve import serve as run

        run(data or default_data_folder(), DEFAULT_HOST, port, open_browser=not no_open)
    elif data is not None or no_open or port != DEFAULT_PORT:
        # they would silently be ignored, and another logbook opened than the one that was meant
        raise typer.BadParameter(f"write it after the command: casewright {context.invoked_subcommand} ...")


@app.command()
def serve(
    data: DataFolder = None,
    port: Port = DEFAULT_PORT,
    no_open: NoOpen = False,
    lan: Annotated[
        bool, typer.Option("--lan", help="Answer tablets on the shop's network too, behind a passcode.")
    ] = False,
    address: Annotated[
        str,
        typer.Option(help="Address to answer on with --lan; 0.0.0.0 is every one. [default: the one found]"),
    ] = "",
    name: Annotated[
        list[str] | None,
        typer.Option(help="A name by which tablets find this computer, as in shop.local; may be repeated."),
    ] = None,
    tls_cert: Annotated[Path | None, typer.Option(help="Certificate (PEM), to speak https.")] = None,
    tls_key: Annotated[Path | None, typer.Option(help="The certificate's key (PEM).")] = None,
) -> None:
    """Start the app on this computer and open it in the browser; with --lan tablets can open it too."""
    with kept_for_good():
        from webapp.commands.listening import Network
        from webapp.commands.serve import serve as run

    network = Network(lan, address, tuple(name or ()), tls_cert, tls_key)
    run(data or default_data_folder(), DEFAULT_HOST, port, not no_open, network)


@app.command()
def demo(data: DataFolder = None, port: Port = DEFAULT_PORT, no_open: NoOpen = False) -> None:
    """Start the app on an invented shop's logbook, apart from your own."""
    from webapp.commands.demo import demo as run

    run(
        data or default_data_folder().with_name("casewright-demo"),
        DEFAULT_HOST,
        port,
        open_browser=not no_open,
    )


@app.command()
def forecast(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A JSON file, or - for standard input.")],
) -> None:
    """Forecast one batch from a JSON file and write the result as JSON; opens no logbook."""
    from webapp.commands.forecast import run_forecast

    raise typer.Exit(run_forecast(file))


@app.command()
def migrate(data: DataFolder = None) -> None:
    """Bring the logbook up to date, after taking a copy; starting the app does the same."""
    from webapp.commands.migrate import migrate as run

    run(data or default_data_folder())


@app.command()
def read_back(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A whole export: JSON, or a zip of tables.")],
    data: DataFolder = None,
) -> None:
    """Make a logbook from a whole export, in a folder that holds none yet."""
    from webapp.commands.read_back import read_back as run

    run(file, data or default_data_folder())


@app.command()
def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The zip to write; it must not be there yet.")],
    data: DataFolder = None,
) -> None:
    """Write everything, photos too, to one zip that is checked when made; the app may run meanwhile."""
    from webapp.commands.backup import backup as run

    run(file, data or default_data_folder())


@app.command()
def restore(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A backup, one of the copies, or a whole export.")
    ],
    data: DataFolder = None,
) -> None:
    """Check a copy and put it in the place of the logbook, which is kept aside; stop the app first."""
    from webapp.commands.backup import restore as run

    run(file, data or default_data_folder())


passcode = typer.Typer(help="The passcode by which tablets come in.", rich_markup_mode=None)
app.add_typer(passcode, name="passcode")


@passcode.command()
def reset(data: DataFolder = None) -> None:
    """Let me back in: ask for a new passcode and sign every device out; works while the app runs."""
    from webapp.commands.passcode import reset as run

    run(data or default_data_folder())


@passcode.command()
def pair(data: DataFolder = None) -> None:
    """Show a code here that lets one tablet in, while the app runs with --lan."""
    from webapp.commands.passcode import pair as run

    run(data or default_data_folder())


def main() -> None:
    """Run the command line."""
    app()


if __name__ == "__main__":
    main()
