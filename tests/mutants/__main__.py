"""Mutation testing of a room of calc as a command: make mutants ROOM=springs.

mutmut changes the room one place at a time and runs the room's own tests against each change: what no test notices
is told with its difference. All that is done to the sources is done to a copy, in `.mutants/<room>`; a run that was
stopped goes on where it was.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parent.parent.parent

CALC: Final = ROOT / "service" / "headbench" / "calc"

ROOMS: Final = sorted(path.name for path in CALC.iterdir() if (path / "__init__.py").exists())

COPIED: Final = ("shared", "openapi", "README.md", "schemathesis.toml")

# a change of only these: the lists that are gone through side by side are equally long by their making, so that no
# job can tell whether that is looked at
STRICT: Final = re.compile(r",? *strict=(?:True|None|False)")

# mutmut imports what it has changed from a folder `src`; each mutant is tried in a process forked from one that has run
# no test yet, since threads that tests have started do not come along, and who waits for one waits forever
SETTINGS: Final = """
[tool.mutmut]
source_paths = ["src"]
only_mutate = ["src/headbench/calc/{room}/*"]
also_copy = {copied}
pytest_add_cli_args = ["-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-profile=unshrunk"]
pytest_add_cli_args_test_selection = {tests}
timeout_multiplier = 5.0
timeout_constant = 12.0
process_isolation = "forkserver"
track_dependencies = false
use_git_change_detection = false
"""

# how mutmut keeps what became of a mutant: the exit code of its tests
STATES: Final = {0: "survived", 1: "killed", 3: "killed", 5: "without a test", 33: "without a test"}


def main() -> int:
    """Try one room, print its score and what survived; 1 where anything did."""
    if len(sys.argv) != 2 or sys.argv[1] not in ROOMS:
        print(f"Name a room: make mutants ROOM={ROOMS[0]}; there are {', '.join(ROOMS)}.")
        return 2
    room = sys.argv[1]
    folder = prepared(room)
    mutmut = str(Path(sys.executable).parent / "mutmut")
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    command = [mutmut, "run", "--max-children", os.environ.get("PROCESSES", str(os.cpu_count() or 1))]
    subprocess.run(command, cwd=folder, env=environment, check=True)  # noqa: S603 - our own
    states = became(folder)
    alike: list[str] = []
    for name, state in states.items():
        if state == "killed":
            continue
        shown = subprocess.run(  # noqa: S603 - likewise
            [mutmut, "show", name], cwd=folder, env=environment, capture_output=True, text=True, check=True
        ).stdout
        if says_the_same(shown):
            alike.append(name)
            continue
        print(f"\n{name}: {state}\n{shown}")
    print(told(room, states, len(alike)))
    return 1 if Counter(states.values())["survived"] > len(alike) else 0


def prepared(room: str) -> Path:
    """A copy of the sources and tests to work on, fresh but for what mutmut found out before."""
    folder = ROOT / ".mutants" / room
    folder.mkdir(parents=True, exist_ok=True)
    for source, target in (("service", "src"), ("tests", "tests"), *((name, name) for name in COPIED)):
        if (ROOT / source).is_file():
            shutil.copy2(ROOT / source, folder / target)
            continue
        shutil.rmtree(folder / target, ignore_errors=True)
        shutil.copytree(ROOT / source, folder / target, ignore=shutil.ignore_patterns("__pycache__"))
    settings = SETTINGS.format(room=room, copied=json.dumps(COPIED), tests=json.dumps(own_tests(room)))
    (folder / "pyproject.toml").write_text((ROOT / "pyproject.toml").read_text() + settings)
    return folder


def own_tests(room: str) -> list[str]:
    """The room's own tests, of its kernels and of its endpoints."""
    return [f"tests/{side}/{room}" for side in ("calc", "api") if (ROOT / "tests" / side / room).is_dir()]


def became(folder: Path) -> dict[str, str]:
    """What became of each mutant."""
    found: dict[str, str] = {}
    for kept in sorted(folder.glob("mutants/src/headbench/calc/**/*.meta")):
        codes = json.loads(kept.read_text())["exit_code_by_key"]
        found |= {name: STATES.get(code, "not decided") for name, code in codes.items()}
    return found


def says_the_same(difference: str) -> bool:
    """Whether a mutant differs in `strict` alone."""
    sides = {
        sign: [STRICT.sub("", line[1:]) for line in difference.splitlines() if re.match(rf"[{sign}](?![{sign}])", line)]
        for sign in "-+"
    }
    return len(sides["-"]) > 0 and [line.replace(", )", ")") for line in sides["+"]] == sides["-"]


def told(room: str, states: dict[str, str], alike: int) -> str:
    """The score in a line: of those that differ, how many a test noticed."""
    counted = Counter(states.values())
    differ = len(states) - alike
    score = 100.0 * counted["killed"] / differ if differ else 100.0
    left = ", ".join(
        f"{count} {state}" for state, count in sorted(counted.items()) if state not in {"killed", "survived"}
    )
    return (
        f"{room}: {counted['killed']} of {differ} killed ({score:.1f} %), {counted['survived'] - alike} survived, "
        f"{alike} that only loosen zip not counted{'; ' + left if left else ''}"
    )


if __name__ == "__main__":
    sys.exit(main())
