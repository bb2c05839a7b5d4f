"""The house's habits that no linter holds: where files lie, how long they are, what is never in them."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "webapp",
    "model",
    "migrations",
    "tests",
    "static",
}
OUR_TEXT = {
    ".py",
    ".html",
    ".css",
    ".js",
    ".md",
    ".toml",
    ".mako",
    ".yml",
    ".yaml",
    ".txt",
    ".csv",
    ".json",
    ".sh",
}
MOST_LINES_A_FILE = 300
MOST_LINES_A_FUNCTION = 25
SHARE_THAT_MAY_BE_LONGER = 0.1
# words of the books that belong in code, the JSON interface and DEVELOPERS.md, never on a page
BOOK_WORDS = ("posterior", "residual", "prior", "stage", "potential", "severity", "variational", "sigma")


def kept_files() -> list[Path]:
    """Return the files under version control, or every file where there is none."""
    listed = subprocess.run(["git", "ls-files"], cwd=CHECKOUT, capture_output=True, text=True, check=False)
    if listed.returncode:
        return [path for path in CHECKOUT.rglob("*") if path.is_file()]
    return [CHECKOUT / name for name in listed.stdout.splitlines() if (CHECKOUT / name).is_file()]


FILES = kept_files()


def ours(
    *suffixes: str, rooms: tuple[str, ...] = ("webapp", "model", "migrations", "tests", "static")
) -> list[Path]:
    return [
        path
        for path in FILES
        if path.suffix in suffixes
        and path.relative_to(CHECKOUT).parts[0] in rooms
        and "vendor" not in path.relative_to(CHECKOUT).parts
    ]


def short(path: Path) -> str:
    return path.relative_to(CHECKOUT).as_posix()


def test_the_top_level_is_fixed() -> None:
    seen = {path.relative_to(CHECKOUT).parts[0] for path in FILES}
    assert {name for name in seen if not name.startswith(".")} <= TOP_LEVEL
    assert {"pyproject.toml", "webapp", "model", "migrations", "tests", "static"} <= seen


def test_no_file_names_a_place_of_the_machine_it_was_written_on() -> None:
    own_home = re.compile(r"/(?:home|Users|root|work)/[A-Za-z.]")
    told = [
        f"{short(path)}:{number}"
        for path in FILES
        if path.suffix in OUR_TEXT and "vendor" not in path.parts and path != Path(__file__).resolve()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if own_home.search(line)
    ]
    assert told == []


def test_nothing_writes_to_the_window_but_through_the_command_line() -> None:
    told = [
        f"{short(path)}:{node.lineno}"
        for path in ours(".py", rooms=("webapp", "model", "migrations"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in ("print", "breakpoint")
    ]
    assert told == []


def test_every_proof_that_the_table_of_guards_names_is_there() -> None:
    told = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8")
    guards = told.split("## Guards, and what proves them")[1].split("\n## ")[0]
    named = re.findall(r"`((?:tests/)?[\w/]*test_\w+\.py)(?:::(\w+))?`", guards)
    text_of = {short(path): path.read_text(encoding="utf-8") for path in ours(".py", rooms=("tests",))}
    lost = [
        f"{name}::{test}"
        for name, test in named
        if not any(path.endswith(f"/{name}") or path == name for path in text_of)
        or not any(f"def {test}" in text for path, text in text_of.items() if path.endswith(name))
    ]
    assert lost == []
    assert len(named) > 20
    rows = [line for line in guards.splitlines() if line.startswith("| ")][1:]
    assert [row for row in rows if "test" not in row.split("|")[3] and "**open**" not in row] == []


def test_most_files_are_short() -> None:
    files = ours(".py", rooms=("webapp", "model"))
    long = [
        short(path)
        for path in files
        if len(path.read_text(encoding="utf-8").splitlines()) > MOST_LINES_A_FILE
    ]
    assert len(long) <= SHARE_THAT_MAY_BE_LONGER * len(files), long


def test_most_functions_are_short() -> None:
    lengths = {
        f"{short(path)}:{node.name}": body_lines(node)
        for path in ours(".py", rooms=("webapp", "model"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    long = [name for name, length in lengths.items() if length > MOST_LINES_A_FUNCTION]
    assert len(long) <= SHARE_THAT_MAY_BE_LONGER * len(lengths), long


def body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Return how many lines a function's body has, without its docstring."""
    first = node.body[0]
    has_docstring = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    statements = node.body[1:] if has_docstring else node.body
    return (node.end_lineno or 0) - statements[0].lineno + 1 if statements else 0


def test_every_module_says_what_it_is() -> None:
    silent = [
        short(path)
        for path in ours(".py", rooms=("webapp", "model"))
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []


def test_pages_talk_shop_not_statistics() -> None:
    pattern = re.compile(rf"\b({'|'.join(BOOK_WORDS)})s?\b", re.IGNORECASE)
    told = [
        f"{short(path)}: {found.group()}"
        for path in ours(".html", rooms=("webapp",))
        for found in pattern.finditer(shown_words(path.read_text(encoding="utf-8")))
    ]
    assert told == []


def shown_words(template: str) -> str:
    """Return what a reader sees of a template: no tags, no template code, no comments."""
    for pattern in (r"\{#.*?#\}", r"\{%.*?%\}", r"\{\{.*?\}\}", r"<[^>]*>"):
        template = re.sub(pattern, " ", template, flags=re.DOTALL)
    return template


def test_templates_hold_no_script_and_no_style_of_their_own() -> None:
    pattern = re.compile(
        r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*(?:\ssrc=|application/json))", re.IGNORECASE
    )
    told = [
        f"{short(path)}: {found.group()}"
        for path in ours(".html", rooms=("webapp",))
        for found in pattern.finditer(path.read_text(encoding="utf-8"))
    ]
    assert told == []


@pytest.mark.parametrize("sleepy", [r"\btime\.sleep\(", r"\bdatetime\.now\(\)", r"\bdatetime\.utcnow\("])
def test_tests_wait_for_things_not_for_time(sleepy: str) -> None:
    told = [
        short(path)
        for path in ours(".py", rooms=("tests",))
        if path != Path(__file__).resolve() and re.search(sleepy, path.read_text(encoding="utf-8"))
    ]
    assert told == []
