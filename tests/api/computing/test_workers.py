"""Workers: lines are answered in processes of their own, one that dies is replaced, and none stays behind."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.api.batches import line, read, told

from headbench.api.computing.workers import MOST_WAITING, Load, Workers, cores
from headbench.api.exchange.asking import Asked
from headbench.errors import RefusedRequest

# The resources of the service, but for a valve mass that is answered by the process it happens in: by its id it
# ends that process, prints, or says which it is.
ODD = """
import os
from dataclasses import replace
from functools import partial
from pathlib import Path
from headbench.api.app import FORMS, RESOURCES as ALL
from headbench.api.computing import desk as desks

def compute(request):
    name = request.positions[0].id
    if name == "dies":
        os._exit(9)
    if name == "prints":
        print("to standard output", flush=True)
    if name == "dies once" and not (died := Path(__file__).with_name("died")).exists():
        died.touch()
        os._exit(9)
    if name.startswith("never ends"):
        Path(__file__).with_name(name).touch()
        while True:
            sum(range(1000))
    if name == "says":
        Path(__file__).with_name("process").write_text(str(os.getpid()))
    return VALVE_MASS.compute(request)

VALVE_MASS = next(one for one in ALL if one.kind == "valve-mass")
RESOURCES = [replace(one, compute=compute) if one is VALVE_MASS else one for one in ALL]

BUDGETED = desks.budgeted

# a fifth of a second is long enough for a test
def desk():
    desks.budgeted = partial(BUDGETED, 0.2)
    return desks.Desk(RESOURCES, FORMS, {})

# no end to it but being given up
def patient():
    desks.budgeted = partial(BUDGETED, 1e6)
    return desks.Desk(RESOURCES, FORMS, {})
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


def asked(name: str) -> Asked:
    return Asked("valve-mass", json.dumps({"positions": [{"id": name, "valve": "intake"}]}).encode())


def status_of(work: Any) -> tuple[int, Any]:
    told = work.future.result(60.0)
    return told.status, json.loads(told.body) if told.body else None


def test_a_request_is_answered_as_a_line_is(workers: Workers) -> None:
    status, answer = status_of(workers.begin(asked("a")))
    (line_answer,) = read(workers.begin_lines([(1, named("a"))]).future.result())
    assert (status, answer) == (200, line_answer["answer"])


def test_a_request_whose_worker_dies_is_asked_once_more(workers: Workers, folder: Path) -> None:
    status, answer = status_of(workers.begin(asked("dies once")))
    assert (folder / "died").exists()
    assert (status, answer["positions"][0]["id"]) == (200, "dies once")


def test_a_request_that_ends_every_worker_is_told_so_and_the_next_is_answered(workers: Workers) -> None:
    status, problem = status_of(workers.begin(asked("dies")))
    assert (status, problem["type"]) == (500, "urn:headbench:problem:internal-error")
    assert status_of(workers.begin(asked("a")))[0] == 200


def test_a_job_that_takes_too_long_is_refused_and_its_worker_goes_on(workers: Workers) -> None:
    begun = [workers.begin(asked("never ends")) for _ in range(3)]
    for work in begun:
        status, problem = status_of(work)
        assert (status, problem["type"]) == (422, "urn:headbench:problem:too-much-work")
    group = [(1, named("a")), (2, named("never ends")), (3, named("b"))]
    assert told(read(workers.begin_lines(group).future.result())) == [
        (1, "a", 200),
        (2, "never ends", 422),
        (3, "b", 200),
    ]


def until_there(file: Path) -> None:
    for _ in range(600):
        if file.exists():
            return
        time.sleep(0.1)
    pytest.fail(f"{file.name} has not begun")


@pytest.fixture(scope="module")
def patient(folder: Path, workers: Workers) -> Workers:  # noqa: ARG001 - they write the file
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", os.pathsep.join([str(folder), *filter(None, [os.environ.get("PYTHONPATH")])]))
        made = Workers("odd_resources:patient", 1)
        made.start()
        return made


def test_what_nobody_waits_for_stops_and_what_has_not_begun_does_not(patient: Workers, folder: Path) -> None:
    begun = [patient.begin(asked("never ends 1")), patient.begin(asked("never ends 2"))]
    lines = patient.begin_lines([(1, named("never ends 3"))])
    until_there(folder / "never ends 1")
    lines.abandon()
    for work in begun:
        work.abandon()
    # the only worker is free for this
    assert status_of(patient.begin(asked("a")))[0] == 200
    assert not (folder / "never ends 2").exists()
    assert not (folder / "never ends 3").exists()


def test_lines_that_nobody_waits_for_stop_in_the_middle(patient: Workers, folder: Path) -> None:
    lines = patient.begin_lines([(1, named("a")), (2, named("never ends 4")), (3, named("b"))])
    until_there(folder / "never ends 4")
    lines.abandon()
    assert status_of(patient.begin(asked("a")))[0] == 200


def test_a_request_goes_before_lines_that_wait(patient: Workers, folder: Path) -> None:
    holding = patient.begin(asked("never ends 5"))
    until_there(folder / "never ends 5")
    done: list[str] = []
    lines = patient.begin_lines([(1, named("a"))])
    lines.future.add_done_callback(lambda _: done.append("lines"))
    request = patient.begin(asked("a"))
    request.future.add_done_callback(lambda _: done.append("request"))
    holding.abandon()
    lines.future.result(60.0)
    assert done == ["request", "lines"]


def test_one_request_too_many_is_told_when_to_come_back(patient: Workers, folder: Path) -> None:
    holding = patient.begin(asked("never ends 6"))
    until_there(folder / "never ends 6")
    waiting = [patient.begin(asked("a")) for _ in range(MOST_WAITING - 1)]
    assert patient.is_full()
    with pytest.raises(RefusedRequest) as refused:
        patient.begin(asked("a"))
    assert (refused.value.code, refused.value.status) == ("busy", 503)
    assert int(refused.value.headers["Retry-After"]) >= 1
    holding.abandon()
    assert [status_of(work)[0] for work in waiting] == [200] * len(waiting)
    assert not patient.is_full()


def test_how_long_to_wait_goes_by_what_the_latest_took() -> None:
    load = Load(workers=2)
    for _ in range(100):
        load.took(4.0)
    # by hand: a request takes 4 s, so two workers do one in 2 s; five in hand leave four before the sixth is begun
    for _ in range(5):
        load.begin()
    assert load.seconds_to_wait == pytest.approx(8.0, rel=1e-3)
    assert not load.is_full
    load.begin()
    load.begin()
    waits_too_long = load.is_full
    load.end()
    load.end()
    assert (waits_too_long, load.is_full) == (True, False)


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
