"""Valve train: the lift at the valve."""

from __future__ import annotations

import numpy as np
import pytest

from headbench.calc.valvetrain import valve_lift


def test_lift_is_lobe_lift_times_ratio_less_lash() -> None:
    # hand arithmetic: 0.325 * 1.5 = 0.4875; 0.420 * 1.6 - 0.018 = 0.654
    lift = valve_lift(np.array([0.325, 0.420]), np.array([1.5, 1.6]), np.array([0.0, 0.018]))
    assert lift == pytest.approx([0.4875, 0.654], abs=1e-12)


def test_an_unknown_ratio_leaves_the_lift_unknown() -> None:
    assert np.isnan(valve_lift(np.array([0.325]), np.array([np.nan]), np.array([0.0])))[0]
