"""Height readings: corrections, repeats, and readings that look like slips."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]
PATH = "/v1/installed-height"


def ask(client: Client, *positions: Any, **others: Any) -> Any:
    lines = [
        {"id": f"{place}I", "valve": "intake"} | (one if isinstance(one, dict) else {"measured_height": one})
        for place, one in enumerate(positions, start=1)
    ]
    targets = {"intake": {"installed_height": 1.750}}
    response = client.post(PATH, json={"targets": targets, "positions": lines, **others})
    assert response.status_code == 200, response.text
    return response.json()


def notes(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def test_a_deduction_is_said_once_for_a_kind_of_valve_and_a_position_may_differ(client: Client) -> None:
    corrections = {"intake": {"deduction": 0.090}}
    answer = ask(client, 1.871, {"measured_height": 1.871, "deduction": 0.0}, height_corrections=corrections)
    assert [line["bare_height"] for line in answer["positions"]] == [1.781, 1.871]
    assert notes(answer, "deduction_assumed") == []


def test_a_micrometer_may_under_read(client: Client) -> None:
    answer = ask(client, {"measured_height": 1.731, "deduction": -0.050})
    assert answer["positions"][0]["bare_height"] == 1.781


@pytest.mark.parametrize(("in_place", "bare"), [(True, 1.841), (False, 1.781), (None, 1.841)])
def test_a_locator_comes_off_where_it_was_not_in_place(client: Client, *, in_place: bool | None, bare: float) -> None:
    reading = {"measured_height": 1.841, "deduction": 0, "locator_thickness": 0.060, "locator_in_place": in_place}
    answer = ask(client, reading)
    assert answer["positions"][0]["bare_height"] == bare
    assert bool(notes(answer, "locator_assumed")) == (in_place is None)


def test_a_deduction_larger_than_the_height_is_refused_where_it_was_said(client: Client) -> None:
    for others, pointer in (
        ({"deduction": 1.9}, "/positions/0/deduction"),
        ({}, "/height_corrections/intake/deduction"),
    ):
        job = {
            "height_corrections": {"intake": {"deduction": 2.0}},
            "positions": [{"id": "1I", "valve": "intake", "measured_height": 1.871} | others],
        }
        response = client.post(PATH, json=job)
        assert response.status_code == 422
        assert [error["pointer"] for error in response.json()["errors"]] == [pointer]


def test_repeats_of_a_height_are_averaged_and_their_range_is_said(client: Client) -> None:
    answer = ask(client, {"measured_height": [1.870, 1.872], "deduction": 0.090})
    assert answer["positions"][0]["measured_height"] == 1.871
    assert "range 0.002 in" in notes(answer, "repeats_averaged")[0]


@pytest.mark.parametrize(
    ("odd", "looks"),
    [
        (2.885, "a misread digit (1.885 in?)"),
        (1.795, "the micrometer on the other step of the retainer (1.885 in on this one)"),
        (8.185, "two digits swapped (1.885 in?)"),
    ],
)
def test_a_height_that_looks_like_a_slip_is_named_for_what_it_looks_like(
    client: Client, odd: float, looks: str
) -> None:
    answer = ask(client, 1.884, 1.885, odd, 1.886, 1.883, height_corrections={"intake": {"deduction": 0.090}})
    told = notes(answer, "reading_slip")
    assert len(told) == 1
    assert told[0].startswith(f"3I: measured height {odd:.3f} in")
    assert looks in told[0]
    assert told[0].endswith(". Measure again.")
    assert notes(answer, "unusual_reading") == []


def test_a_unit_that_looks_forgotten_is_one_sentence(client: Client) -> None:
    answer = ask(client, *(47.5 + place / 10 for place in range(16)))
    assert len(notes(answer, "wrong_unit_suspected")) == 1
    assert notes(answer, "unusual_reading") == []
    assert [note["pointer"] for note in answer["notes"] if note["code"] == "wrong_unit_suspected"] == ["/units/length"]
    metric = ask(client, 1.885, 1.886, units={"length": "mm"})
    assert "is units.length in?" in notes(metric, "wrong_unit_suspected")[0]
