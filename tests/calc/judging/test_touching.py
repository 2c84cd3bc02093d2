from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.calc.judging.verdicts import Verdict


@pytest.mark.parametrize(
    ("clearance", "limit", "verdict"),
    [
        # by the rule: at the limit is good, below it is not, and what touches never is
        (1.0e-3, 1.0e-3, Verdict.ACCEPT),
        (0.9e-3, 1.0e-3, Verdict.REJECT),
        (0.0, 0.0, Verdict.REJECT),
        (1.0e-20, 0.0, Verdict.REJECT),
        (1.0e-6, 0.0, Verdict.ACCEPT),
        (-1.0e-3, 0.0, Verdict.REJECT),
        (math.nan, 0.0, Verdict.NOT_MEASURED),
    ],
)
def test_what_touches_is_rejected_whatever_the_limit(clearance: float, limit: float, verdict: Verdict) -> None:
    assert clearance_verdict(np.array([clearance]), limit).tolist() == [verdict]
    assert clearance_verdict(clearance, limit) == verdict


def test_what_touches_is_rejected_whatever_the_uncertainty() -> None:
    assert clearance_verdict(np.array([0.0]), 0.0, 1e-3).tolist() == [Verdict.REJECT]
    assert clearance_verdict(0.0, 0.0, 1e-3) == Verdict.REJECT


@given(gap=st.floats(-1e-3, 1e-3), minimum=st.floats(0.0, 1e-3))
def test_a_closed_gap_is_never_better_than_rejected(gap: float, minimum: float) -> None:
    closed = is_closed(gap)
    assert closed is (gap < 1e-9)
    assert is_closed(np.array([gap])).tolist() == [closed]
    assert not closed or clearance_verdict(gap, minimum) == Verdict.REJECT
    assert not closed or clearance_verdict(np.array([gap]), minimum).tolist() == [Verdict.REJECT]
