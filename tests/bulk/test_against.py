"""Answers held against those of an earlier run, as a shop owner reads it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.bulk.runs import answers, head, job, written

from headbench.cli import main

pytestmark = pytest.mark.usefixtures("one_core")

# a spring that binds at 1.110 in and is open at (height - 0.500) in has (height - 1.610) in to spare
HEIGHTS = [1.750, 1.748, 1.746, 1.744, 1.742]


def ran(folder: Path, name: str, lines: list[bytes], *more: str) -> Path:
    """The results of some jobs."""
    jobs = written(folder / f"{name}-jobs.ndjson", lines)
    out = folder / f"{name}.ndjson"
    assert main(["recompute", str(jobs), "--out", str(out), *more]) in {0, 1}
    return out


def test_a_limit_that_changed_names_the_heads_that_would_be_judged_otherwise(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier = ran(tmp_path, "earlier", [head(n, height, 0.060) for n, height in enumerate(HEIGHTS)])
    assert capsys.readouterr().out == ""
    listed = tmp_path / "changes.ndjson"
    now = [head(n, height, 0.135) for n, height in enumerate(HEIGHTS)]
    ran(tmp_path, "now", now, "--against", str(earlier), "--changes", str(listed))
    said = capsys.readouterr().out
    # 0.140, 0.138 and 0.136 in are enough, 0.134 and 0.132 in are not; the smallest comes first
    assert "Of 5 heads, 2 would come to another verdict today." in said
    assert "2  not measured, now reject" in said
    assert "2  coil bind clearance (2 by another limit)" in said
    found = answers(listed)
    worst = [one for one in found if one["what"] == "damage turned worse"]
    assert found[: len(worst)] == worst
    assert [(one["id"], one["line"], one["value"], one["limit_was"], one["limit"]) for one in worst] == [
        ("KW-4", 5, 0.132, 0.06, 0.135),
        ("KW-3", 4, 0.134, 0.06, 0.135),
    ]
    assert {one["what"] for one in found[2:]} == {"number"}
    rows = [line for line in said.splitlines() if "KW-" in line]
    assert rows[0].split()[:2] == ["5", "KW-4"]
    assert "0.132 in" in rows[0]
    assert "0.135 in, was 0.06" in rows[0]


def test_a_figure_that_changed_is_the_reason_where_the_limit_did_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier = ran(tmp_path, "earlier", [head(1, 1.750, 0.135)])
    ran(tmp_path, "now", [head(1, 1.744, 0.135)], "--against", str(earlier))
    assert "1  coil bind clearance (1 by another figure)" in capsys.readouterr().out


def test_a_head_that_is_rejected_as_before_is_told_where_more_of_it_turned_worse(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def pair(height: float) -> bytes:
        # the second valve has 0.020 in to spare where 0.060 in is wanted: rejected anyway
        whole = json.loads(head(1, height, 0.060))
        first = whole["request"]["positions"][0]
        whole["request"]["positions"].append(first | {"id": "2I", "measured_height": 1.630})
        return json.dumps(whole).encode()

    earlier = ran(tmp_path, "earlier", [pair(1.690)])
    ran(tmp_path, "now", [pair(1.660)], "--against", str(earlier))
    said = capsys.readouterr().out
    assert "Of 1 head, none would come to another verdict today." in said
    assert "1  the same verdict, though a check of theirs turned worse" in said


def test_sorts_of_change_come_worst_first(tmp_path: Path) -> None:
    lines = [head(1, 1.750, 0.060), job(2), head(3, 1.750, 0.135), head(4, 1.743, 0.135), head(5, 1.750, 0.060), b"{}"]
    earlier = ran(tmp_path, "earlier", lines)
    lines = [head(1, 1.750, 0.060), b"{}", head(3, 1.743, 0.135), head(4, 1.750, 0.135), head(5, 1.736, 0.060), job(6)]
    # a line that is refused names no id, so that it is no other job than that of the same number
    listed = tmp_path / "changes.ndjson"
    ran(tmp_path, "now", lines, "--against", str(earlier), "--changes", str(listed))
    sorts = list(dict.fromkeys(one["what"] for one in answers(listed)))
    assert sorts == [
        "damage turned worse", "no longer answered", "setting turned worse", "turned better", "answered now", "number",
    ]  # fmt: skip


def test_nothing_that_changed_is_said_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    earlier = ran(tmp_path, "earlier", [head(1, 1.750, 0.060), job(2)])
    ran(tmp_path, "now", [head(1, 1.750, 0.060), job(2)], "--against", str(earlier))
    said = capsys.readouterr().out
    assert "Of 1 head, none would come to another verdict today." in said
    assert "Of 1 other job, none would come to another verdict today." in said
    assert "No verdict and no number changed by more than the tolerance." in said


def test_numbers_within_what_is_said_are_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    earlier = ran(tmp_path, "earlier", [job(1, 104.5)])
    ran(tmp_path, "now", [job(1, 104.9)], "--against", str(earlier), "--tolerance", "mass=0.5")
    assert "No verdict and no number changed" in capsys.readouterr().out
    ran(tmp_path, "then", [job(1, 104.9)], "--against", str(earlier), "--tolerance", "mass=0.3")
    assert "104.9 g" in capsys.readouterr().out


def test_lines_that_are_no_pair_are_counted_and_not_compared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier = ran(tmp_path, "earlier", [job(1), job(2), b"", job(4), job(5)])
    with earlier.open("ab") as file:
        file.write(b'{"line": 6, "id": "J-6", "sta')
    ran(tmp_path, "now", [b"", job(20), job(3), job(4)], "--against", str(earlier))
    said = capsys.readouterr().out
    assert "Of 1 other job, none" in said
    assert "no answer there: 1 line" in said
    assert "no answer now: 2 lines" in said
    assert "another id there, so another job: 1 line" in said
    assert "cannot be read: 1 line" in said


def test_what_is_no_file_of_answers_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1)])
    twice = written(tmp_path / "twice.ndjson", [json.dumps({"line": 1, "id": "J-1", "status": 200}).encode()] * 2)
    arguments = ["recompute", str(jobs), "--out", str(tmp_path / "out.ndjson"), "--against"]
    assert main([*arguments, str(twice)]) == 2
    assert main([*arguments, str(tmp_path / "none.ndjson")]) == 2
    said = capsys.readouterr().err
    assert "line 1 behind line 1" in said
    assert "none.ndjson can't be read: no such file." in said


@pytest.mark.parametrize("more", [["--changes", "c"], ["--tolerance", "length=1"]])
def test_what_belongs_to_a_comparison_wants_one(
    tmp_path: Path, more: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    jobs = written(tmp_path / "jobs.ndjson", [job(1)])
    assert main(["recompute", str(jobs), "--out", str(tmp_path / "out.ndjson"), *more]) == 2
    assert "--against" in capsys.readouterr().err
    assert not (tmp_path / "out.ndjson").exists()


@pytest.mark.parametrize("said", ["hight=1", "length", "length=", "length=-1", "length=nan", "length=inf", "0.1"])
def test_a_tolerance_that_is_none_is_told(said: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["recompute", "jobs", "--out", "out", "--against", "old", "--tolerance", said])
    assert "argument --tolerance" in capsys.readouterr().err
