from __future__ import annotations

import math

import numpy as np
import pytest

from headbench.calc.kept_apart import kept_apart
from headbench.calc.verdicts import Verdict


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
    assert kept_apart(np.array([clearance]), limit).tolist() == [verdict]
