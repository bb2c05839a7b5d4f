"""Who may know whom: the house's import rules, read from the source, and no circle anywhere."""

from __future__ import annotations

import ast
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
ROOMS = ("model", "webapp")


def modules() -> dict[str, Path]:
    found = {}
    for room in ROOMS:
        for path in sorted((CHECKOUT / room).rglob("*.py")):
            parts = path.relative_to(CHECKOUT).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = modules()


def imports_of(path: Path, at_load: bool = False) -> set[str]:
    """Return the modules a file imports; `at_load` leaves out what functions import when they run."""
    return names_in(ast.parse(path.read_text(encoding="utf-8")), at_load)


def names_in(tree: ast.AST, at_load: bool) -> set[str]:
    names: set[str] = set()
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written out in full"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            known = {name for name in inner if name in MODULES}
            names |= known or {str(node.module)}
        elif not (at_load and is_left_for_later(node)):
            names |= names_in(node, at_load)
    return names


def is_left_for_later(node: ast.AST) -> bool:
    is_for_types = isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    return is_for_types or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)


def inside(name: str, *rooms: str) -> bool:
    return any(name == room or name.startswith(f"{room}.") for room in rooms)


def offences(room: str, *forbidden: str, allowed: tuple[str, ...] = ()) -> list[str]:
    return [
        f"{module} imports {name}"
        for module, path in MODULES.items()
        if inside(module, room)
        for name in sorted(imports_of(path))
        if inside(name, *forbidden) and not inside(name, *allowed)
    ]


def test_the_reader_of_imports_sees_all_that_it_should() -> None:
    source = "import a.b\nfrom webapp.store import engine\nfrom os import path\ndef f():\n    import late\n"
    assert names_in(ast.parse(source), at_load=False) == {"a.b", "webapp.store.engine", "os", "late"}
    assert names_in(ast.parse(source), at_load=True) == {"a.b", "webapp.store.engine", "os"}
    assert len(MODULES) > 50


def test_the_model_imports_numpy_scipy_and_the_standard_library_only() -> None:
    outside = {
        f"{module} imports {name}"
        for module, path in MODULES.items()
        if inside(module, "model")
        for name in imports_of(path)
        if name.split(".")[0] not in {"model", "numpy", "scipy", *sys.stdlib_module_names}
    }
    assert outside == set()


def test_the_model_opens_no_clock_and_no_database() -> None:
    assert offences("model", "time", "datetime", "sqlite3", "random", "socket", "urllib") == []


def test_pages_never_call_the_model_or_touch_tables() -> None:
    assert (
        offences("webapp.pages", "model", "webapp.store.tables", "webapp.store.migrate", "sqlalchemy") == []
    )


def test_forms_know_no_services_no_pages_and_no_store() -> None:
    assert offences("webapp.forms", "webapp.services", "webapp.pages", "webapp.store", "fastapi") == []


def test_services_know_no_pages_and_no_web_framework() -> None:
    assert offences("webapp.services", "webapp.pages", "fastapi", "starlette", "webapp.templating") == []


def test_the_store_knows_nothing_above_it() -> None:
    below = ("webapp.store", "webapp.resources")
    assert offences("webapp.store", "webapp", "model", "fastapi", allowed=below) == []


def test_the_gate_knows_no_pages_no_services_and_nothing_of_the_logbook() -> None:
    rooms = ("model", "webapp.pages", "webapp.services", "webapp.store", "webapp.dependencies")
    assert offences("webapp.gate", *rooms, allowed=("webapp.store.errors",)) == []


def test_a_start_loads_nothing_that_is_slow_and_seldom_needed() -> None:
    reached, waiting, outside = set(), {"webapp.commands.serve", "webapp.commands.running"}, set()
    while waiting:
        name = waiting.pop()
        reached.add(name)
        found = imports_of(MODULES[name], at_load=True)
        outside |= {one.split(".")[0] for one in found - set(MODULES)}
        waiting |= (found & set(MODULES)) - reached
    assert "webapp.services.read_back" in reached
    assert outside & {"alembic", "pillow_heif"} == set()


