"""Valves that are not fitted, and weights that nobody read: told by the answer and on every sheet."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import whole_job
from tests.sheets import printed

Client = TestClient[ASGIApp]


def head(*ids: str) -> Any:
    """A head whose valves are all as the one of the whole job."""
    job = whole_job()
    [one] = job["positions"]
    return job | {"positions": [one | {"id": name} for name in ids]}


def told(job: Any, which: str) -> str:
    return " ".join(printed(job, "text", which).decode().split())


def test_the_answer_names_the_valves_that_are_not_fitted_and_judges_the_others(client: Client) -> None:
    whole = client.post("/v1/head-assembly", json=head("1I", "3I")).json()
    answer = client.post(
        "/v1/head-assembly", json=head("1I", "3I") | {"not_fitted": [{"id": "2I", "valve": "intake", "place": 1}]}
    ).json()
    assert answer["not_fitted"] == ["2I"]
    assert whole["not_fitted"] == []
    assert answer["verdict_counts"] == whole["verdict_counts"]


@pytest.mark.parametrize("names", [["1I"], ["2I", "2I"]], ids=str)
def test_a_valve_that_is_fitted_and_not_is_refused(client: Client, names: list[str]) -> None:
    response = client.post(
        "/v1/head-assembly", json=head("1I") | {"not_fitted": [{"id": name, "valve": "intake"} for name in names]}
    )
    assert response.status_code == 422
    assert "stands twice" in response.json()["errors"][0]["detail"]


@pytest.mark.parametrize("which", ["bench", "customer"])
def test_weights_taken_as_equal_are_taken_on_trust_in_a_line(which: str) -> None:
    job = head("1I", "2I", "3I", "4I")
    for position in job["positions"][1:]:
        position["taken_as_equal"] = ["retainer", "locks"]
    assert "Retainers 19.8 g and locks 5.1 g: one weighed, the other 3 taken as equal." in told(job, which)
    for position in job["positions"]:
        position.pop("taken_as_equal", None)
    assert "taken as equal" not in told(job, which)


@pytest.mark.parametrize("which", ["bench", "customer"])
def test_a_valve_that_is_not_fitted_has_its_empty_place_on_every_sheet(which: str) -> None:
    job = head("1I", "3I") | {"not_fitted": [{"id": "2I", "valve": "intake", "place": 1}]}
    text = told(job, which)
    assert "2 accepted, 1 not fitted: 2I)" in text
    assert text.index(" 1I intake") < text.index(" 2I intake") < text.index(" 3I intake")
    drawn = printed(job, "page", which).decode()
    assert "1I accept; 2I not fitted; 3I accept" in drawn


def test_a_valve_that_is_not_fitted_is_on_the_sheet_of_its_own_head_alone() -> None:
    job = head("L1I", "R1I")
    job["positions"][0]["bank"], job["positions"][1]["bank"] = "left", "right"
    job["not_fitted"] = [{"id": "L2I", "valve": "intake", "bank": "left"}]
    left, right = printed(job, "page").decode().split("<article")[1:3]
    assert "1 not fitted: L2I" in left
    assert "L2I" not in right


def test_heights_and_lifts_that_nobody_measured_are_told_as_figured() -> None:
    job = head("1I", "2I")
    text = told(job, "customer")
    assert "Installed heights of 2 valves are figured from the shims, not measured after assembly." in text
    assert "Valve lift (intake) from lobe lift and rocker ratio, not measured at the valve." in text
    for position in job["positions"]:
        # 1.871 - 0.090 - 0.030, read with a gauge that shows 0.090 too much
        position |= {"height_with_shims": 1.841, "valve_lift": 0.4875}
    text = told(job, "customer")
    assert "figured from the shims" not in text
    assert "from lobe lift" not in text
    assert "1.751^" in text
