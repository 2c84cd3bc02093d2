"""POST /v1/installed-height."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]
PATH = "/v1/installed-height"


def ask(client: Client, measured: float | None, **more: Any) -> Any:
    position = {"id": "1I", "valve": "intake", "measured_height": measured, "deduction": 0.090}
    job = {"targets": {"intake": {"installed_height": 1.750}}, "positions": [position]} | more
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def codes(answer: Any) -> set[str]:
    return {note["code"] for note in answer["notes"]}


def test_a_position_is_worked_as_on_paper(client: Client) -> None:
    # hand arithmetic: 1.885 - 0.090 = 1.795; 1.795 - 1.750 = 0.045 = 0.030 + 0.015
    answer = ask(client, 1.885)
    position = answer["positions"][0]
    assert (position["bare_height"], position["shim_needed"], position["shims"]) == (1.795, 0.045, [0.03, 0.015])
    assert (position["installed_height"], position["verdict"]) == (1.75, "accept")


def test_the_usual_sizes_are_taken_where_none_are_named_and_said_so(client: Client) -> None:
    assert "usual_shims_assumed" in codes(ask(client, 1.885))
    assert "usual_shims_assumed" not in codes(ask(client, 1.885, shims={"thicknesses": [0.015]}))


def test_more_than_a_pocket_may_hold_is_noted_with_what_is_missing(client: Client) -> None:
    # hand arithmetic: bare 1.830, needed 0.080, at most 0.060: stands 0.020 above
    answer = ask(client, 1.920)
    assert answer["positions"][0]["installed_height"] == 1.77
    note = next(note for note in answer["notes"] if note["code"] == "stack_limit_reached")
    assert "0.020 in above" in note["detail"]
    allowed = ask(client, 1.920, shims={"thicknesses": [0.015, 0.030, 0.060], "stack_maximum": 0.090})
    assert allowed["positions"][0]["installed_height"] == 1.755


def test_sizes_too_coarse_for_the_limit_are_noted(client: Client) -> None:
    # hand arithmetic: needed 0.018 from 0.030 only: 0.012 below, 0.010 is the default tolerance
    answer = ask(client, 1.858, shims={"thicknesses": [0.030]})
    assert answer["positions"][0]["installed_height_check"]["value"] == -0.012
    assert "off_target" in codes(answer)


@pytest.mark.parametrize(("short", "verdict"), [(0.010, "accept"), (0.0101, "borderline")])
def test_short_within_the_limit_is_good(client: Client, short: float, verdict: str) -> None:
    answer = ask(client, 1.840 - short)
    assert answer["positions"][0]["short_by"] == pytest.approx(short, abs=1e-12)
    assert answer["positions"][0]["verdict"] == verdict
    assert ("short_of_height" in codes(answer)) == (verdict == "borderline")


def test_a_position_without_a_reading_is_open_and_the_others_are_answered(client: Client) -> None:
    answer = ask(client, None)
    assert answer["verdict"] == "not_measured"
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/measured_height"]


def test_a_thickness_of_zero_is_refused(client: Client) -> None:
    job = {"shims": {"thicknesses": [0.0]}, "positions": [{"id": "1I", "valve": "intake"}]}
    response = client.post(PATH, json=job)
    assert response.status_code == 400
    assert [error["pointer"] for error in response.json()["errors"]] == ["/shims/thicknesses/0"]


@pytest.mark.parametrize(
    ("shims", "remedy"),
    [
        # 1.890 - 0.090 = 1.800, 0.050 of shim needed: three of 0.010 make 0.030, two of 0.012 make 0.024;
        # 0.035 makes 0.035 or 0.070, 0.100 nothing or 0.100
        ({"thicknesses": [0.010]}, "Thicker shims would close that."),
        ({"thicknesses": [0.012], "shim_count_maximum": 2}, "Thicker shims would close that."),
        ({"thicknesses": [0.035], "stack_maximum": 0.080}, "A finer shim size would close that."),
        ({"thicknesses": [0.100], "stack_maximum": 0.100}, "A finer shim size would close that."),
    ],
)
def test_the_shims_that_would_close_a_miss_are_thicker_or_finer_as_it_is(
    client: Client, shims: dict[str, Any], remedy: str
) -> None:
    answer = ask(client, 1.890, shims=shims)
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "off_target"]
    assert told.endswith(remedy)
