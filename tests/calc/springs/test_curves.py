"""Spring curves: springs of every kind asked together answer as each alone."""

from __future__ import annotations

import numpy as np

from headbench.calc.coils.coils import dimensioned_spring
from headbench.calc.coils.shapes import beehive, cylinder
from headbench.calc.coils.wire import round_wire
from headbench.calc.springs.curves import SpringCurves
from headbench.calc.springs.load_curves import stacked
from headbench.calc.springs.one_curve import rated_curve
from headbench.calc.springs.readings import curve_through

READ = curve_through([0.045, 0.040, 0.032], [500.0, 700.0, 1100.0])
RATED = rated_curve(0.040, 500.0, 50e3)
STRAIGHT = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
BEEHIVE = dimensioned_spring(beehive(0.030, 0.020, 3.0, 2.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
ALL = SpringCurves(stacked([READ, RATED]), (STRAIGHT, BEEHIVE))
WHICH = np.array([3, 0, -1, 2, 1, 3, -2])
HEIGHT = np.array([0.040, 0.041, 0.041, 0.045, 0.038, 0.047, 0.041])


def test_every_spring_of_a_mixed_set_answers_as_it_does_alone() -> None:
    at = [HEIGHT[place : place + 1] for place in range(len(HEIGHT))]
    expected = [
        BEEHIVE.load_at(at[0])[0],
        READ.load_at(float(HEIGHT[1])),
        np.nan,
        STRAIGHT.load_at(at[3])[0],
        RATED.load_at(float(HEIGHT[4])),
        BEEHIVE.load_at(at[5])[0],
        np.nan,
    ]
    np.testing.assert_array_equal(ALL.load_at(WHICH, HEIGHT), expected)
    rates = ALL.rate_at(WHICH, HEIGHT)
    assert rates[0] == BEEHIVE.rate_at(at[0])[0]
    assert rates[4] == 50e3


def test_only_springs_with_readings_are_read() -> None:
    assert ALL.is_proven(WHICH, HEIGHT).tolist() == [False, True, False, False, False, False, False]


def test_a_spring_is_proven_a_tenth_of_its_span_beyond_its_readings_and_no_farther() -> None:
    # read from 0.032 to 0.045: a tenth of the span is 0.0013
    heights = np.array([0.0462, 0.0464, 0.0308, 0.0306])
    assert ALL.is_proven(np.zeros(4, dtype=np.int64), heights).tolist() == [True, False, True, False]
