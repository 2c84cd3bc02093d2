"""The benchmarks still measure what they say: whether they do is no matter of speed."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from tests.api.batches import AtOnce
from tests.benchmarks import beside_echo, beside_stacks, followed, growth, release, springs, start, under_load
from tests.benchmarks.jobs import ROOT, demo, of_two_readings, whole_head
from tests.benchmarks.table import Row, markdown
from tests.benchmarks.turns import Effort, Turn, Turns, take_turns

from headbench.api.app import RESOURCES, create_app

ONCE = Effort(rounds=1, turn=0.0)


@pytest.fixture
def loop() -> Iterator[asyncio.AbstractEventLoop]:
    loop = asyncio.new_event_loop()
    yield loop
    loop.close()


def test_every_calculation_is_compared_with_a_handler_that_answers_the_same_bytes(
    loop: asyncio.AbstractEventLoop,
) -> None:
    rows = list(beside_echo.measure(ONCE, loop))
    assert len(rows) == len(RESOURCES) + 2
    assert all(any(resource.path in row.what for row in rows) for resource in RESOURCES)


def test_a_handler_that_answers_other_bytes_is_not_compared(
    loop: asyncio.AbstractEventLoop, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = beside_echo.HEAD(msgspec.convert(whole_head(2), beside_echo.HEAD.request))
    honest = beside_echo.echo_app
    monkeypatch.setattr(beside_echo, "echo_app", lambda resource, _: honest(resource, other))
    with pytest.raises(SystemExit, match="do not answer the same bytes"):
        list(beside_echo.measure(ONCE, loop))


@pytest.mark.parametrize("stack", beside_stacks.STACKS)
@pytest.mark.parametrize("job", [whole_head(), demo()], ids=["every reading taken", "some taken"])
def test_the_other_stacks_answer_the_same_numbers(loop: asyncio.AbstractEventLoop, stack: str, job: Any) -> None:
    job = of_two_readings(job)
    job["units"]["rounding"] = "full"
    ours = beside_stacks.answers(create_app(AtOnce()), job, loop)
    theirs = beside_stacks.answers(beside_stacks.STACKS[stack], job, loop)
    assert len(theirs["positions"]) == 16
    assert differences(theirs, ours, "") == []


def differences(theirs: Any, ours: Any, path: str) -> list[str]:
    """Where an answer says something else than one that may have more fields."""
    if isinstance(theirs, dict):
        return [text for name, one in theirs.items() for text in differences(one, ours[name], f"{path}/{name}")]
    if isinstance(theirs, list) and isinstance(ours, list) and len(theirs) == len(ours):
        pairs = enumerate(zip(theirs, ours, strict=True))
        return [text for place, (one, other) in pairs for text in differences(one, other, f"{path}/{place}")]
    if isinstance(theirs, float) and isinstance(ours, float):
        return [] if theirs == pytest.approx(ours, rel=1e-9, abs=1e-9) else [f"{path}: {theirs} for {ours}"]
    return [] if theirs == ours else [f"{path}: {theirs} for {ours}"]


def test_a_difference_between_two_answers_is_found() -> None:
    assert differences({"a": [{"b": 1.0}]}, {"a": [{"b": 1.00000001, "c": 2}], "d": 3}, "") != []
    assert differences({"a": [{"b": 1.0}]}, {"a": []}, "") != []
    assert differences({"a": None}, {"a": 1.0}, "") != []


def test_growth_and_springs_are_measured(loop: asyncio.AbstractEventLoop) -> None:
    (line,) = growth.measure(ONCE, loop)
    assert "48" in line.what
    assert [row.what.split()[0] for row in springs.measure(ONCE)] == ["32", "a"]


@pytest.mark.parametrize("positions", growth.POSITIONS)
def test_a_head_of_any_size_has_all_its_readings_and_shims(positions: int) -> None:
    job = whole_head(positions)
    sheet = beside_echo.HEAD(msgspec.convert(job, beside_echo.HEAD.request))
    assert len(sheet.positions) == positions
    assert "not_measured" not in {line.verdict for line in sheet.positions}
    assert not [item for item in sheet.open_items if item.position is not None]
    assert sheet.shim_choice_proven


def test_a_height_is_followed_through_functions_of_the_package() -> None:
    (line,) = followed.measure()
    entered = followed.follow(json.dumps(whole_head(1)).encode())
    names = {code.co_name for code in entered["headbench"] if not isinstance(code, str)}
    assert {"decode", "in_si", "set_heights", "from_si"} <= names
    assert f"{len(entered['headbench'])} functions" in line.measured


def test_another_checkout_is_compared_in_a_process_of_its_own() -> None:
    rows = list(release.measure(ONCE, ROOT))
    assert ["16 positions" in rows[0].what, "1 positions" in rows[1].what] == [True, True]


def test_a_start_is_compared_with_importing_the_two_alone() -> None:
    rows = list(start.measure(turns=1))
    assert ["over importing" in row.what for row in rows] == [True, True, False, False, False]


def test_the_service_is_asked_as_it_ships() -> None:
    rows = under_load.measure(seconds=0.2)
    assert [row.measured.endswith("MB") for row in rows] == [False, False, False, True]


def test_ratios_are_those_of_neighboring_turns() -> None:
    turns = Turns({"one": [1.0, 4.0, 9.0], "other": [1.0, 2.0, 3.0]})
    assert (turns.least("one"), turns.ratio("one", "other").middle) == (1.0, 2.0)


def test_every_contender_has_a_turn_in_every_round() -> None:
    taken: list[tuple[str, int]] = []

    def turn(name: str) -> Turn:
        def take(calls: int) -> float:
            taken.append((name, calls))
            return float(calls)

        return take

    take_turns({"a": turn("a"), "b": turn("b")}, Effort(rounds=3, turn=2.0))
    assert taken[-6:] == [("a", 2), ("b", 2)] * 3


def test_the_table_is_markdown() -> None:
    assert markdown([Row("a", "1", "2")]).splitlines() == [
        "| what | measured | spread |",
        "|---|---|---|",
        "| a | 1 | 2 |",
    ]
