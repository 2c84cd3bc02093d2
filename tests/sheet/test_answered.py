"""The sheet of any answer: all that it holds, in words and units, and nothing made up."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from tests.api.jobs import example, float_job
from tests.sheets import answered, printed

from headbench.api.app import RESOURCES

OTHERS = [one for one in RESOURCES if not one.sheets]


def text(job: Any, kind: str) -> str:
    return " ".join(printed(job, "text", kind=kind).decode().split())


@pytest.mark.parametrize("resource", OTHERS, ids=lambda resource: resource.kind)
def test_open_items_notes_and_cautions_are_all_there(resource: Any) -> None:
    told = text(resource.example, resource.kind)
    answer = answered(resource.example, resource.kind).answer
    for sentence in (
        *(one.detail for one in answer.open_items),
        *(one.detail for one in answer.notes),
        *answer.cautions,
    ):
        # a line may break inside a word that has a hyphen
        assert sentence.replace("- ", "-").replace(" ", "") in told.replace(" ", "")


def test_a_number_stands_beside_its_name_and_unit() -> None:
    told = text(example("milling"), "milling")
    answer = msgspec.to_builtins(answered(example("milling"), "milling").answer)
    assert f"cam retard: {answer['cam_drive']['cam_retard']:.2f} deg" in told
    assert f"swept volume: {answer['compression']['before']['swept_volume']:.2f} cm3" in told


def test_a_check_says_its_limit_and_its_verdict() -> None:
    told = text(example("intake-fit"), "intake-fit")
    check = msgspec.to_builtins(answered(example("intake-fit"), "intake-fit").answer)["left"]["face_gap_check"]
    words = {"accept": "accept", "borderline": "borderline", "not_measured": "NOT MEASURED", "reject": "REJECT"}
    assert check["rule"] == "within"
    # 0.0045 and 0.005 in
    told_so = f"{check['value']:.4f} in (+/- {check['limit']:.3f} in): {words[check['verdict']]}"
    assert f"face gap, judged: {told_so}" in told


def test_columns_called_minimum_and_maximum_hold_the_limits_with_what_came_of_them() -> None:
    targets = {"intake": {"lash_minimum": 0.15, "lash_maximum": 0.25}}
    positions = [
        {"id": name, "valve": "intake", "shim": shim, "lash": lash}
        for name, shim, lash in (("1I", 2.60, 0.28), ("2I", 3.00, 0.60), ("3I", 2.60, None))
    ]
    sold = {"thinnest": 2.7, "thickest": 2.9}
    job = {"units": {"length": "mm"}, "targets": targets, "positions": positions, "shims_sold": sold}
    told = printed(job, "text", kind="lash-shims").decode().splitlines()
    # by hand: 2.70 leaves the first 0.18, in the range; nothing sold or in the head is thicker than 3.00 for the second
    rows = [line.split() for line in told if line.split()[:2] in (["1I", "intake"], ["2I", "intake"], ["3I", "intake"])]
    text_of = {row[0]: " ".join(" ".join(other) for other in rows if other[0] == row[0]) for row in rows}
    assert "0.18 0.15 " in text_of["1I"]
    assert "0.25 accept" in text_of["1I"]
    assert "0.60 0.15 " in text_of["2I"]
    assert "0.25~ you decide" in text_of["2I"]
    assert "__ 0.15? " in text_of["3I"]
    assert "0.25? NOT MEASURED" in text_of["3I"]


def test_where_there_is_no_limit_its_column_is_empty_and_not_open() -> None:
    gaps = [gap for nest in answered(example("spring-fit"), "spring-fit").answer.nests for gap in nest.gaps]
    told = printed(example("spring-fit"), "text", kind="spring-fit").decode().splitlines()
    rows = [line for line in told if line.strip().startswith("over seal")]
    limits = [gap.minimum_check.limit for gap in gaps if gap.kind == "over_seal" and gap.maximum_check is None]
    assert len(rows) == len(limits) > 0
    assert [float(row.split()[-1]) for row in rows] == pytest.approx(limits)


def test_what_was_measured_nowhere_is_named() -> None:
    told = text({"positions": [{"id": "1I", "valve": "intake"}]}, "coil-bind")
    assert "Not measured or not asked, at none of them: installed height, valve lift, open height" in told
    assert "VERDICT: NOT MEASURED" in told


def test_a_long_list_that_only_one_of_two_rows_has_is_printed_for_that_one() -> None:
    job = float_job(trace_points=90)
    # nothing is known of the motion of exhaust valves, so that there is nothing to trace
    job["positions"].append(job["positions"][0] | {"id": "1E", "valve": "exhaust"})
    for form in ("page", "pdf"):
        assert printed(job, form, kind="valve-float")
    told = text(job, "valve-float")
    assert "1I intake, one in 3 of 90 points; JSON and CSV have all:" in told
    assert "1E exhaust:" not in told.replace(", one in", ":")


def test_what_is_below_a_row_says_of_which_row_it_is() -> None:
    titles = printed(example("spring-load"), "text", kind="spring-load").decode().splitlines()
    for below in ("loads at heights", "curve, marks"):
        assert f"Springs, S1: {below}" in titles
        assert f"Springs, S2: {below}" in titles


def test_a_long_list_of_numbers_is_a_column_to_read_down() -> None:
    job = example("spring-load") | {"curve_points": 25}
    told = printed(job, "text", kind="spring-load").decode().splitlines()
    curve = answered(job, "spring-load").answer.springs[0].curve
    start = told.index("S1:")
    assert told[start + 1].split() == ["curve,", "heights", "in", "curve,", "loads", "lbf", "curve,", "rates", "lbf/in"]
    read = [[float(cell) for cell in line.split()] for line in told[start + 3 : start + 28]]
    assert [row[0] for row in read] == pytest.approx(curve.heights, abs=5.0001e-5)
    assert [row[1] for row in read] == pytest.approx(curve.loads, abs=0.050001)


def test_of_a_list_for_plotting_a_part_is_printed_and_said_so() -> None:
    told = text(example("spring-load") | {"curve_points": 100}, "spring-load")
    assert "S1, one in 3 of 100 points; JSON and CSV have all:" in told


def test_a_table_too_wide_for_a_page_goes_on_below_with_its_names() -> None:
    told = printed(example("valve-mass"), "text", kind="valve-mass").decode()
    starts = [line for line in told.splitlines() if line.split()[:2] == ["name", "valve"]]
    assert len(starts) > 1


def test_words_are_explained_as_the_schema_does() -> None:
    told = text(example("coil-bind"), "coil-bind")
    assert "open height: Height at full lift: installed height - valve lift." in told


def test_a_job_is_named_with_its_remarks_and_parts() -> None:
    job = example("coil-bind") | {"job": {"reference": "KW-0317", "remarks": "hot", "parts": ["locks"]}}
    told = text(job, "coil-bind")
    assert told.startswith("Coil bind - KW-0317")
    assert "Remarks: hot" in told
    assert "Parts fitted: locks" in told
