from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.gauges.scale_readings import mass_to_remove

READING = st.floats(0.0, 500.0)


def test_every_part_is_lightened_to_the_lightest_of_its_kind() -> None:
    # by hand: 104.5 - 104.1, 104.1 is the lightest; 92.2 is, 93.0 - 92.2
    removed = mass_to_remove([0.1045, 0.1041, math.nan])
    assert removed[:2] == pytest.approx([0.0004, 0.0])
    assert math.isnan(removed[2])
    assert mass_to_remove([0.0922, 0.0930]) == pytest.approx([0.0, 0.0008])


def test_a_kind_nobody_weighed_stays_unknown() -> None:
    assert [math.isnan(one) for one in mass_to_remove([math.nan, math.nan])] == [True, True]
    assert mass_to_remove([]) == []


@given(st.lists(READING, min_size=1, max_size=16))
def test_what_is_left_is_equal_within_every_kind(mass: list[float]) -> None:
    left = [one - off for one, off in zip(mass, mass_to_remove(mass), strict=True)]
    assert left == pytest.approx([min(mass)] * len(mass))
