"""Answers held against those of an earlier run, as a shop owner reads it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.bulk.runs import answers, head, job, service, written

from headbench.cli import main

ROOT = Path(__file__).parent.parent.parent

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
    assert "Of 1 head, none would come to another verdict today; 1 is worse within the same." in said
    # 1.660 - 0.500 - 1.110 = 0.050 in, 0.060 is wanted
    assert "KW-1 was a reject and is now worse: 1I coil bind." in said


def demo(minimum: float) -> bytes:
    request = json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())
    request["limits"]["coil_bind_clearance_minimum"] = minimum
    return json.dumps({"kind": "head-assembly", "id": "KW-0317", "request": request}).encode()


def test_a_head_that_went_out_is_judged_on_the_shims_it_went_out_with(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # by hand: S4E went out on 0.030 with 0.0725 in between its coils; 0.015 would leave 0.0875. P2E went out on 0.060
    # with 0.0795, and 0.045 would leave 0.0945
    earlier = ran(tmp_path, "earlier", [demo(0.060)])
    capsys.readouterr()
    listed = tmp_path / "changes.ndjson"
    ran(tmp_path, "now", [demo(0.080)], "--against", str(earlier), "--changes", str(listed))
    said = capsys.readouterr().out
    found = answers(listed)
    worse = {one["position"]: one["value"] for one in found if one["what"] == "damage turned worse"}
    assert (worse["S4E"], worse["P2E"]) == (0.0725, 0.0795)
    assert [one["now"] for one in found if one["what"] == "damage turned worse"] == ["reject"] * len(worse)
    shimmed = {
        one["position"]: (one["was"], one["now"]) for one in found if one["what"] == "would be shimmed otherwise today"
    }
    assert (shimmed["S4E"], shimmed["P2E"]) == (([0.03], [0.015]), ([0.06], [0.03, 0.015]))
    assert "Would be shimmed otherwise today:" in said
    assert "KW-0317 was a reject and is now worse:" in said
    # it still stands where it stood: no height and no load of it is another
    assert {one["name"] for one in found if one["what"] == "number" and "position" in one} <= {
        "coil_bind_clearance_check limit",
        "coil_bind_clearance_check to_spare",
    }


def test_a_service_that_knows_no_fitted_shims_is_told_and_the_heads_are_judged_on_todays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # on today's shims nothing is worse: they leave the coils the room that is asked now
    earlier = ran(tmp_path, "earlier", [demo(0.060)])
    jobs = written(tmp_path / "now-jobs.ndjson", [demo(0.080)])
    command = ["recompute", str(jobs), "--out", str(tmp_path / "now.ndjson"), "--against", str(earlier)]
    for unknown, is_told in ((b"shims_fitted", True), (b"-", False)):
        capsys.readouterr()
        with service(unknown=unknown) as (address, _):
            assert main([*command, "--server", address]) == 0
        said = " ".join(capsys.readouterr().out.split())
        assert (
            "not on those they went out with: 1 head. Whoever answers does not take shims_fitted" in said
        ) is is_told


def test_a_count_of_shims_names_its_size_and_the_second_best_are_left_out(tmp_path: Path) -> None:
    earlier = ran(tmp_path, "earlier", [demo(0.060)])
    listed = tmp_path / "changes.ndjson"
    ran(tmp_path, "now", [demo(0.080)], "--against", str(earlier), "--changes", str(listed))
    found = answers(listed)
    assert not [one for one in found if "runner_up" in one["pointer"]]
    counts = {one["name"] for one in found if one["pointer"].startswith("/shim_totals")}
    assert counts
    assert counts <= {"0.015 in shims", "0.030 in shims", "0.060 in shims"}


def test_what_a_job_says_of_fitted_shims_itself_stays(tmp_path: Path) -> None:
    lines = [head(1, 1.790, 0.060), head(1, 1.790, 0.060)]
    job = json.loads(lines[0])
    job["request"]["shims"] = {"thicknesses": [0.015, 0.030]}
    job["request"]["positions"][0]["shims_fitted"] = [0.015]
    chosen = json.loads(json.dumps(job))
    del chosen["request"]["positions"][0]["shims_fitted"]
    earlier = ran(tmp_path, "earlier", [json.dumps(chosen).encode()])
    listed = tmp_path / "changes.ndjson"
    ran(tmp_path, "now", [json.dumps(job).encode()], "--against", str(earlier), "--changes", str(listed))
    # 0.045 was chosen for 0.040; the job says now that 0.015 lie there: 1.790 - 0.015 = 1.775
    heights = [one for one in answers(listed) if one["name"] == "installed_height"]
    assert [(one["was"], one["now"]) for one in heights] == [(1.745, 1.775)]


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
