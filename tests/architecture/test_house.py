"""The house keeps its order: rooms named alike, modules of a readable size, nothing said of its making."""

from __future__ import annotations

import ast
import re
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
PACKAGE = ROOT / "service" / "headbench"
MODULES = sorted(PACKAGE.rglob("*.py"))
LIST = ("git", "ls-files", "--cached", "--others", "--exclude-standard")
TRACKED = [
    ROOT / name
    for name in subprocess.run(LIST, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines()  # noqa: S603 - git
]


@pytest.mark.parametrize("module", [*MODULES, *sorted((ROOT / "tests").rglob("*.py"))], ids=lambda path: path.name)
def test_a_module_stays_under_400_lines(module: Path) -> None:
    assert len(module.read_text().splitlines()) < 400


@pytest.mark.parametrize("file", sorted((PACKAGE / "web" / "bench").rglob("*.*")), ids=lambda path: path.name)
def test_a_file_of_the_page_stays_under_400_lines_and_needs_nothing_from_outside(file: Path) -> None:
    text = file.read_text()
    assert len(text.splitlines()) < 400
    # but for names of what is drawn, which nobody loads
    assert "://" not in text.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize("folder", sorted({path.parent for path in MODULES}), ids=lambda path: path.name)
def test_a_room_has_12_modules_at_most(folder: Path) -> None:
    assert len(list(folder.glob("[a-z]*.py"))) <= 12


@pytest.mark.parametrize("module", sorted((PACKAGE / "calc").glob("*/[a-z]*.py")), ids=lambda path: path.name)
def test_every_module_of_calc_has_its_tests(module: Path) -> None:
    untested = {"limits.py", "rules.py"}  # constants, published and tested as a table: tests/api/published
    tests = ROOT / "tests" / "calc" / module.parent.name / f"test_{module.name}"
    assert module.name in untested or tests.exists()


def test_rooms_are_called_the_same_in_calc_in_api_and_in_tests() -> None:
    calc, api = (
        {path.name for path in (PACKAGE / layer).iterdir() if (path / "__init__.py").exists()}
        for layer in ("calc", "api")
    )
    # HTTP, the page, the schema, and what requests are written in
    of_its_own = {"batch", "bench", "computing", "exchange", "listening", "published", "serving", "vocabulary"}
    assert api - of_its_own == calc - {"judging", "coils"}
    for layer, rooms in (("calc", calc), ("api", api)):
        tested = {path.name for path in (ROOT / "tests" / layer).iterdir() if list(path.glob("test_*.py"))}
        assert tested <= rooms
        assert rooms - tested <= {"movement"}  # what a cut does is tested in the rooms that it moves


def imported(module: Path) -> Iterator[str]:
    """Everything that a module imports, wherever in it, by its whole name."""
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, module
            yield from (f"{node.module}.{one.name}" for one in node.names)


@pytest.mark.parametrize("layer", ["calc", "api"])
def test_a_room_without_a_place_on_the_floor_plan_is_used_by_none_but_its_own_and_app(layer: str) -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    (plan,) = (one["layers"] for one in contracts if one.get("containers") == [f"headbench.{layer}"])
    placed = {room for floor in plan for room in floor.split(" | ")}
    rooms = {path.name for path in (PACKAGE / layer).iterdir() if (path / "__init__.py").exists()}
    assert placed - {"app"} <= rooms
    app = PACKAGE / "api" / "app.py"
    for room in rooms - placed:
        name = f"headbench.{layer}.{room}"
        users = {m for m in MODULES if any(f"{one}.".startswith(f"{name}.") for one in imported(m))}
        assert {m for m in users - {app} if m.parent.name != room} == set()


def test_a_name_stands_in_one_table_of_nomenclature() -> None:
    tables = [ROOT / "DEVELOPERS.md", *(PACKAGE / "calc").glob("*/__init__.py")]
    rows = [
        row for path in tables for row in re.findall(r"^\| ([^|]+) \|(?: [^|]+ \|){3}$", path.read_text(), re.MULTILINE)
    ]
    names = [name for row in rows for name in row.split(", ") if name not in {"name", "---"}]
    assert "measured height" in names
    assert len(set(names)) == len(names)


def test_pint_is_named_nowhere_but_in_units() -> None:
    assert [m.name for m in MODULES if re.search(r"^\s*(import|from) pint\b", m.read_text(), re.MULTILINE)] == [
        "units.py"
    ]


def test_no_lock_names_a_host_or_a_local_path() -> None:
    for lock in ROOT.glob("requirements*.lock"):
        text = lock.read_text()
        assert "://" not in text, lock.name
        assert "--hash=sha256:" in text, lock.name
    packages = (ROOT / "tests" / "clients" / "typescript" / "package-lock.json").read_text()
    assert "://" not in packages
    assert '"integrity": "sha512-' in packages


def test_nothing_tracked_names_a_path_of_some_machine() -> None:
    own = "/" + r"(work|root|home/\w+|tmp/\w+)/"
    for path in TRACKED:
        if path.suffix in {".py", ".md", ".toml", ".json", ".yaml", ".yml", ".html", ".js", ".css"} and path.exists():
            assert not re.search(own, path.read_text()), path
