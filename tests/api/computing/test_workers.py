"""Workers: lines are answered in processes of their own, one that dies is replaced, and none stays behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.api.batches import line, read, told

from headbench.api.computing.workers import Workers, cores

# The resources of the service, but for a valve mass that is answered by the process it happens in: by its id it
# ends that process, prints, or says which it is.
ODD = """
import os
from dataclasses import replace
from pathlib import Path
from headbench.api.app import FORMS, RESOURCES as ALL
from headbench.api.computing.desk import Desk

def compute(request):
    name = request.positions[0].id
    if name == "dies":
        os._exit(9)
    if name == "prints":
        print("to standard output", flush=True)
    if name == "says":
        Path(__file__).with_name("process").write_text(str(os.getpid()))
    return VALVE_MASS.compute(request)

VALVE_MASS = next(one for one in ALL if one.kind == "valve-mass")
RESOURCES = [replace(one, compute=compute) if one is VALVE_MASS else one for one in ALL]

def desk():
    return Desk(RESOURCES, FORMS, {})
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("odd")


@pytest.fixture(scope="module")
def workers(folder: Path) -> Iterator[Workers]:
    (folder / "odd_resources.py").write_text(ODD)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", os.pathsep.join([str(folder), *filter(None, [os.environ.get("PYTHONPATH")])]))
        yield Workers("odd_resources:desk")


def named(name: str) -> bytes:
    return line("valve-mass", name, request={"positions": [{"id": name, "valve": "intake"}]})


def test_lines_are_answered_in_their_order_with_their_numbers(workers: Workers) -> None:
    answers = read(workers.begin_lines([(3, named("a")), (5, b"{"), (6, named("b"))]).future.result())
    assert told(answers) == [(3, "a", 200), (5, None, 400), (6, "b", 200)]


def test_the_line_that_ends_a_worker_is_told_so_and_those_around_it_are_answered(
    workers: Workers, caplog: pytest.LogCaptureFixture
) -> None:
    answers = read(workers.begin_lines([(1, named("a")), (2, named("dies")), (3, named("b"))]).future.result())
    assert told(answers) == [(1, "a", 200), (2, "dies", 500), (3, "b", 200)]
    assert answers[1]["problem"]["type"] == "urn:headbench:problem:internal-error"
    assert "(9)" in caplog.text
    assert told(read(workers.begin_lines([(4, named("c"))]).future.result())) == [(4, "c", 200)]


def test_what_is_printed_does_not_get_among_the_answers(workers: Workers) -> None:
    assert told(read(workers.begin_lines([(1, named("prints")), (2, named("a"))]).future.result())) == [
        (1, "prints", 200),
        (2, "a", 200),
    ]


def test_as_many_processes_answer_as_there_are_cores(workers: Workers) -> None:
    assert workers.count == cores() == len(os.sched_getaffinity(0))


def test_lines_are_answered_in_a_process_that_this_one_started(workers: Workers, folder: Path) -> None:
    assert told(read(workers.begin_lines([(1, named("says"))]).future.result())) == [(1, "says", 200)]
    assert int((folder / "process").read_text()) in children(os.getpid())


def test_a_worker_that_cannot_be_started_is_told_as_a_defect(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    assert told(read(Workers("headbench.api.app:desk").begin_lines([(1, named("a"))]).future.result())) == [
        (1, "a", 500)
    ]
    assert "no worker could be started" in caplog.text


PARENT = """
import sys, time
from headbench.api.computing.workers import Workers
workers = Workers("headbench.api.app:desk")
workers.begin_lines([(1, b"{}")]).future.result()
print("started", flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM], ids=["killed", "ended"])
def test_no_worker_outlives_the_process_that_started_it(end: signal.Signals) -> None:
    command = [sys.executable, "-c", PARENT]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as parent:  # noqa: S603 - our own
        assert parent.stdout
        assert parent.stdout.readline() == b"started\n"
        started = children(parent.pid)
        assert started
        parent.send_signal(end)
        parent.wait()
    for _ in range(300):
        if not any(map(is_there, started)):
            return
        time.sleep(0.1)
    pytest.fail("a worker is still there")


def children(pid: int) -> list[int]:
    return [int(one) for task in Path(f"/proc/{pid}/task").glob("*") for one in (task / "children").read_text().split()]


def is_there(pid: int) -> bool:
    try:
        return "\nState:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return False
