"""Nested springs in arrays: what they push together, and what is unknown or proven of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.springs import nested as kernel
from headbench.calc.springs.curves import SpringCurves
from headbench.calc.springs.load_curves import stacked
from headbench.calc.springs.nested import NO_SPRING, UNKNOWN_CURVE, is_proven
from headbench.calc.springs.one_curve import rated_curve
from headbench.calc.springs.readings import curve_through

loads = st.floats(10.0, 2000.0)


@given(outer=loads, inner=loads, step=st.floats(-0.003, 0.003))
def test_loads_of_nested_springs_add_each_at_its_own_height(outer: float, inner: float, step: float) -> None:
    curves = SpringCurves(stacked([rated_curve(0.040, outer, 40e3), rated_curve(0.040, inner, 20e3)]))
    height = np.array([0.038])
    together = kernel.nested_load(curves, np.array([[0, 1]]), height, np.array([[0.0, step]]))
    alone = curves.load_at(np.array([0, 1]), np.array([0.038, 0.038 - step]))
    assert together[0] == pytest.approx(alone.sum(), rel=1e-12)


def test_a_nested_spring_of_unknown_load_leaves_the_sum_unknown() -> None:
    curves = SpringCurves(stacked([rated_curve(0.040, 500.0, 40e3)]))
    height, step = np.array([0.038]), np.zeros((1, 2))
    assert np.isnan(kernel.nested_load(curves, np.array([[0, UNKNOWN_CURVE]]), height, step))[0]
    assert kernel.nested_load(curves, np.array([[0, NO_SPRING]]), height, step) == pytest.approx([580.0])


def test_only_springs_read_on_a_tester_are_proven() -> None:
    read = SpringCurves(stacked([curve_through([0.040, 0.030], [500.0, 900.0])]))
    rated = SpringCurves(stacked([rated_curve(0.040, 500.0, 40e3)]))
    assert is_proven(read, np.array([[0], [UNKNOWN_CURVE]]), np.full(2, 0.035), np.zeros((2, 1))).tolist() == [
        True,
        False,
    ]
    assert is_proven(rated, np.array([[0, NO_SPRING]]), np.full(1, 0.035), np.zeros((1, 2))).tolist() == [False]


def test_one_loose_spring_of_a_nest_is_noticed() -> None:
    # free at 0.040 + 500/40e3 = 0.0525 and 0.040 + 100/40e3 = 0.0425
    curves = SpringCurves(stacked([rated_curve(0.040, 500.0, 40e3), rated_curve(0.040, 100.0, 40e3)]))
    heights, step = np.array([0.042, 0.043, np.nan]), np.zeros((3, 2))
    assert kernel.any_loose(curves, np.array([[0, 1]] * 3), heights, step).tolist() == [False, True, False]
