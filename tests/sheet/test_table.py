"""CSV, read back by the csv module: RFC 4180, the numbers of the JSON, and nothing a spreadsheet runs."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import msgspec
import pytest
from tests.api.jobs import DEMO, example
from tests.hostile import HOSTILE, hostile_job
from tests.sheets import answered, printed

from headbench.api.app import RESOURCES


def read(table: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(table.decode(), newline=""), strict=True))


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda resource: resource.kind)
def test_it_is_rfc_4180(resource: Any) -> None:
    table = printed(resource.example, "csv", kind=resource.kind)
    # 2.1: lines end in CR LF; 2.4: every line has as many fields
    assert table.endswith(b"\r\n")
    assert table.count(b"\n") == table.count(b"\r\n")
    rows = list(csv.reader(io.StringIO(table.decode(), newline=""), strict=True))
    assert len({len(row) for row in rows}) == 1
    assert len(set(rows[0])) == len(rows[0])
    assert len(rows) > 1


def test_a_head_has_a_row_a_position_with_the_numbers_of_the_json() -> None:
    rows = read(printed(DEMO, "csv"))
    answer = msgspec.to_builtins(answered(DEMO).answer)
    assert [row["name"] for row in rows] == [position["id"] for position in DEMO["positions"]]
    for row, line in zip(rows, answer["positions"], strict=True):
        for heading, value in {
            "measured height [in]": line["measured_height"],
            "installed height [in]": line["installed_height"],
            "installed height vs target [in]": line["installed_height_check"]["value"],
            "seat load [lbf]": line["seat_load"],
            "seat load vs target [%]": (line["seat_load_check"] or {}).get("value"),
            "coil-bind clearance [in]": line["coil_bind_clearance_check"]["value"],
            "coil-bind clearance limit [in]": line["coil_bind_clearance_check"]["limit"],
            "retainer-to-seal clearance [in]": line["retainer_to_seal_clearance_check"]["value"],
            "moving mass [g]": line["moving_mass"],
        }.items():
            assert row[heading] == ("" if value is None else str(value)), heading
        assert row["coil-bind clearance verdict"] == line["coil_bind_clearance_check"]["verdict"]
        assert row["verdict"] == line["verdict"]


def test_headings_name_the_units_that_the_job_chose() -> None:
    job = example("head-assembly") | {"units": {"length": "mm", "force": "N", "mass": "kg"}}
    for name in ("targets", "shims", "springs", "valvetrain", "limits", "height_corrections"):
        job.pop(name, None)
    job["positions"] = [{"id": "1I", "valve": "intake"}]
    (row,) = read(printed(job, "csv"))
    assert {"installed height [mm]", "seat load [N]", "moving mass [kg]"} <= set(row)


def numbers(value: Any) -> list[float]:
    """Every number of an answer that is there; those of checks are their value and their limit."""
    if isinstance(value, dict):
        parts = [value["value"], value["limit"]] if "to_spare" in value else value.values()
        return [number for part in parts for number in numbers(part)]
    if isinstance(value, list):
        return [number for part in value for number in numbers(part)]
    return [float(value)] if isinstance(value, int | float) and not isinstance(value, bool) else []


@pytest.mark.parametrize(
    "kind", [one.kind for one in RESOURCES if "positions" not in one.example or one.kind == "milling"]
)
def test_of_an_answer_that_does_not_go_by_position_no_number_is_left_out(kind: str) -> None:
    resource = next(one for one in RESOURCES if one.kind == kind)
    answer = msgspec.to_builtins(answered(resource.example, kind).answer)
    for name in ("open_items", "notes", "cautions", "units", "job"):
        del answer[name]
    cells = [cell for row in read(printed(resource.example, "csv", kind=kind)) for cell in row.values()]
    written = [float(one) for cell in cells for one in re.split("; ", cell) if re.fullmatch(r"-?[\d.]+(e-?\d+)?", one)]
    assert not set(numbers(answer)) - set(written)


@pytest.mark.parametrize("name", HOSTILE, ids=lambda name: ascii(name)[:20])
def test_no_text_is_a_formula_and_every_name_comes_back(name: str) -> None:
    (row,) = read(printed(hostile_job(name), "csv"))
    assert row["name"].removeprefix("'") == name
    for cell in row.values():
        is_number = re.fullmatch(r"-?\d+(\.\d+)?(e-?\d+)?", cell)
        # OWASP, CSV Injection: cells that begin with one of these
        assert is_number or not cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell


def test_the_cells_of_a_line_are_the_same_whatever_sheet_was_named() -> None:
    assert printed(DEMO, "csv", "labels") == printed(DEMO, "csv", "bench")
