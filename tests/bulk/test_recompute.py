"""A file of jobs answered anew: every line once, in its order, whatever happens on the way."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.bulk.runs import ANSWERING, answers, job, service, told, written

from headbench import __version__
from headbench.api.batch.lines import MOST_LINE_BYTES
from headbench.bulk.results import Results, begun_with
from headbench.cli import main


def answered_by_hand(jobs: Path) -> bytes:
    """What each line is answered by itself, one after the other."""
    lines = enumerate(jobs.read_bytes().split(b"\n"), start=1)
    return b"".join(ANSWERING(number, raw) for number, raw in lines if raw.strip())


def test_every_line_is_answered_as_by_itself_in_its_order(tmp_path: Path) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(n, 100.0 + 0.1 * n) for n in range(300)])
    assert main(["recompute", str(jobs), "--out", str(tmp_path / "out.ndjson")]) == 0
    assert (tmp_path / "out.ndjson").read_bytes() == answered_by_hand(jobs)


@pytest.mark.usefixtures("one_core")
def test_lines_that_are_wrong_are_refused_and_the_rest_is_answered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    long = b'{"kind": "valve-mass", "id": "' + b"x" * MOST_LINE_BYTES + b'"}'
    unknown = b'{"kind": "valve-moss", "id": "J-9", "request": {}}'
    height = b'{"kind": "installed-height", "id": "J-5", "request": {"positions": [{"id": "1I", "valve": "intake"}]}}'
    lines = [job(1), b"", unknown, long, height, b"not json", job(7)[:-9]]
    jobs = written(tmp_path / "jobs.ndjson", lines, end=b"")
    assert main(["recompute", str(jobs), "--out", str(tmp_path / "out.ndjson")]) == 1
    expected = [(1, "J-1", 200), (3, "J-9", 400), (4, None, 413), (5, "J-5", 200), (6, None, 400), (7, None, 400)]
    assert told(tmp_path / "out.ndjson") == expected
    said = capsys.readouterr().err
    assert "6 lines: 2 answered, 4 refused" in said
    assert "line 3 (J-9): 400" in said
    assert "valve-moss" in said


def test_no_jobs_at_all_are_no_lines(tmp_path: Path) -> None:
    (tmp_path / "jobs.ndjson").touch()
    assert main(["recompute", str(tmp_path / "jobs.ndjson"), "--out", str(tmp_path / "out.ndjson")]) == 0
    assert (tmp_path / "out.ndjson").read_bytes() == b""


def test_a_run_that_was_killed_at_any_time_goes_on_with_no_line_lost_or_doubled(tmp_path: Path) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(n, 100.0 + 0.01 * n) for n in range(3000)])
    out = tmp_path / "out.ndjson"
    command = [sys.executable, "-m", "headbench.cli", "recompute", str(jobs), "--out", str(out)]
    when = random.Random(20)  # noqa: S311 - not for secrets
    had = 0
    for _ in range(3):
        wanted = had + when.randrange(1, 200_000)
        with subprocess.Popen(command, stderr=subprocess.DEVNULL) as run:  # noqa: S603 - our own
            while run.poll() is None and not (out.exists() and out.stat().st_size > wanted):
                time.sleep(0.001)
            run.send_signal(signal.SIGKILL)
        had = out.stat().st_size
    assert had < len(answered_by_hand(jobs))
    assert main(["recompute", str(jobs), "--out", str(out)]) == 0
    assert out.read_bytes() == answered_by_hand(jobs)


def test_a_run_that_is_stopped_by_hand_says_how_to_go_on(tmp_path: Path) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(n) for n in range(3000)])
    out = tmp_path / "out.ndjson"
    command = [sys.executable, "-m", "headbench.cli", "recompute", str(jobs), "--out", str(out)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as run:  # noqa: S603 - our own
        while run.poll() is None and not (out.exists() and out.stat().st_size):
            time.sleep(0.001)
        run.send_signal(signal.SIGINT)
        _, said = run.communicate()
    assert (run.returncode, said) == (130, "Stopped; run the same command again to go on.\n")
    whole = answered_by_hand(jobs)
    assert whole.startswith(out.read_bytes())
    assert main(["recompute", str(jobs), "--out", str(out)]) == 0
    assert out.read_bytes() == whole


def test_two_runs_do_not_write_to_one_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1)])
    out = tmp_path / "out.ndjson"
    with Results(out, begun_with(jobs, __version__)):
        assert main(["recompute", str(jobs), "--out", str(out)]) == 2
    assert f"{out} is being written by another run" in capsys.readouterr().err


@pytest.mark.usefixtures("one_core")
def test_wherever_results_break_off_half_a_line_is_cut_and_the_rest_answered(tmp_path: Path) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(n) for n in range(5)])
    out = tmp_path / "out.ndjson"
    main(["recompute", str(jobs), "--out", str(out)])
    whole = out.read_bytes()
    for kept in (0, 1, whole.index(b"\n"), whole.index(b"\n") + 1, len(whole) - 1):
        os.truncate(out, kept)
        assert main(["recompute", str(jobs), "--out", str(out)]) == 0
        assert out.read_bytes() == whole, kept


@pytest.mark.usefixtures("one_core")
def test_a_finished_run_is_left_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1), b"{}"])
    out = tmp_path / "out.ndjson"
    first = main(["recompute", str(jobs), "--out", str(out)]), out.read_bytes()
    assert (main(["recompute", str(jobs), "--out", str(out)]), out.read_bytes()) == first
    assert first[0] == 1
    assert "up to line 2 of 2" in capsys.readouterr().err


@pytest.mark.usefixtures("one_core")
@pytest.mark.parametrize("lines", [[job(1), job(3)], [job(1)], [job(1), job(2), job(3)]])
def test_jobs_that_changed_since_are_not_mixed_with_those_before(
    tmp_path: Path, lines: list[bytes], capsys: pytest.CaptureFixture[str]
) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1), job(2)])
    out = tmp_path / "out.ndjson"
    main(["recompute", str(jobs), "--out", str(out)])
    before = out.read_bytes()
    written(jobs, lines)
    assert main(["recompute", str(jobs), "--out", str(out)]) == 2
    assert out.read_bytes() == before
    assert f"The jobs have changed since {out} was begun" in capsys.readouterr().err


@pytest.mark.usefixtures("one_core")
def test_answers_of_two_releases_are_not_mixed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1)])
    out = tmp_path / "out.ndjson"
    main(["recompute", str(jobs), "--out", str(out)])
    beside = tmp_path / "out.ndjson.run.json"
    beside.write_text(json.dumps(json.loads(beside.read_text()) | {"version": "0.0.9"}))
    assert main(["recompute", str(jobs), "--out", str(out)]) == 2
    assert "was begun by release 0.0.9" in capsys.readouterr().err


def test_a_file_that_is_no_run_is_never_written_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1)])
    other = written(tmp_path / "other.ndjson", [b"something else"])
    assert main(["recompute", str(jobs), "--out", str(other)]) == 2
    assert main(["recompute", str(jobs), "--out", str(jobs)]) == 2
    assert (jobs.read_bytes(), other.read_bytes()) == (job(1) + b"\n", b"something else\n")
    said = capsys.readouterr().err
    assert f"{other} is there and no run that can be gone on with" in said
    assert "named twice" in said


def test_files_that_are_not_there_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    nowhere = tmp_path / "nowhere.ndjson"
    jobs = written(tmp_path / "jobs.ndjson", [job(1)])
    assert main(["recompute", str(nowhere), "--out", str(tmp_path / "out.ndjson")]) == 2
    assert main(["recompute", str(jobs), "--out", str(tmp_path / "none" / "out.ndjson")]) == 2
    assert main(["recompute", str(tmp_path), "--out", str(tmp_path / "out.ndjson")]) == 2
    said = capsys.readouterr().err
    assert f"{nowhere} can't be read: no such file or directory." in said
    assert f"{tmp_path} is no file" in said
    assert "out.ndjson.run.json can't be written: no such file or directory." in said


def test_a_server_answers_as_this_machine_does(tmp_path: Path) -> None:
    lines = [b"", *(job(n) for n in range(120)), b"{}", b"no job", b"x" * (MOST_LINE_BYTES + 1), job(200)]
    jobs = written(tmp_path / "jobs.ndjson", lines)
    out = {name: tmp_path / f"{name}.ndjson" for name in ("here", "there")}
    assert main(["recompute", str(jobs), "--out", str(out["here"])]) == 1
    with service() as (address, posts):
        assert main(["recompute", str(jobs), "--out", str(out["there"]), "--server", address]) == 1
    assert out["there"].read_bytes() == out["here"].read_bytes()
    assert sorted(posts) == [1, 22, 50, 50]


def test_the_service_as_it_is_shipped_answers_a_run(tmp_path: Path, address: str) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [*(job(n) for n in range(130)), b"no job"])
    out = tmp_path / "out.ndjson"
    assert main(["recompute", str(jobs), "--out", str(out), "--server", address]) == 1
    assert [(one["line"], one["status"]) for one in answers(out)] == [*((n, 200) for n in range(1, 131)), (131, 400)]
    assert out.read_bytes() == answered_by_hand(jobs)
