"""Valve mass: what moves with the valve."""

from __future__ import annotations

import numpy as np
import pytest

from headbench.calc.valve_mass import moving_mass


def grams(*masses: float) -> list[np.ndarray[tuple[int], np.dtype[np.float64]]]:
    return [np.array([mass * 1e-3]) for mass in masses]


def test_a_third_of_the_spring_moves_with_the_valve() -> None:
    # hand arithmetic: 104.5 + 19.8 + 5.1 + 2.0 + 90/3 = 161.4 g; the third is Rayleigh's (any vibration text)
    assert moving_mass(*grams(104.5, 19.8, 5.1, 2.0, 90.0)) == pytest.approx([0.1614], rel=1e-12)


def test_a_part_that_was_not_weighed_leaves_the_sum_unknown() -> None:
    assert np.isnan(moving_mass(*grams(104.5, float("nan"), 5.1, 0.0, 90.0)))[0]
