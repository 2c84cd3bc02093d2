"""Coil bind: the smallest clearance decides."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.clearances.coil_bind import coil_bind_clearance
from headbench.calc.judging.verdicts import Verdict

NONE = -np.inf
UNREAD = np.nan
heights = st.floats(0.02, 0.04)


def test_clearance_is_open_height_less_coil_bind_height() -> None:
    # hand arithmetic: 1.751 - 0.4875 = 1.2635; 1.2635 - 1.120 = 0.1435
    bind = coil_bind_clearance(np.array([1.2635]), np.zeros((1, 1)), np.array([[1.120]]))
    assert bind.clearance == pytest.approx([0.1435], abs=1e-12)


def test_an_inner_spring_on_a_step_may_be_the_one_that_decides() -> None:
    # the inner stands 0.060 shorter: 1.260 - 0.060 - 1.150 = 0.050, against 1.260 - 1.120 = 0.140 outside
    bind = coil_bind_clearance(np.array([1.260]), np.array([[0.0, 0.060]]), np.array([[1.120, 1.150]]))
    assert bind.clearance == pytest.approx([0.050], abs=1e-12)
    assert bind.tightest.tolist() == [1]


def test_coil_bind_heights_0_030_apart_make_the_worst_spring_decide() -> None:
    # common practice, no source: coil-bind heights in one set differ by about 0.030 in, so a nominal
    # 0.060 in leaves 0.030 in on the worst spring
    solid = np.array([[1.130], [1.145], [1.160]])
    bind = coil_bind_clearance(np.full(3, 1.190), np.zeros((3, 1)), solid)
    assert bind.clearance.min() == pytest.approx(0.030, abs=1e-12)
    assert bind.verdict(0.060).tolist() == [Verdict.ACCEPT, Verdict.REJECT, Verdict.REJECT]


def test_a_spring_not_read_holds_the_verdict_back_but_not_a_known_miss() -> None:
    bind = coil_bind_clearance(np.full(2, 0.032), np.zeros((2, 2)), np.array([[0.030, UNREAD], [0.0315, UNREAD]]))
    assert bind.clearance == pytest.approx([0.002, 0.0005], abs=1e-12)
    assert bind.verdict(0.0015).tolist() == [Verdict.NOT_MEASURED, Verdict.REJECT]


def test_nothing_read_is_no_number_at_all() -> None:
    bind = coil_bind_clearance(np.array([0.032]), np.zeros((1, 2)), np.array([[UNREAD, NONE]]))
    assert np.isnan(bind.clearance[0])
    assert bind.verdict(0.0).tolist() == [Verdict.NOT_MEASURED]


def test_an_unknown_height_is_no_number_at_all() -> None:
    bind = coil_bind_clearance(np.array([np.nan]), np.zeros((1, 1)), np.array([[0.030]]))
    assert np.isnan(bind.clearance[0])
    assert bind.verdict(0.0).tolist() == [Verdict.NOT_MEASURED]


@given(height=heights, solid=st.lists(heights, min_size=2, max_size=3))
def test_one_more_spring_never_makes_more_room(height: float, solid: list[float]) -> None:
    step = np.zeros((1, len(solid)))
    fewer = np.array([[*solid[:-1], NONE]])
    one = coil_bind_clearance(np.array([height]), step, fewer).clearance[0]
    more = coil_bind_clearance(np.array([height]), step, np.array([solid])).clearance[0]
    assert more <= one


@given(height=heights, solid=st.lists(heights, min_size=2, max_size=2))
def test_the_order_of_nested_springs_does_not_matter(height: float, solid: list[float]) -> None:
    step = np.zeros((1, 2))
    one = coil_bind_clearance(np.array([height]), step, np.array([solid])).clearance
    other = coil_bind_clearance(np.array([height]), step, np.array([solid[::-1]])).clearance
    assert one.tolist() == other.tolist()
