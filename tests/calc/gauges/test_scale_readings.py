from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.gauges.scale_readings import mass_to_remove

READING = st.floats(0.0, 500.0)


def test_every_part_is_lightened_to_the_lightest_of_its_group() -> None:
    mass = np.array([0.1045, 0.0922, 0.1041, 0.0930, math.nan])
    removed = mass_to_remove(mass, np.array([0, 1, 0, 1, 0]))
    # by hand: 104.5 - 104.1, 92.2 is the lightest, 104.1 is, 93.0 - 92.2
    assert removed[:4] == pytest.approx([0.0004, 0.0, 0.0, 0.0008])
    assert np.isnan(removed[4])


def test_a_group_nobody_weighed_stays_unknown() -> None:
    assert np.isnan(mass_to_remove(np.array([0.1, math.nan]), np.array([0, 1]))).tolist() == [False, True]


@given(st.lists(st.tuples(READING, st.integers(0, 3)), min_size=1, max_size=16))
def test_what_is_left_is_equal_within_every_group(parts: list[tuple[float, int]]) -> None:
    mass, group = np.array([value for value, _ in parts]), np.array([number for _, number in parts])
    left = mass - mass_to_remove(mass, group)
    for number in set(group.tolist()):
        assert left[group == number] == pytest.approx(mass[group == number].min())
