"""The sheets of a head: what each says, and that none hides what is rejected or open."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from tests.api.jobs import DEMO, jobs, whole_job
from tests.sheets import answered, printed, sheet

from headbench.sheet.model import Circle, Lines, Section, Sheet, SideBySide, Table, Tags
from headbench.sheet.text import as_text


def text(job: Any, which: str | None = None) -> str:
    return printed(job, "text", which).decode()


def section(job: Any, title: str, which: str = "bench") -> Section:
    (leaf,) = sheet(job, which, by_head=False).leaves
    return next(one for one in leaf.in_turn() if one.title.startswith(title))


def test_the_customers_sheet_tells_what_was_set_and_by_which_limits() -> None:
    job = whole_job()
    job["job"] |= {"remarks": "new guides", "parts": ["retainers, steel"]}
    told = " ".join(text(job, "customer").split())
    # the position of tests/api/head/test_head_assembly.py
    assert "1I intake S1 0.030 1.751 +0.001 116.7 260.0 0.1435 0.1145 accept" in told
    assert "coil-bind clearance min 0.060 in" in told
    assert "Job: new guides" in told
    assert "Job, parts fitted: retainers, steel" in told
    assert "Units: lengths in inches, loads in pounds, weights in grams." in told
    assert "Checked by ____" in told


def test_what_is_off_target_is_accepted_as_it_is_by_somebody_on_the_customers_sheet() -> None:
    told = " ".join(text(DEMO, "customer").split())
    assert "S3E: seat load vs target -12.1 %, +/- 5 %: missed by 7.1 %; accepted as is by ____" in told
    assert "Accepted as is by ____" in told
    assert "you decide" not in told


def test_the_customers_sheet_hides_no_reject_nothing_open_and_nothing_taken_on_trust() -> None:
    told = " ".join(text(DEMO, "customer").split())
    for sentence in (
        "VERDICT: REJECT (1 rejected, 4 not measured, 2 off target, 9 accepted)",
        "P4E: retainer-to-seal clearance 0.038 in, min 0.050 in: missed by 0.012 in; REJECT.",
        "Not measured (6)",
        "Spring C06: measure its coil-bind height",
    ):
        assert sentence in told
    job = whole_job()
    job["springs"][0]["load_curve"] = {"kind": "rated", "height": 1.75, "load": 117, "rate": 294}
    job["waivers"] = [{"check": "open_load_check", "accepted_by": "shop foreman", "reason": "maker's sheet"}]
    assert "taken on trust by shop foreman: maker's sheet" in text(job, "customer")


@settings(max_examples=25)
@given(jobs())
def test_every_open_item_and_every_caution_is_on_the_sheet_of_some_head(job: Any) -> None:
    answer = answered(job).answer
    for which in ("bench", "customer"):
        told = " ".join(printed(job, "page", which).decode().replace("&gt;", ">").replace("&amp;", "&").split())
        for item in answer.open_items:
            assert item.detail in told
        for caution in answer.cautions:
            assert caution in told
    assert all(line.verdict != "reject" for line in answer.positions) or "REJECT" in told


@settings(max_examples=15)
@given(jobs())
def test_whatever_was_measured_every_sheet_has_every_form(job: Any) -> None:
    for which in ("bench", "customer", "labels"):
        for form in ("text", "page", "pdf", "csv"):
            assert printed(job, form, which)


def test_what_is_about_no_head_alone_is_on_the_sheets_of_both() -> None:
    job = {
        "positions": [
            {"id": "1I", "valve": "intake", "bank": "left", "measured_height": 1.9},
            {"id": "2I", "valve": "intake", "bank": "right"},
        ]
    }
    left, right = (" ".join(words.split()) for words in text_by_head(job))
    assert "Enter the installed height wanted for the intake valves." in left
    assert "Enter the installed height wanted for the intake valves." in right
    assert "2I: measure the spring height" not in left
    assert "2I: measure the spring height" in right


def text_by_head(job: Any) -> list[str]:
    made = sheet(job)
    return [as_text(Sheet(made.title, made.footing, [leaf], made.is_metric)) for leaf in made.leaves[:2]]


def test_every_reading_is_on_the_bench_sheet() -> None:
    job = whole_job()
    job["positions"][0] |= {"retainer_to_rocker": 0.071, "seal_to_spring": 0.083, "height_with_shims": 1.8415}
    job["positions"][0]["masses"] |= {"lash_cap": 1.6, "lifter": 91.5}
    told = " ".join(text(job).split())
    for reading in ("1.6", "91.5", "1.871", "0.090", "0.602", "0.071", "0.083", "104.5", "19.8", "5.1"):
        assert f" {reading} " in told
    assert "117 at 1.750, 264 at 1.250" in told
    assert " 1.120 " in told


def test_a_drawing_marks_what_is_not_accepted_by_its_shape() -> None:
    (leaf,) = sheet(DEMO, by_head=False).leaves
    block = next(one for part in leaf.in_turn() for one in part.blocks if isinstance(one, SideBySide))
    head, graph = block.drawings
    verdicts = [one.verdict for one in head.shapes if isinstance(one, Circle)]
    assert verdicts == [line.verdict for line in answered(DEMO).answer.positions]
    crosses = [one for one in head.shapes if isinstance(one, Lines) and one.ink == "strong"]
    assert len(crosses) == 2 * verdicts.count("reject")
    heavy = [one for one in graph.shapes if isinstance(one, Lines) and one.ink == "strong"]
    # C14 alone has a load or a coil-bind clearance off
    assert len(heavy) == 1


def test_a_graph_lays_its_dots_where_the_curve_of_readings_runs() -> None:
    # two readings make a line: 117 lbf at 1.75 in, 294 lbf/in; the dots at 1.751 and 1.751 - 0.4875 lie on it
    (leaf,) = sheet(whole_job(), by_head=False).leaves
    block = next(one for part in leaf.in_turn() for one in part.blocks if isinstance(one, SideBySide))
    graph = block.drawings[1]
    curve = next(one for one in graph.shapes if isinstance(one, Lines) and one.ink == "thin").points
    (first_x, first_y), (last_x, last_y) = curve[0], curve[-1]
    slope = (last_y - first_y) / (last_x - first_x)
    dots = [one for one in graph.shapes if isinstance(one, Circle)]
    assert len(dots) == 2
    for dot in dots:
        assert dot.y == pytest.approx(first_y + slope * (dot.x - first_x), abs=0.01)


def test_a_head_without_springs_has_no_graph_and_can_be_printed() -> None:
    job = {"positions": [{"id": "1I", "valve": "intake"}]}
    block = next(one for one in section(job, "").blocks if isinstance(one, SideBySide))
    assert len(block.drawings) == 1


def test_there_is_a_blank_to_write_in_for_every_load_after_the_first_heat_cycle() -> None:
    (table,) = section(DEMO, "Loads after the first heat cycle", "customer").blocks
    assert isinstance(table, Table)
    assert table.to_fill
    columns = [place for place, name in enumerate(table.header) if "after" in name]
    assert len(columns) == 2
    assert all(row[place].text == "" for row in table.rows for place in columns)
    assert len(table.rows) == 16


def test_what_is_measured_after_assembly_has_a_table_of_its_own_on_the_bench_sheet() -> None:
    job = whole_job()
    job["positions"][0] |= {"height_with_shims": 1.8415}
    (table,) = section(job, "After assembly").blocks
    assert isinstance(table, Table)
    assert table.to_fill
    # less the 0.090 that the micrometer shows too much
    assert [[cell.text for cell in row] for row in table.rows] == [
        ["height, set (in)", "1.751"],
        ["height, checked (in)", "1.7515"],
        # 117 lbf at 1.750, 294 lbf/in; 0.0015 in more
        ["seat load, set (lbf)", "116.6"],
        ["seat load, checked (lbf)", ""],
        ["after heat: seat load", ""],
        ["after heat: open load", ""],
    ]
    assert (
        sum(len(table.header) - 1 for table in section(DEMO, "After assembly").blocks if isinstance(table, Table)) == 16
    )


def test_a_label_tells_what_its_spring_pushes_where_it_goes_and_what_is_wrong_with_it() -> None:
    (leaf,) = sheet(DEMO, "labels").leaves
    (tags,) = leaf.sections[0].blocks  # type: ignore[union-attr] # labels stand by themselves
    assert isinstance(tags, Tags)
    assert [tag.name for tag in tags.tags] == [f"Spring {spring['id']}" for spring in DEMO["springs"]]
    first, not_tested, weak = tags.tags[0].lines, tags.tags[11].lines, tags.tags[13].lines
    # 1.846 - 0.062 = 1.784 wants 0.034 of shim
    at_home = "Pocket P1I, shims 0.030, stands 1.754"
    for line in ("118 lbf at 1.750 in", "296 lbf at 1.150 in", "coil-bind height 1.118 in", "mass 88.2 g", at_home):
        assert line in first
    assert any(line.startswith("not tested: ____") for line in not_tested)
    assert "WEAK, seat load -12.1 %: you decide" in weak
    assert not any("you decide" in line for line in first)


def test_a_label_of_a_spring_that_goes_nowhere_has_room_for_its_pocket_and_whole_grams_keep_their_place() -> None:
    job = whole_job()
    job["springs"].append({"id": "S2", "mass": 88})
    told = text(job, "labels").split("Spring S2")[1]
    assert "Pocket ____" in told
    assert "mass 88.0 g" in told


def test_a_label_of_a_spring_that_stands_for_many_says_how_many_more_there_are() -> None:
    job = whole_job()
    one = job["positions"][0]
    job["positions"] = [one | {"id": f"{place}I"} for place in range(60)]
    told = text(job, "labels")
    assert told.count("Pocket ") == 6
    assert "and 54 more: see the sheet" in told


def test_a_label_of_many_readings_keeps_the_ends() -> None:
    job = whole_job()
    readings = [{"height": 1.8 - 0.1 * at, "load": 100 + 30 * at} for at in range(7)]
    job["springs"][0]["load_curve"]["readings"] = readings
    told = text(job, "labels")
    assert "100 lbf at 1.800 in" in told
    assert "280 lbf at 1.200 in" in told
    assert told.count(" lbf at ") == 4


@pytest.mark.parametrize("which", ["bench", "customer"])
def test_what_was_wanted_stands_above_the_limits(which: str) -> None:
    told = " ".join(text(DEMO, which).split())
    assert "Wanted: intake and exhaust 1.750 in, 118 lbf closed, 282 lbf open. Limits: installed height" in told
    job = whole_job()
    job["targets"]["intake"] = {"seat_load_minimum": 112, "seat_load_maximum": 125, "open_load": 262}
    told = " ".join(text(job, which).split())
    assert "Wanted: intake min 112 lbf max 125 lbf closed, 262 lbf open. Limits:" in told
