"""Retainer clearance."""

from __future__ import annotations

import numpy as np
import pytest

from headbench.calc.clearances.retainer_clearance import retainer_to_seal_clearance


def test_0_700_with_the_valve_shut_and_0_630_of_lift_leave_0_070() -> None:
    # common practice, no source
    assert retainer_to_seal_clearance(np.array([0.700]), np.array([0.630])) == pytest.approx([0.070], abs=1e-12)


def test_a_retainer_that_hits_the_seal_has_a_negative_clearance() -> None:
    assert retainer_to_seal_clearance(np.array([0.500]), np.array([0.630]))[0] == pytest.approx(-0.130, abs=1e-12)
