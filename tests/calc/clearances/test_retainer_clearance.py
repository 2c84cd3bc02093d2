"""Retainer clearance."""

from __future__ import annotations

import math

import pytest

from headbench.calc.clearances.retainer_clearance import check_retainer, retainer_to_seal_clearance, retainer_verdict
from headbench.calc.judging.verdicts import Verdict


def test_0_700_with_the_valve_shut_and_0_630_of_lift_leave_0_070() -> None:
    # common practice, no source
    assert retainer_to_seal_clearance(0.700, 0.630) == pytest.approx(0.070, abs=1e-12)


def test_a_retainer_that_hits_the_seal_has_a_negative_clearance() -> None:
    assert retainer_to_seal_clearance(0.500, 0.630) == pytest.approx(-0.130, abs=1e-12)


@pytest.mark.parametrize(
    ("clearance", "closed", "verdict"),
    [
        # a least of 1.27 mm: what is known decides; where the lift is not, only too little with the valve closed does
        (2e-3, 16e-3, Verdict.ACCEPT),
        (1e-3, 16e-3, Verdict.REJECT),
        (math.nan, 16e-3, Verdict.NOT_MEASURED),
        (math.nan, 1e-3, Verdict.REJECT),
        (math.nan, math.nan, Verdict.NOT_MEASURED),
    ],
)
def test_the_closed_valve_may_say_already_that_there_is_too_little_room(
    clearance: float, closed: float, verdict: Verdict
) -> None:
    assert retainer_verdict(clearance, closed, 1.27e-3) == verdict


@pytest.mark.parametrize(
    ("distance", "lift", "clearance", "verdict"),
    [
        # hand arithmetic, against a least of 1.27 mm
        (16e-3, 14e-3, 2e-3, Verdict.ACCEPT),
        (15e-3, 14e-3, 1e-3, Verdict.REJECT),
        (16e-3, math.nan, math.nan, Verdict.NOT_MEASURED),
        (1e-3, math.nan, math.nan, Verdict.REJECT),
        # a lift of 1 um is none, nor are 140 mm: they count as not measured
        (16e-3, 1e-6, math.nan, Verdict.NOT_MEASURED),
        (16e-3, 140e-3, math.nan, Verdict.NOT_MEASURED),
        # nor is there a seal 160 mm below any retainer; one 1.6 mm below there may be, 1.6 - 14 = -12.4
        (160e-3, 14e-3, math.nan, Verdict.NOT_MEASURED),
        (1.6e-3, 14e-3, -12.4e-3, Verdict.REJECT),
    ],
)
def test_a_retainer_is_checked_from_its_distance_and_the_lift(
    distance: float, lift: float, clearance: float, verdict: Verdict
) -> None:
    found = check_retainer(distance, lift, 1.27e-3)
    assert found.clearance == pytest.approx(clearance, abs=1e-12, nan_ok=True)
    assert found.verdict == verdict
