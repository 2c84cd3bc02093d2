"""What of an answer is otherwise than it was: verdicts by what they mean, numbers by what a bench can read."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import msgspec
import pytest

from headbench.api.app import RESOURCES
from headbench.bulk.changes import Change, Comparison
from headbench.bulk.quantities import NO_SHAPE, Shape, Tolerances, shape_of

UNITS = {"length": "in", "force": "lbf", "mass": "g", "stress": "psi", "speed": "rpm"}
_ANSWER: type[msgspec.Struct] = next(one.answer for one in RESOURCES if one.kind == "head-assembly")
SHEET = shape_of(_ANSWER)


def check(verdict: str, value: float | None, limit: float, check_class: str = "damage") -> dict[str, Any]:
    spare = None if value is None else round(value - limit, 9)
    return {
        "value": value, "limit": limit, "rule": "at_least", "to_spare": spare, "check_class": check_class,
        "counts_toward_verdict": True, "verdict": verdict,
    }  # fmt: skip


def sheet(**others: Any) -> dict[str, Any]:
    """As much of a sheet as is compared here."""
    position = {
        "id": "1I", "installed_height": 1.75, "seat_load": 118.0, "shims": [0.030], "remarks": None,
        "coil_bind_clearance_check": check("accept", 0.082, 0.060),
        "installed_height_check": check("accept", 0.002, 0.010, "setting"), "verdict": "accept",
    }  # fmt: skip
    banks = [{"bank": None, "positions": ["1I"], "verdict": "accept"}]
    return {"units": UNITS, "verdict": "accept", "banks": banks, "positions": [position | others], "notes": []}


def changes(was: Any, now: Any, said: dict[str, float] | None = None, shape: Shape = SHEET) -> list[Change]:
    comparison = Comparison(3, "KW-3", "head-assembly", UNITS, Tolerances(said or {}))
    return [one.change for one in comparison.changes(was, now, shape)]


def test_the_same_answer_has_no_changes() -> None:
    assert changes(sheet(), sheet()) == []


def test_a_check_that_turned_worse_is_told_once_with_its_figure_and_limit() -> None:
    now = sheet(coil_bind_clearance_check=check("reject", 0.082, 0.090), verdict="reject")
    now |= {"verdict": "reject", "banks": [{"bank": None, "positions": ["1I"], "verdict": "reject"}]}
    assert changes(sheet(), now) == [
        Change(
            line=3, id="KW-3", kind="head-assembly", what="damage turned worse",
            pointer="/positions/0/coil_bind_clearance_check", name="coil_bind_clearance_check", position="1I",
            was="accept", now="reject", value_was=0.082, value=0.082, limit_was=0.060, limit=0.090, unit="in",
        )
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("was", "now", "what"),
    [
        ("accept", "borderline", "setting turned worse"),
        ("borderline", "not_measured", "setting turned worse"),
        ("accept", "not_measured", "setting turned worse"),
        ("reject", "borderline", "turned better"),
        ("reject", "accept", "turned better"),
    ],
)
def test_a_setting_turns_worse_or_better_in_the_order_of_verdicts(was: str, now: str, what: str) -> None:
    before, after = (sheet(installed_height_check=check(one, 0.002, 0.010, "setting")) for one in (was, now))
    assert [(one.what, one.was, one.now) for one in changes(before, after)] == [(what, was, now)]


def test_a_check_that_is_no_longer_made_is_like_one_of_nothing_measured() -> None:
    gone = sheet(coil_bind_clearance_check=None)
    assert [(one.what, one.was, one.now) for one in changes(sheet(), gone)] == [
        ("damage turned worse", "accept", "not judged")
    ]


@pytest.mark.parametrize("verdict", ["reject", "borderline", "not_measured"])
def test_a_check_that_was_not_made_before_is_told_where_it_is_not_accepted(verdict: str) -> None:
    made = sheet(coil_bind_clearance_check=check(verdict, 0.05, 0.06))
    assert [(one.what, one.was) for one in changes(sheet(coil_bind_clearance_check=None), made)] == [
        ("damage turned worse", "not judged")
    ]


def test_a_verdict_that_no_check_explains_is_told_by_itself() -> None:
    now = sheet(verdict="reject") | {"verdict": "reject"}
    assert [(one.pointer, one.name, one.position, one.now) for one in changes(sheet(), now)] == [
        ("/positions/0", "verdict", "1I", "reject")
    ]


@pytest.mark.parametrize(
    ("field", "was", "now", "told"),
    [
        # a bench reads 0.0001 in and 0.1 lbf
        ("installed_height", 1.75, 1.7501, False),
        ("installed_height", 1.75, 1.7502, True),
        ("seat_load", 118.0, 118.1, False),
        ("seat_load", 118.0, 117.8, True),
        ("seat_load", 118.0, None, True),
        ("seat_load", None, 118.0, True),
        ("seat_load", None, None, False),
        ("shims", [0.030], [0.030, 0.015], True),
        ("shims", [0.030, 0.015], [0.030], True),
        ("remarks", "new guides", "old guides", False),
    ],
)
def test_a_number_is_told_where_a_bench_can_read_the_difference(field: str, was: Any, now: Any, told: bool) -> None:  # noqa: FBT001 - a table
    found = changes(sheet(**{field: was}), sheet(**{field: now}))
    assert [(one.what, one.name) for one in found] == ([("number", field)] if told else [])


def test_a_caller_may_say_how_far_numbers_may_differ() -> None:
    before, after = sheet(), sheet(seat_load=119.5, installed_height=1.7405)
    assert {one.name: one.unit for one in changes(before, after)} == {"seat_load": "lbf", "installed_height": "in"}
    assert [one.name for one in changes(before, after, {"force": 1.5})] == ["installed_height"]
    assert [one.name for one in changes(before, after, {"length": 0.01})] == ["seat_load"]
    assert [one.name for one in changes(before, after, {"force": 1.4, "length": 0.01})] == ["seat_load"]


def test_a_number_nobody_reads_is_the_same_within_a_ten_thousandth() -> None:
    # a rate has no places of a bench: 300 lbf/in may differ by 0.03 of them
    times = [Tolerances().apart("rate", {"rate": "lbf/in"}, 300.0, now) for now in (300.0, 300.029, 300.031)]
    assert [one > 1.0 for one in times] == [False, False, True]


def test_a_count_may_not_differ_at_all() -> None:
    assert Tolerances().apart(None, UNITS, 3, 4) > 1.0
    assert Tolerances().apart(None, UNITS, 3, 3) <= 1.0


def test_positions_are_found_by_their_id_wherever_they_stand() -> None:
    before = sheet()
    second = deepcopy(before["positions"][0]) | {"id": "1E"}
    before["positions"].append(second)
    after = deepcopy(before)
    after["positions"].reverse()
    assert changes(before, after) == []
    after["positions"][0]["seat_load"] = 130.0
    assert [(one.pointer, one.position) for one in changes(before, after)] == [("/positions/0/seat_load", "1E")]


def test_a_position_that_is_gone_is_told() -> None:
    before, after = sheet(), sheet()
    after["positions"] = []
    assert ("damage turned worse", "1I", "not judged") in [
        (one.what, one.position, one.now) for one in changes(before, after)
    ]


def test_an_answer_of_another_shape_is_compared_as_far_as_it_goes() -> None:
    was, now = {"units": UNITS, "odd": [1, {"x": "a"}], "n": 1}, {"units": UNITS, "odd": {"x": True}, "n": 2}
    assert [one.name for one in changes(was, now, shape=NO_SHAPE)] == ["n"]


def test_every_number_of_an_answer_that_has_a_quantity_is_found() -> None:
    position = SHEET.fields["positions"].item
    assert position is not None
    assert position.fields["seat_load"].quantity == "force"
    assert position.fields["coil_bind_clearance_check"].fields["value"].quantity == "length"
    assert position.fields["seat_load_check"].fields["limit"].quantity == "percent"
    assert position.fields["shims"].item == Shape(quantity="length")
