"""Possible readings: ten times off either way is told from what is only odd."""

from __future__ import annotations

import math

import pytest

from headbench.calc.judging.possible import if_possible, is_possible
from headbench.calc.judging.rules import (
    POSSIBLE_COIL_BIND_HEIGHT,
    POSSIBLE_HEIGHT,
    POSSIBLE_RETAINER_TO_SEAL,
    USUAL_RANGES,
    Rule,
)

USUAL = {rule.name: rule.values for rule in USUAL_RANGES}
BOTH_WAYS = [
    (POSSIBLE_HEIGHT, "usual_measured_height"),
    (POSSIBLE_HEIGHT, "usual_installed_height"),
    (POSSIBLE_COIL_BIND_HEIGHT, "usual_coil_bind_height"),
]


@pytest.mark.parametrize(("rule", "usual"), BOTH_WAYS)
def test_every_usual_height_is_impossible_ten_times_off_either_way(rule: Rule, usual: str) -> None:
    low, high = USUAL[usual]
    for share in range(11):
        height = low + (high - low) * share / 10
        assert [is_possible(height * times, rule) for times in (0.1, 1.0, 10.0)] == [False, True, False]


def test_a_distance_to_the_seal_is_impossible_ten_times_too_long_and_possible_however_short() -> None:
    low, high = USUAL["usual_retainer_to_seal"]
    for distance in (low, 0.5 * (low + high), high):
        found = [is_possible(distance * times, POSSIBLE_RETAINER_TO_SEAL) for times in (0.1, 1.0, 10.0)]
        assert found == [True, True, False]
    assert is_possible(0.0, POSSIBLE_RETAINER_TO_SEAL)


def test_what_is_only_odd_counts() -> None:
    # a third more than the tallest usual spring, and one of three quarters of the shortest; common practice, no source
    assert [is_possible(inches * 0.0254, POSSIBLE_HEIGHT) for inches in (0.6, 4.6)] == [True, True]


def test_what_cannot_be_right_is_not_taken_and_nothing_is_no_slip() -> None:
    assert math.isnan(if_possible(0.112 * 0.0254, POSSIBLE_COIL_BIND_HEIGHT))
    assert if_possible(1.12 * 0.0254, POSSIBLE_COIL_BIND_HEIGHT) == 1.12 * 0.0254
    assert is_possible(math.nan, POSSIBLE_HEIGHT)
