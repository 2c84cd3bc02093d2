"""Load targets: what is wanted of a load, with both ends, one end or none."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.verdicts import Verdict

ACCEPT, NOT_MEASURED, REJECT = Verdict.ACCEPT, Verdict.NOT_MEASURED, Verdict.REJECT


@pytest.mark.parametrize(
    ("low", "high", "load", "verdict"),
    [
        (475.0, 525.0, 475.0, ACCEPT),
        (475.0, 525.0, 525.0, ACCEPT),
        (475.0, 525.0, 474.9, REJECT),
        (475.0, 525.0, 525.1, REJECT),
        (475.0, math.nan, 9999.0, ACCEPT),
        (475.0, math.nan, 474.0, REJECT),
        (math.nan, 525.0, 0.0, ACCEPT),
        (math.nan, 525.0, 526.0, REJECT),
        (475.0, 525.0, math.nan, NOT_MEASURED),
    ],
)
def test_a_load_is_good_between_the_ends_there_are(low: float, high: float, load: float, verdict: Verdict) -> None:
    assert LoadTarget(500.0, low, high).verdict(load) == verdict


def test_nothing_wanted_judges_nothing() -> None:
    nothing = LoadTarget()
    assert not nothing.is_set
    assert not nothing.bounded
    assert nothing.verdict(500.0) == NOT_MEASURED
    assert math.isnan(nothing.deviation(500.0))


def test_only_both_ends_bound_a_load() -> None:
    assert LoadTarget(500.0, 475.0, 525.0).bounded
    assert not LoadTarget(500.0, 475.0).bounded


# by hand: 490 is 2 % under 500, 510 is 2 % over
@pytest.mark.parametrize(("load", "percent"), [(490.0, -2.0), (500.0, 0.0), (510.0, 2.0)])
def test_a_deviation_is_in_percent_of_what_is_wanted(load: float, percent: float) -> None:
    assert LoadTarget(500.0).deviation(load) == pytest.approx(percent, abs=1e-12)


@given(st.floats(1.0, 5000.0), st.floats(1.0, 5000.0), st.floats(0.5, 2.0))
def test_a_load_is_judged_alike_in_every_unit(load: float, aim: float, factor: float) -> None:
    one = LoadTarget(aim, 0.95 * aim, 1.05 * aim)
    other = LoadTarget(factor * aim, factor * 0.95 * aim, factor * 1.05 * aim)
    if all(abs(load - end) > 1e-6 * aim for end in (one.low, one.high)):
        assert one.verdict(load) == other.verdict(factor * load)
    assert one.deviation(load) == pytest.approx(other.deviation(factor * load), abs=1e-9)
