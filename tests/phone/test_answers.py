"""What comes back after a reading: shims, heights, loads and margins, worked by hand here."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.phone.bench import Bench
from tests.phone.conftest import Open


def one_valve(opened: Open) -> Bench:
    """A cylinder wanted at 1.750 in, lift 0.500 in."""
    bench = opened()
    bench.start_one()
    return bench


def test_every_reading_is_answered_with_what_it_allows(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Spring heights")
    bench.by_keyboard(["1797"])
    # 1.797 - 1.750 = 0.047: 0.045 is 0.030 + 0.015 and leaves 1.752
    expect(bench.card).to_contain_text("Lay 0.030 + 0.015")
    expect(bench.card).to_contain_text("Stands 1.752 in, 1.750 wanted.")
    expect(bench.card).to_contain_text("Also open: ")
    bench.to_head()
    bench.take("Spring loads")
    bench.by_keyboard(["118", "258"])
    # a line of 140 lbf over 0.500 in, 280 lbf/in: 118 - 280 * 0.002 at 1.752, and 140 more half an inch further
    expect(bench.card).to_contain_text("Pushes 117.4 lbf closed, 257.4 open.")
    bench.to_head()
    bench.take("Coil bind")
    bench.by_keyboard(["1150"])
    # 1.752 - 0.500 - 1.150 = 0.102, 0.060 at least
    expect(bench.card).to_contain_text("Coil-bind clearance 0.102 in, 0.042 to spare.")
    bench.to_head()
    bench.take("Retainer to seal")
    bench.by_keyboard(["530"])
    # 0.530 - 0.500 = 0.030, 0.050 at least
    expect(bench.card).to_contain_text("Seal clearance 0.030 in, 0.020 too little.")
    expect(bench.card).to_contain_text("reject")


def test_heights_with_the_shims_in_are_compared(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Spring heights")
    bench.by_keyboard(["1797"])
    bench.to_head()
    bench.take("Heights with shims in")
    bench.by_keyboard(["1756"])
    # figured 1.797 - 0.045
    expect(bench.card).to_contain_text("Figured 1.752, stands 1.756: 0.004 taller")


def test_a_valve_is_corrected_on_its_own(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Spring heights")
    bench.by_keyboard(["1797", "1780"])
    bench.page.get_by_role("link", name="To the head").click()
    bench.page.get_by_role("link", name="1I, intake").click()
    bench.page.get_by_role("link", name="Spring height, valve closed").click()
    bench.by_keyboard(["1812"])
    # 1.812 - 1.750 = 0.062: 0.060, and 1.752
    expect(bench.card).to_contain_text("Lay 0.060")


def test_the_last_reading_is_corrected_or_taken_out_at_once(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Spring heights")
    bench.by_keyboard(["1797"])
    bench.page.get_by_role("button", name="Correct 1I").click()
    bench.by_keyboard(["1812"])
    expect(bench.card).to_contain_text("Lay 0.060")
    bench.page.get_by_role("button", name="Correct 1I").click()
    bench.page.get_by_role("button", name="Take the reading out").click()
    expect(bench.page.locator(".progress")).to_contain_text("0 of 2")
    expect(bench.card).to_contain_text("Shims: not known yet.")


def test_a_valve_gets_another_spring(opened: Open) -> None:
    bench = one_valve(opened)
    bench.page.get_by_role("link", name="1I, intake").click()
    bench.page.get_by_label("Spring in this pocket").select_option(label="another spring")
    expect(bench.page.get_by_label("Spring in this pocket")).to_have_value("S3")
    bench.to_head()
    expect(bench.page.get_by_role("link", name="Coil bind")).to_contain_text("0 of 3")


def test_springs_change_places(opened: Open) -> None:
    bench = one_valve(opened)
    bench.page.get_by_role("link", name="1I, intake").click()
    bench.page.get_by_label("Spring in this pocket").select_option("S2")
    expect(bench.page.get_by_label("Spring in this pocket")).to_have_value("S2")
    bench.to_head()
    bench.page.get_by_role("link", name="1E, exhaust").click()
    expect(bench.page.get_by_label("Spring in this pocket")).to_have_value("S1")


def test_a_valve_that_is_not_fitted_is_left_out_and_comes_back(opened: Open, tmp_path: Path) -> None:
    bench = one_valve(opened)
    bench.take("Spring heights")
    bench.by_keyboard(["1797"])
    bench.to_head()
    bench.page.get_by_role("link", name="1I, intake").click()
    bench.page.get_by_role("button", name="Not fitted").click()
    bench.page.get_by_role("button", name="Fitted after all").wait_for()
    bench.to_head()
    expect(bench.page.get_by_role("link", name="1I, intake: not fitted")).to_be_visible()
    expect(bench.page.get_by_role("link", name="Spring heights")).to_contain_text("0 of 1")
    # its spring goes with it
    expect(bench.page.get_by_role("link", name="Coil bind")).to_contain_text("0 of 1")
    expect(bench.page.locator(".verdict")).to_contain_text("1 open, 1 not fitted: 1I.")
    job = bench.exported(tmp_path)
    assert job["not_fitted"] == [{"id": "1I", "valve": "intake", "place": 0}]
    assert [one["id"] for one in job["springs"]] == ["S2"]
    bench.page.get_by_role("link", name="Sheet to print").click()
    expect(bench.page.get_by_role("row", name="1I")).to_contain_text("not fitted")
    bench.page.get_by_role("link", name="Back").click()
    bench.page.get_by_role("link", name="1I, intake").click()
    bench.page.get_by_role("button", name="Fitted after all").click()
    bench.page.get_by_role("heading", name="Readings").wait_for()
    bench.to_head()
    expect(bench.page.get_by_role("link", name="Spring heights")).to_contain_text("1 of 2")
    expect(bench.page.get_by_role("link", name="Coil bind")).to_contain_text("0 of 2")


GOOD = {
    "targets": {"intake": {"installed_height": 1.752}},
    "valvetrain": {"intake": {"valve_lift": 0.5}},
    "springs": [
        {
            "id": "S1",
            "load_curve": {
                "kind": "bench",
                "readings": [{"height": 1.752, "load": 118}, {"height": 1.25, "load": 258}],
            },
            "coil_bind_height": 1.15,
            "mass": 88.2,
        }
    ],
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "measured_height": 1.797,
            "deduction": 0,
            "spring": "S1",
            "retainer_to_seal": 0.6,
            "masses": {"valve": 104.5, "retainer": 19.8, "locks": 5.1},
        }
    ],
}


def test_a_head_is_good_as_figured_until_its_heights_are_measured(opened: Open, tmp_path: Path) -> None:
    bench = opened()
    (tmp_path / "good.json").write_text(json.dumps(GOOD))
    bench.page.get_by_label("Open a job from a file").set_input_files(tmp_path / "good.json")
    verdict = bench.page.locator(".verdict")
    expect(verdict).to_contain_text("Good as figured: measure heights with shims in")
    expect(verdict).not_to_contain_text("All good")
    bench.take("Heights with shims in")
    bench.by_keyboard(["1752"])
    bench.page.get_by_role("link", name="To the head").click()
    expect(verdict).to_contain_text("All good")


def test_no_seal_is_told_on_the_sheet_and_stays_open(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Retainer to seal")
    bench.page.get_by_role("button", name="No seal here").click()
    expect(bench.page.locator(".what")).to_have_text("No seal: retainer to top of guide, valve closed")
    bench.to_head()
    bench.page.get_by_role("link", name="Sheet to print").click()
    expect(bench.page.locator(".sheet")).to_contain_text("1I: no seal, read to the guide")
    expect(bench.page.locator(".sheet")).to_contain_text("1I: measure from the underside of the retainer")


def test_the_curve_of_a_spring_stands_at_its_valve(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Spring loads")
    bench.by_keyboard(["118", "258"])
    expect(bench.prompt).to_contain_text("S2")
    expect(bench.card.get_by_role("img", name="Spring S1")).to_be_visible()
    bench.to_head()
    bench.page.get_by_role("link", name="1I, intake").click()
    expect(bench.page.locator("figure.curve svg .reading")).to_have_count(2)
    expect(bench.page.get_by_role("img", name="Spring S1")).to_be_visible()


def test_the_cautions_stand_there_when_a_tool_is_taken_up(opened: Open) -> None:
    bench = one_valve(opened)
    bench.is_answered()
    expect(bench.page.get_by_text("A compressed valve spring stores enough energy")).to_be_visible()
    bench.take("Spring loads")
    expect(bench.card).to_contain_text("A spring in a tester, or pressed until its coils touch, can jump out")


def test_a_stack_that_one_pocket_cannot_hold_is_told_with_what_would_do(opened: Open) -> None:
    bench = one_valve(opened)
    bench.take("Spring heights")
    bench.by_keyboard(["1864"])
    # 1.864 - 1.750, and 0.060 in one pocket
    expect(bench.card).to_contain_text("0.114 of shim needed, 0.060 is the most.")
    expect(bench.card).to_contain_text("Fit -0.050 in locks or a thicker locator.")
    expect(bench.card).not_to_contain_text("Lay")


@pytest.mark.parametrize("tool", ["Spring loads", "Coil bind"])
def test_where_springs_are_pressed_a_caution_stands_above_the_field_all_the_time(opened: Open, tool: str) -> None:
    bench = opened((360, 640))
    bench.start_one()
    bench.is_answered()
    bench.take(tool)
    expect(bench.card.get_by_text("never press it in a vise")).to_be_in_viewport(ratio=1)
    for _ in range(2):
        expect(bench.page.get_by_text("Square, guarded, face clear; never in a vise.")).to_be_in_viewport(ratio=1)
        bench.by_keyboard(["1120"])


def test_the_limits_of_the_set_up_stand_in_their_blank_fields_as_the_service_has_them(
    opened: Open,
) -> None:
    bench = opened()
    schemas: Any = bench.page.request.get(f"{bench.address}/openapi.json").json()["components"]["schemas"]
    bench.page.get_by_role("link", name="New job").click()
    for unit, place in (("in", 0), ("mm", 1)):
        bench.page.get_by_label("Lengths in").select_option(unit)
        for path in (
            "limits-installed_height_tolerance",
            "limits-coil_bind_clearance_minimum",
            "limits-retainer_to_seal_clearance_minimum",
            "limits-seat_load_tolerance",
            "limits-open_load_tolerance",
            "shims-stack_maximum",
        ):
            group, name = path.split("-")
            told = schemas[group.capitalize()]["properties"][name]["description"]
            usual = re.search(r"Default: ([0-9.]+) (?:in \(([0-9.]+) mm\)|percent)", told)
            assert usual is not None
            expected = usual[1 + place] or usual[1]
            held = bench.page.locator(f"[id='job-{path}']").get_attribute("placeholder")
            assert held is not None
            assert float(held) == pytest.approx(float(expected), abs=0.005)


def test_what_is_off_already_shows_over_what_is_still_open_and_is_named_first(opened: Open) -> None:
    bench = one_valve(opened)
    bench.is_answered()
    # nothing is wrong yet, so there is nothing to look at first
    expect(bench.page.locator(".verdict")).to_contain_text("2 open.")
    expect(bench.page.locator(".verdict")).not_to_contain_text("first")
    bench.take("Spring heights")
    bench.by_keyboard(["1797", "1864"])
    bench.page.get_by_role("link", name="To the head").click()
    # 1E is 0.114 tall and 0.060 goes in; its loads, coil bind, seal and weights are still open
    expect(bench.page.locator(".verdict")).to_contain_text("1 off, 1 open. Look at 1E first.")
    expect(bench.page.get_by_role("link", name="1E, exhaust: off, ")).to_be_visible()
