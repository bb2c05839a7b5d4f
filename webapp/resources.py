"""Where the files that are not code lie: in the checkout first, else inside the installed package."""

from __future__ import annotations

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent
CHECKOUT = PACKAGE.parent


def migrations_folder() -> Path:
    """Return the folder of the migrations."""
    return _first_that_holds("env.py", CHECKOUT / "migrations", PACKAGE / "_migrations")


def static_folder() -> Path:
    """Return the folder of style sheets, scripts and pictures."""
    return _first_that_holds("css", CHECKOUT / "static", PACKAGE / "_static")


def templates_folder() -> Path:
    """Return the folder of the page templates."""
    return PACKAGE / "templates"


def _first_that_holds(name: str, *folders: Path) -> Path:
    for folder in folders:
        if (folder / name).exists():
            return folder
    listed = " or ".join(str(folder) for folder in folders)
    raise FileNotFoundError(f"casewright is not whole: {name} is missing from {listed}. Install it again.")
