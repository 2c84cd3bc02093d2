from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.pushrods.pushrod_length import (
    find_pushrod_faults,
    length_for_preload,
    nut_turns,
    preload_after,
    preload_from_sunk_valve,
    pushrod_between,
    pushrod_shortening,
)

INCH = 0.0254

dropes = st.floats(-2e-3, 3e-3)
lengths = st.floats(0.1, 0.3)
angles = st.floats(0.0, 0.35)


@given(dropes, lengths, angles)
def test_the_ends_come_nearer_by_as_much_as_a_rule_would_find(drop: float, length: float, angle: float) -> None:
    # own derivation: two points and their distance, before and after one of them has moved down
    rocker = (length * math.sin(angle), length * math.cos(angle))
    expected = math.dist((0.0, 0.0), rocker) - math.dist((0.0, 0.0), (rocker[0], rocker[1] - drop))
    found = pushrod_shortening(np.array([drop]), length, angle)
    assert found[0] == pytest.approx(expected, abs=1e-15)


@given(dropes, angles, st.floats(0.0, 2.0 * math.pi))
def test_ends_in_space_give_the_same_as_length_and_angle(drop: float, angle: float, round_bore: float) -> None:
    length, bore = 0.2, np.array([1.0, 2.0, 2.0])
    # a frame whose third axis is the bore, built by Gram and Schmidt
    third = bore / 3.0
    first = np.array([2.0, -2.0, 1.0]) / 3.0
    second = np.cross(third, first)
    lean = math.cos(round_bore) * first + math.sin(round_bore) * second
    lifter = np.array([[0.1, -0.05, 0.3]])
    rocker = lifter + length * (math.sin(angle) * lean + math.cos(angle) * third)
    stand = pushrod_between(lifter[0].tolist(), rocker[0].tolist(), bore.tolist())
    between = pushrod_shortening(np.array([drop]), stand.length, stand.angle)
    after = np.linalg.norm(rocker - drop * third - lifter)
    assert between[0] == pytest.approx(length - float(after), abs=1e-12)
    # and the angle is lost a little where the pushrod stands straight
    assert between == pytest.approx(pushrod_shortening(np.array([drop]), length, angle), abs=1e-12)


def test_a_pushrod_with_both_ends_at_one_place_is_none() -> None:
    assert find_pushrod_faults(np.full(2, 1e-3), np.array([0.0, 0.2]), np.zeros(2)) == [("no_length", 0)]


def test_a_taller_stem_presses_the_pushrod_down_by_the_rockers_ratio() -> None:
    # a lever of 1 to 1.5: 0.030 in up at the valve is 0.020 in down at the pushrod, by proportion
    gained = preload_from_sunk_valve(np.array([0.030, np.nan]) * INCH, 1.5)
    assert gained[0] / INCH == pytest.approx(0.020, rel=1e-12)
    assert math.isnan(gained[1])


@given(angles)
def test_a_small_drop_shortens_by_its_cosine(angle: float) -> None:
    # first order, n cos g, by the law of cosines (own derivation)
    assert pushrod_shortening(np.array([1e-9]), 0.2, angle)[0] == pytest.approx(1e-9 * math.cos(angle), rel=1e-7)


def test_a_pushrod_along_the_bore_shortens_by_the_drop() -> None:
    assert pushrod_shortening(np.array([0.030 * INCH]), 0.2, 0.0)[0] / INCH == pytest.approx(0.030, rel=1e-12)


@given(st.floats(0.0, 2e-3), angles)
def test_two_half_cuts_shorten_as_much_as_one(cut: float, angle: float) -> None:
    length = 0.2
    first = pushrod_shortening(np.array([cut / 2.0]), length, angle)
    half_way = length - float(first[0])
    # the pushrod leans more after the first half
    angle_then = math.atan2(length * math.sin(angle), length * math.cos(angle) - cut / 2.0)
    second = pushrod_shortening(np.array([cut / 2.0]), half_way, angle_then)
    assert first + second == pytest.approx(pushrod_shortening(np.array([cut]), length, angle), abs=1e-15)


@given(dropes, angles, st.floats(0.1, 10.0))
def test_shortening_scales_with_the_engine(drop: float, angle: float, scale: float) -> None:
    small = pushrod_shortening(np.array([drop]), 0.2, angle)
    assert pushrod_shortening(np.array([scale * drop]), scale * 0.2, angle) == pytest.approx(scale * small, rel=1e-12)


def test_no_drop_shortens_nothing_and_an_unknown_one_is_unknown() -> None:
    shortening = pushrod_shortening(np.array([0.0, np.nan]), 0.2, 0.1)
    assert shortening[0] == 0.0
    assert math.isnan(shortening[1])


def test_the_old_pushrod_adds_the_shortening_to_the_preload() -> None:
    # by hand: 0.035 + 0.030 in
    after = preload_after(np.array([0.035, np.nan]) * INCH, 0.030 * INCH)
    assert after[0] / INCH == pytest.approx(0.065, rel=1e-12)
    assert math.isnan(after[1])


def test_a_checking_pushrod_gives_the_length() -> None:
    # 7.800 in reads 0.010 in preload, 0.040 in wanted: 0.030 in longer
    length = length_for_preload(np.array([7.800]) * INCH, np.array([0.010]) * INCH, 0.040 * INCH)
    assert length[0] / INCH == pytest.approx(7.830, rel=1e-12)


def test_lash_at_the_checking_pushrod_asks_for_a_longer_one() -> None:
    length = length_for_preload(np.array([7.800]) * INCH, np.array([-0.005]) * INCH, 0.040 * INCH)
    assert length[0] / INCH == pytest.approx(7.845, rel=1e-12)


def test_the_nut_of_a_rocker_moves_the_pushrod_more_than_itself() -> None:
    # own derivation: a bar held at the valve's tip (24 mm from the nut), lifted at the nut by one turn of 1.25 mm,
    # moves 1.25 (24 + 16)/24 mm at the pushrod 16 mm beyond it
    assert nut_turns(np.array([1.25e-3 * 40.0 / 24.0]), 1.25e-3, 40.0 / 24.0)[0] == pytest.approx(1.0, rel=1e-12)


def test_an_adjuster_over_the_pushrod_turns_once_per_pitch() -> None:
    assert nut_turns(np.array([-2.0e-3]), 1.0e-3, 1.0)[0] == pytest.approx(-2.0, rel=1e-12)


def test_pushrods_that_cannot_stand_are_named() -> None:
    faults = find_pushrod_faults(
        np.array([1e-3, 0.15, 0.15, 1e-3, np.nan]), np.full(5, 0.2), np.array([math.pi / 2.0, 1.2, 0.2, 0.2, 0.2])
    )
    assert faults == [("lies_across", 0), ("passes_its_end", 1)]


def test_faults_of_pushrods_come_in_the_order_of_what_has_to_be_mended_first() -> None:
    # without a length nothing leans; one along the bore that drops by all of its length lies in its own end
    faults = find_pushrod_faults(np.array([0.2, 1e-3, 1e-3]), np.array([0.2, 0.2, 0.0]), np.array([0.0, 2.0, 0.0]))
    assert faults == [("no_length", 2), ("lies_across", 1), ("passes_its_end", 0)]
