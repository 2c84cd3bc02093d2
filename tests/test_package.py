"""What is handed out: one version everywhere, and a wheel that holds all that the service needs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any, Final

import pytest

import headbench

ROOT: Final = Path(__file__).parent.parent
PROJECT: Final[Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


def run(*command: str | Path, **environment: str) -> str:
    """What a command of this environment prints."""
    done = subprocess.run(  # noqa: S603 - our own
        [sys.executable, *command],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the built wheel alone installed in it."""
    folder = tmp_path_factory.mktemp("wheel")
    run("-m", "hatchling", "build", "--target", "wheel", "--directory", folder)
    (wheel,) = folder.glob("*.whl")
    run("-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", folder / "installed", wheel)
    return folder / "installed"


def test_the_wheel_publishes_the_committed_schema(installed: Path) -> None:
    alone = {"PYTHONPATH": str(installed)}
    assert run("-c", "import headbench; print(headbench.__file__)", **alone).startswith(str(installed))
    committed = (ROOT / "openapi" / "openapi.json").read_text()
    assert run(installed / "bin" / "headbench", "openapi", **alone) == committed


def test_the_wheel_holds_every_file_of_the_package(installed: Path) -> None:
    source = ROOT / "service" / "headbench"
    files = {path.relative_to(source) for path in source.rglob("*") if path.is_file() and path.suffix != ".pyc"}
    assert Path("factors.json") in files
    packed = installed / "headbench"
    assert files == {path.relative_to(packed) for path in packed.rglob("*") if path.is_file() and path.suffix != ".pyc"}


def test_the_package_the_project_and_the_changelog_name_one_version() -> None:
    newest = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert newest is not None
    assert newest[1] == PROJECT["version"] == headbench.__version__


def test_the_oldest_python_that_is_promised_is_the_one_required() -> None:
    promised = [one.rsplit(" ", 1)[1] for one in PROJECT["classifiers"] if re.search(r"Python :: 3\.\d+$", one)]
    assert f">={min(promised, key=lambda version: int(version.split('.')[1]))}" == PROJECT["requires-python"]
