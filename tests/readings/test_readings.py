"""Tables of readings as benches write them, put into a job."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from headbench.cli import main
from headbench.readings.columns import POSITIONS, SPRINGS, described

SHARED = Path(__file__).parent.parent.parent / "shared"
CSV = SHARED / "csv"


class Bench:
    """A folder with the files of a job, and the command over them."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self._capsys = capsys
        self.said = ""

    def file(self, name: str, text: str | bytes) -> str:
        path = self.folder / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return str(path)

    def run(
        self, positions: str | bytes, springs: str | bytes | None = None, job: Any = None, *more: str
    ) -> tuple[int, Any]:
        rest = self.file("job.json", json.dumps(job or {}))
        arguments = ["readings", self.file("positions.csv", positions), "--job", rest]
        if springs is not None:
            arguments += ["--springs", self.file("springs.csv", springs)]
        status = main([*arguments, *more])
        printed = self._capsys.readouterr()
        self.said = printed.err.replace(f"{self.folder}/", "")
        return status, json.loads(printed.out) if printed.out else None


@pytest.fixture
def bench(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Bench:
    return Bench(tmp_path, capsys)


def test_the_tables_of_the_demo_come_to_its_job(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["readings", str(CSV / "positions.csv"), "--springs", str(CSV / "springs.csv")]
    assert main([*arguments, "--job", str(CSV / "job.json")]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out) == json.loads((SHARED / "demo" / "two-heads.json").read_text())
    assert "16 rows, commas between columns, decimal point" in printed.err
    assert "16 rows, semicolons between columns, decimal comma" in printed.err


def test_the_columns_that_are_documented_are_those_that_are_read() -> None:
    page = (CSV / "README.md").read_text()
    assert described(POSITIONS) in page
    assert described(SPRINGS) in page


@pytest.mark.parametrize(
    ("delimiter", "number"),
    [(",", "1.846"), (";", "1.846"), ("\t", "1.846"), ("|", "1.846"), (";", "0001,846"), (",", '"1,8460"')],
)
def test_every_dialect_says_the_same(bench: Bench, delimiter: str, number: str) -> None:
    rows = (["Position", "Valve", "Measured height"], ["1I", "Intake", number], ["", "", ""], ["1E", "ex", "n/a"])
    status, job = bench.run("\r\n".join(delimiter.join(row) for row in rows))
    assert status == 0
    assert job["positions"] == [
        {"id": "1I", "valve": "intake", "measured_height": 1.846},
        {"id": "1E", "valve": "exhaust"},
    ]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_encoding_says_the_same(bench: Bench, encoding: str) -> None:
    text = "sep=;\nposition;valve;remarks\n1I;intake;f\u00fchrt schwer\n"
    assert bench.run(text.encode(encoding))[1]["positions"] == [
        {"id": "1I", "valve": "intake", "remarks": "f\u00fchrt schwer"}
    ]


@pytest.mark.parametrize("nothing", ["", " ", "-", "\u2013", "n/a", "N/A", "na", "not measured"])
def test_what_says_nothing_is_not_measured(bench: Bench, nothing: str) -> None:
    status, job = bench.run(f"position,valve,measured height,lash cap\n1I,intake,{nothing},{nothing}\n")
    assert (status, job["positions"]) == (0, [{"id": "1I", "valve": "intake"}])


def test_not_fitted_is_not_the_same_as_not_measured(bench: Bench) -> None:
    text = "position,valve,lash cap,pushrod weight,retainer to seal\n1I,intake,not fitted,none,not fitted\n"
    status, job = bench.run(text)
    assert status == 1
    assert job["positions"] == [{"id": "1I", "valve": "intake", "masses": {"lash_cap": 0.0, "pushrod": 0.0}}]
    assert 'row 2, retainer to seal: "not fitted": "not fitted" says nothing here; taken as not measured' in bench.said


def test_readings_of_springs_stand_under_their_height_or_beside_it(bench: Bench) -> None:
    under = (
        "spring,load at 1.750 (lbf),Load at 1.250,weight,inner load at 1.69,inner coil bind,"
        "seat rise,rated rate,rated height,rated load\n"
    )
    beside = (
        "spring,height 1,load 1,height 2,load 2,spring weight,inner height 1,inner load 1,inner solid height,"
        "seat rise,rated rate,rated height,rated load\n"
    )
    _, one = bench.run("position,valve\n1I,intake\n", f"{under}S1,117,264,88.2,40,1.01,0.06,294,1.75,120\n")
    _, other = bench.run(
        "position,valve\n1I,intake\n", f"{beside}S1,1.75,117,1.25,264,88.2,1.69,40,1.01,.06,294,1.75,120\n"
    )
    assert one["springs"] == other["springs"] == [
        {
            "id": "S1",
            "load_curve": {
                "kind": "bench",
                "readings": [{"height": 1.75, "load": 117.0}, {"height": 1.25, "load": 264.0}],
            },
            "mass": 88.2,
            "rating": {"rate": 294.0, "height": 1.75, "load": 120.0},
            "nested": [
                {"load_curve": {"kind": "bench", "readings": [{"height": 1.69, "load": 40.0}]},
                 "coil_bind_height": 1.01, "seat_rise": 0.06}
            ],
        }
    ]  # fmt: skip


def test_a_load_without_its_height_is_named(bench: Bench) -> None:
    status, job = bench.run(
        "position,valve\n1I,intake\n", "spring,height 1,load 1,height 2,load 2\nS1,1.75,117,-,264\n"
    )
    assert (status, job["springs"][0]["load_curve"]["readings"]) == (1, [{"height": 1.75, "load": 117.0}])
    assert 'row 2, load 2: "264": a load without its height; left out' in bench.said


def test_what_a_job_cannot_hold_is_named_by_its_cell_and_taken_out(bench: Bench) -> None:
    springs = "spring,rated rate,load at 1.75,load at 1.25,weight\nS1,294,117,-264,88.2\nS2,,116,263,88.4\n"
    status, job = bench.run("position,valve\n1I,intake\n", springs)
    assert status == 1
    assert job["springs"] == [
        {"id": "S1", "mass": 88.2},
        {
            "id": "S2",
            "load_curve": {
                "kind": "bench",
                "readings": [{"height": 1.75, "load": 116.0}, {"height": 1.25, "load": 263.0}],
            },
            "mass": 88.4,
        },
    ]
    assert 'springs.csv: row 2, load at 1.25: "-264": ' in bench.said
    assert 'springs.csv: row 2, rated rate: "294": ' in bench.said


@pytest.mark.parametrize(
    ("over", "written", "units", "read"),
    [
        # 46.99 mm / 25.4 = 1.85 in; 2 in = 50.8 mm; 10 lbf x 4.4482216152605 = 44.482216152605 N; 1 oz = 28.349523125 g
        ("measured height (mm)", "46.99", {}, {"measured_height": 1.85}),
        ("measured height [inch]", "2", {"length": "mm"}, {"measured_height": 50.8}),
        ("seat load with shims (lbs)", "10", {"force": "N"}, {"seat_load_with_shims": 44.48221615}),
        ("valve weight (oz)", "4", {"mass": "g"}, {"masses": {"valve": 113.3980925}}),
        ("measured height (mm)", "46.99", {"length": "mm"}, {"measured_height": 46.99}),
    ],
)
def test_a_unit_over_a_column_counts(bench: Bench, over: str, written: str, units: Any, read: Any) -> None:
    _, job = bench.run(f"position,valve,{over}\n1I,intake,{written}\n", None, {"units": units})
    assert job["positions"] == [{"id": "1I", "valve": "intake"} | read]


def test_a_load_at_a_height_in_another_unit_is_put_into_those_of_the_job(bench: Bench) -> None:
    _, job = bench.run("position,valve\n1I,intake\n", "spring,load at 50.8 mm (N)\nS1,44.482216152605\n")
    assert job["springs"][0]["load_curve"]["readings"] == [{"height": 2.0, "load": 10.0}]


@pytest.mark.parametrize(
    ("cells", "read"),
    [
        (["1,885", "0,060"], [1.885, 0.060]),
        (["1.885", "0.060"], [1.885, 0.060]),
        (["1,885", "0.060"], [1885.0, 0.060]),
        (["1.885", "0,060"], [1885.0, 0.060]),
        (["1.234,5", "1,5"], [1234.5, 1.5]),
        (["1,234.5", "1.5"], [1234.5, 1.5]),
        (["1 234,5", "2"], [1234.5, 2.0]),
        (["1'234.5", "2"], [1234.5, 2.0]),
        (["1,234,567", "1.5"], [1234567.0, 1.5]),
        (["1.885", "2"], [1.885, 2.0]),
        (["46,99", ",5"], [46.99, 0.5]),
    ],
)
def test_the_decimal_mark_is_that_of_the_whole_table(bench: Bench, cells: list[str], read: list[float]) -> None:
    rows = "".join(f"{place}I;intake;{cell}\n" for place, cell in enumerate(cells))
    # a valve weighs anything a job may hold, so that what is read shows
    _, job = bench.run(f"position;valve;valve weight\n{rows}", None, None)
    found = [one.get("masses", {}).get("valve") for one in job["positions"]]
    assert found == [one if one <= 100_000.0 else None for one in read]


def test_marks_that_contradict_each_other_are_not_guessed_at(bench: Bench) -> None:
    status, job = bench.run("position;valve;height\n1I;intake;1,85\n1E;exhaust;1.85\n")
    assert (status, job) == (2, None)
    assert 'row 2, measured height: "1,85" has a decimal comma' in bench.said
    assert 'row 3, measured height: "1.85" a decimal point' in bench.said


def test_a_comma_that_may_be_either_is_asked_for(bench: Bench) -> None:
    table = "position;valve;height\n1I;intake;1,885\n1E;exhaust;1,890\n"
    status, job = bench.run(table)
    assert (status, job) == (2, None)
    assert '"1,885" may have a decimal comma or thousands' in bench.said
    _, job = bench.run(table, None, None, "--decimal", "comma")
    assert [one["measured_height"] for one in job["positions"]] == [1.885, 1.89]


def test_a_cell_that_cannot_be_read_is_named_and_its_reading_stays_open(bench: Bench) -> None:
    status, job = bench.run(
        "position,valve,height,deduction,valve weight\n1I,intake,1.8x5,0.062,104.5\n1E,exhaust,1.85 in,0.062,-3\n"
    )
    assert status == 1
    assert job["positions"] == [
        {"id": "1I", "valve": "intake", "deduction": 0.062, "masses": {"valve": 104.5}},
        {"id": "1E", "valve": "exhaust", "deduction": 0.062, "masses": {}},
    ]
    assert 'positions.csv: row 2, measured height: "1.8x5": no number with a decimal point; taken as not' in bench.said
    assert 'row 3, measured height: "1.85 in"' in bench.said
    assert 'row 3, valve weight: "-3": 1E: must be' in bench.said


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("1I,inlet,1.85", 'row 3, valve: "inlet": not intake or exhaust; the row is left out'),
        (",intake,1.85", 'row 3, position: "": no position; the row is left out'),
        ("1I,,1.85", "no valve; the row is left out"),
        ("1I", "no valve; the row is left out"),
        ("9E,exhaust,1.90", "9E stands in row 2 already; the row is left out"),
        ("1I,intake,1,85", "more cells than headings (a decimal comma?); the row is left out"),
    ],
)
def test_a_row_that_cannot_be_read_is_named_and_the_others_go_on(bench: Bench, row: str, why: str) -> None:
    status, job = bench.run(f"position,valve,height\n9E,exhaust,1.85\n{row}\n8E,exhaust,1.86\n")
    assert status == 1
    assert [one["id"] for one in job["positions"]] == ["9E", "8E"]
    assert why in bench.said


