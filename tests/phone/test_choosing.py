"""One button has springs chosen; what to move where stands in the order to do it, worked by hand here."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from playwright.sync_api import expect
from tests.phone.bench import Bench
from tests.phone.conftest import Open


def spring(name: str, closed: float) -> dict[str, Any]:
    """A line of 280 lbf/in by its load at 1.750 in."""
    readings = [{"height": 1.75, "load": closed}, {"height": 1.25, "load": closed + 140}]
    return {"id": name, "load_curve": {"kind": "bench", "readings": readings}, "coil_bind_height": 1.12}


# A pushes 118 at 1.750 and 115.2 at 1.760, B 120.8 and 118: each is 2.8 off where it lies, right where the other does
SWAPPED: dict[str, Any] = {
    "job": {"reference": "two springs"},
    "valvetrain": {"intake": {"valve_lift": 0.5}},
    "targets": {"intake": {"installed_height": 1.755, "seat_load": 118}},
    "springs": [spring("A", 118.0), spring("B", 120.8)],
    "positions": [
        {"id": "1I", "valve": "intake", "measured_height": 1.75, "deduction": 0, "spring": "B"},
        {"id": "2I", "valve": "intake", "measured_height": 1.76, "deduction": 0, "spring": "A"},
    ],
}


def begun(opened: Open, folder: Path) -> Bench:
    bench = opened()
    path = folder / "job.json"
    path.write_text(json.dumps(SWAPPED))
    bench.page.get_by_label("Open a job from a file").set_input_files(path)
    bench.page.get_by_role("heading", name="two springs").wait_for()
    bench.page.get_by_role("link", name="Choose springs").click()
    bench.page.get_by_role("button", name="Choose springs and shims").click()
    return bench


def test_the_moves_stand_in_the_order_to_make_them(opened: Open, tmp_path: Path) -> None:
    bench = begun(opened, tmp_path)
    moves = bench.page.locator("ol.moves li")
    expect(moves).to_have_text(
        ["B: from 1I to the bench", "A: from 2I to 1I, no shims", "B: from the bench to 2I, no shims"]
    )
    expect(bench.page.locator("#screen")).to_contain_text("Farthest off: 0.0 pounds, 2.8 as they lie.")
    expect(bench.page.locator("#screen")).to_contain_text("compressed valve spring")


def test_once_all_are_moved_they_lie_there_and_nothing_is_left_to_move(opened: Open, tmp_path: Path) -> None:
    bench = begun(opened, tmp_path)
    bench.page.get_by_role("button", name="All are moved").click()
    bench.page.get_by_role("button", name="Not yet").click()
    expect(bench.page.locator("ol.moves li")).to_have_count(3)
    bench.page.get_by_role("button", name="All are moved").click()
    bench.page.get_by_role("button", name="Yes").click()
    expect(bench.page.locator("#screen")).to_contain_text("No spring has to move.")
    bench.page.get_by_role("link", name="Back").click()
    job = bench.exported(tmp_path)
    assert [one["spring"] for one in job["positions"]] == ["A", "B"]
    assert job["match_springs"] == {"kept": ["1I", "2I"]}


def test_left_where_they_lie_the_job_is_what_it_was(opened: Open, tmp_path: Path) -> None:
    bench = begun(opened, tmp_path)
    bench.page.locator("ol.moves").wait_for()
    bench.page.get_by_role("button", name="Leave every spring where it lies").click()
    bench.page.get_by_role("link", name="Back").click()
    assert bench.exported(tmp_path) == SWAPPED