def test_the_compute_worker_opens_the_database_in_one_place_and_sums_know_nothing_of_it() -> None:
    for name in ("webapp.worker_child", "webapp.services.fit_job", "webapp.services.teach_job"):
        reached, waiting = set(), {name}
        while waiting:
            module = waiting.pop()
            reached.add(module)
            waiting |= (imports_of(MODULES[module]) & set(MODULES)) - reached
        assert [module for module in sorted(reached) if inside(module, "webapp.store")] == []
    readers = [
        name for name, path in MODULES.items() if "webapp.store.engine.read_beside" in names_told(path)
    ]
    assert readers == ["webapp.services.book_fit"]


def names_told(path: Path) -> set[str]:
    """Return what a file imports by name from modules."""
    tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    froms = [node for node in tree if isinstance(node, ast.ImportFrom)]
    return {f"{node.module}.{alias.name}" for node in froms for alias in node.names}


def test_there_is_no_circle_of_imports() -> None:
    graph = {module: imports_of(path, at_load=True) & set(MODULES) for module, path in MODULES.items()}
    # a package that gathers its own modules is no circle by itself
    order = list(TopologicalSorter(graph).static_order())
    assert set(order) == set(MODULES)


def loaded_with(module: str) -> set[str]:
    """Return what is loaded with one of our modules, and what those load of ours."""
    reached, waiting = set(), {module}
    while waiting:
        name = waiting.pop()
        reached.add(name)
        if name in MODULES:
            waiting |= imports_of(MODULES[name], at_load=True) - reached
    return reached


def test_the_app_opens_with_the_small_rooms_of_scipy_only() -> None:
    # its statistics alone take half a second, a fifth of the start; whoever needs more loads it at first use
    rooms = {name for name in loaded_with("webapp.app") if inside(name, "scipy")}
    assert rooms == {"scipy.special", "scipy.linalg.lapack"}


BEFORE_THE_ROOMS = "from webapp.commands import serve"
THE_ROOMS = "from webapp.commands import running"
FITS_ARE_THE_WORKERS = {"model.calibration", "model.emulated", "model.sampler", "webapp.services.fit_job"}
SELDOM_NEEDED = {
    *("scipy.stats", "scipy.integrate", "scipy.optimize", "scipy.interpolate", "scipy.sparse"),
    *("alembic", "mako", "pillow_heif", "rich", "pygments", "httpx", "webapp.demo"),
}


def loaded_by(source: str) -> set[str]:
    """Return what a fresh process has loaded after some source, ours and not."""
    asked = [sys.executable, "-c", f"{source}\nimport sys\nprint(*sys.modules)"]
    answer = subprocess.run(asked, cwd=CHECKOUT, capture_output=True, text=True, check=True)
    return set(answer.stdout.split())


def test_a_start_loads_no_library_and_no_room_of_ours_that_the_server_does_not_need() -> None:
    loaded = loaded_by(f"{BEFORE_THE_ROOMS}\n{THE_ROOMS}")
    assert {"webapp.app", "model.forecast", "scipy.special"} <= loaded
    assert loaded & (SELDOM_NEEDED | FITS_ARE_THE_WORKERS) == set()


def test_the_logbook_is_looked_through_before_the_rooms_are_loaded() -> None:
    loaded = loaded_by(BEFORE_THE_ROOMS)
    assert "webapp.store.damage" in loaded
    assert loaded & {"webapp.app", "fastapi", "uvicorn", "jinja2", "numpy", "scipy"} == set()


@pytest.mark.parametrize("module", ["webapp.cli", "webapp.worker_child"])
def test_what_must_start_at_once_loads_nothing_heavy(module: str) -> None:
    assert {name.split(".")[0] for name in loaded_with(module)} & {
        "numpy",
        "scipy",
        "fastapi",
        "sqlmodel",
        "alembic",
    } == set()