def test_a_table_of_another_shape_says_what_it_lacks_and_what_it_has(bench: Bench) -> None:
    status, job = bench.run("Cyl;Ventil;Ma\u00df\n1;E;46,99\n")
    assert (status, job) == (2, None)
    assert 'positions.csv: no column position and none valve; it has: "Cyl", "Ventil", "Ma\u00df".' in bench.said


@pytest.mark.parametrize(
    ("table", "why"),
    [
        (b"", "it has: none at all"),
        (b"\x00\x01\x02", "no column position"),
        (b"position,valve,height,spring height\n1I,intake,1,1\n", 'two columns are "measured height"'),
        (b"position,valve,height (furlongs)\n1I,intake,1\n", 'is measured in in or mm, not in "furlongs"'),
        (b"position,valve (mm)\n1I,intake\n", '"valve" takes no unit over it'),
        (b"x" * 2_000_001, "longer than 2,000,000 bytes"),
        (b"position,valve\n", "must be a list of 1 to 128 items"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_said(bench: Bench, table: bytes, why: str) -> None:
    status, job = bench.run(table)
    assert (status, job) == (2, None)
    assert why in bench.said


def test_a_heading_that_is_not_known_is_told_with_what_was_meant(bench: Bench) -> None:
    status, job = bench.run("position,valve,mesured height,color\n1I,intake,1.85,blue\n")
    assert (status, job["positions"]) == (0, [{"id": "1I", "valve": "intake"}])
    assert 'nothing of "mesured height" is used; is it "measured height"?' in bench.said
    assert 'nothing of "color" is used.' in bench.said


def test_a_job_that_has_positions_or_springs_already_is_not_mixed(bench: Bench) -> None:
    rows = [{"id": "1I", "valve": "intake"}]
    assert bench.run("position,valve\n1I,intake\n", None, {"positions": rows})[0] == 2
    assert "has positions of its own" in bench.said
    assert bench.run("position,valve\n1I,intake\n", "spring\nS1\n", {"springs": [{"id": "S1"}]})[0] == 2
    assert "springs of its own" in bench.said


def test_a_job_that_is_wrong_itself_is_told_where(bench: Bench) -> None:
    assert bench.run("position,valve\n1I,intake\n", None, {"limits": {"hight": 1}})[0] == 2
    assert "/limits/hight" in bench.said
    assert bench.run("position,valve\n1I,intake\n", None, {"units": {"length": "furlong"}})[0] == 2
    assert "is no job" in bench.said


def test_files_that_are_not_there_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["readings", str(tmp_path / "none.csv"), "--job", str(CSV / "job.json")]) == 2
    assert main(["readings", str(CSV / "positions.csv"), "--job", str(tmp_path / "none.json")]) == 2
    said = capsys.readouterr().err
    assert "none.csv: can't be read: no such file or directory." in said
    assert "none.json can't be read: no such file or directory." in said


@pytest.mark.parametrize(("said", "meant"), [("1838", "1.838"), ("542", "0.542")])
def test_thousandths_without_a_point_are_asked_for_as_inches(bench: Bench, said: str, meant: str) -> None:
    status, job = bench.run(f"position;valve;measured height\n1I;I;{said}\n2I;I;1.84\n")
    assert status == 1
    assert f"{said} in? Write {meant}; taken as not measured." in bench.said
    assert job["positions"] == [
        {"id": "1I", "valve": "intake"},
        {"id": "2I", "valve": "intake", "measured_height": 1.84},
    ]
    _, metric = bench.run("position;valve;measured height\n1I;I;46\n", None, {"units": {"length": "mm"}})
    assert metric["positions"][0]["measured_height"] == 46


def test_what_a_cell_cannot_hold_is_told_without_the_words_of_a_schema(bench: Bench) -> None:
    bench.run("position;valve;measured height\n1I;I;0\n")
    assert "must be a number from 0.0001 to 1000, not 0; taken as not measured." in bench.said
