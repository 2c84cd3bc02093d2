"""The sheet as text: what the machinist reads."""

from __future__ import annotations

import msgspec
import pytest
from tests.api.jobs import DEMO, Job, whole_job

from headbench.api.head_assembly import answer
from headbench.api.head_job import HeadAssemblyRequest
from headbench.sheet.text import as_text


def text(job: Job) -> str:
    return as_text(answer(msgspec.convert(job, HeadAssemblyRequest)))


def line(sheet: str, start: str) -> list[str]:
    return next(line.split() for line in sheet.splitlines() if line.split()[:1] == [start])


@pytest.fixture(scope="module")
def demo() -> str:
    return text(DEMO)


def test_there_is_a_table_per_bank_with_every_position(demo: str) -> None:
    for bank in ("port", "starboard"):
        assert any(line.startswith(f"{bank}: ") for line in demo.splitlines())
    for position in DEMO["positions"]:
        assert line(demo, position["id"])


def test_a_line_has_the_numbers_as_worked_on_paper() -> None:
    # the position of tests/api/test_head_assembly.py
    expected = "1I intake S1 1.8710 0.0900 0.030 1.7510 +0.0010 116.7 0.4875 260.0 0.1435 0.1145 158.8 accept"
    assert line(text(whole_job()), "1I") == expected.split()


def test_what_is_not_measured_is_marked_and_listed(demo: str) -> None:
    row = line(demo, "S4I")
    assert "__" in row
    assert row[-2:] == ["NOT", "MEASURED"]
    assert "[ ] Position S4I: read the height gauge, valve shut, no shim under it." in demo


def test_a_missed_limit_is_marked_at_its_number(demo: str) -> None:
    assert "0.0380!" in line(demo, "P4E")


def test_the_shims_to_lay_out_are_counted(demo: str) -> None:
    # counted by eye in the demo's own table: ten of 0.015, twelve of 0.030 (all there are), one of 0.060
    for count, size in ((10, "0.015"), (12, "0.030"), (1, "0.060")):
        assert f"{count:5d} x {size} in" in demo


def test_float_has_a_column_where_a_speed_is_meant_and_none_elsewhere(demo: str) -> None:
    assert "float rpm" not in demo
    job = whole_job() | {"intended_speed": 9000, "limits": {"surge_ratio_minimum": 7}}
    job["valvetrain"]["intake"]["motion"] = {
        "kind": "textbook", "profile": "harmonic", "angle": "crank", "rise": 140, "fall": 140,
    }  # fmt: skip
    printed = text(job)
    assert "float rpm" in printed
    # 2 sqrt(F/(m lift/2)) rise/pi by hand: 265.737 lbf, 158.8 g, 0.4875 in, 70 cam degrees (at the lobe, times 1.5);
    # 382 Hz are 5.1 surges to a turn of the cam at 9000 rpm, too few
    assert line(printed, "1I")[-3:] == ["158.8", "8144!", "REJECT"]
    assert "float reserve min 10 %; surge ratio min 7 times." in " ".join(printed.split())
    assert "1I: surge ratio 5.09 times, min 7 times: missed by 1.91 times; REJECT." in printed


def test_cautions_are_printed(demo: str) -> None:
    assert "compressed valve spring stores enough energy to injure" in demo


def test_no_line_ends_in_blanks_and_none_is_wider_than_a_landscape_page(demo: str) -> None:
    assert all(line == line.rstrip() and len(line) <= 160 for line in demo.splitlines())


def test_a_head_with_nothing_measured_can_be_printed() -> None:
    sheet = text({"positions": [{"id": "1I", "valve": "intake"}]})
    assert "VERDICT: NOT MEASURED" in sheet


def test_the_limits_everything_was_compared_with_are_printed(demo: str) -> None:
    head = demo.split("port:", maxsplit=1)[0]
    for limit in ("height within +/-0.0075 in", "coil bind at least 0.060 in", "retainer to seal at least 0.050 in"):
        assert limit in " ".join(head.split())


def test_every_miss_is_a_sentence_with_what_is_missing(demo: str) -> None:
    # counted by eye in the demo's own table, each by its own arithmetic: 0.038 is 0.012 short of 0.050, and so on
    assert "P4E: retainer to seal 0.038 in; limit at least 0.050 in, missed by 0.012 in." in demo
    assert "S4E: coil bind 0.0575 in; limit at least 0.060 in, missed by 0.0025 in." in demo
    rejects = demo.split("What misses its limit")[1].split("Shims to lay out", maxsplit=1)[0]
    assert {line.split(":")[0].strip(" -") for line in rejects.splitlines() if ":" in line} == {
        "P4I", "P4E", "S2I", "S3E", "S4E",
    }  # fmt: skip


def test_a_spread_is_the_difference_of_the_ends_beside_it(demo: str) -> None:
    for row in demo.split("What each set runs to")[1].splitlines()[3:15]:
        cells = row.split()
        numbers = [float(cell) for cell in cells if cell.replace(".", "").isdigit()]
        smallest, largest, spread = numbers[-3:]
        assert round(largest - smallest, 4) == spread, row


def test_there_is_a_place_to_sign(demo: str) -> None:
    assert "Checked by ____" in demo
