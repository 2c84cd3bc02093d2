"""Tester: readings corrected by known loads."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.gauges.tester import calibrated, find_calibration_faults

loads = st.floats(0.0, 1000.0)


def test_a_known_load_corrects_its_own_indication() -> None:
    known = calibrated([3.0, 99.0, 210.0], [0.0, 100.0, 200.0])
    assert [known.true_load(shown) for shown in known.indicated] == pytest.approx([0.0, 100.0, 200.0])


@given(loads)
def test_between_known_loads_the_correction_is_numpys_interpolation(shown: float) -> None:
    indicated, applied = [0.0, 300.0, 1000.0], [5.0, 290.0, 1010.0]
    assert calibrated(indicated, applied).true_load(shown) == pytest.approx(np.interp(shown, indicated, applied))


def test_beyond_the_known_loads_the_last_line_goes_on() -> None:
    # hand arithmetic: the last piece rises by 120 per 100 shown, the first by 90
    known = calibrated([0.0, 100.0, 200.0], [0.0, 90.0, 210.0])
    assert [known.true_load(shown) for shown in (300.0, -10.0)] == pytest.approx([330.0, -9.0])


def test_one_known_load_is_a_scale_error() -> None:
    # hand arithmetic: it shows 2 % too much
    known = calibrated([102.0], [100.0])
    assert [known.true_load(shown) for shown in (51.0, 255.0)] == pytest.approx([50.0, 250.0])


@given(loads)
def test_a_true_tester_needs_no_correction(shown: float) -> None:
    assert calibrated([100.0, 20.0], [100.0, 20.0]).true_load(shown) == pytest.approx(shown)


@given(shown=loads, order=st.permutations([0, 1, 2]))
def test_the_order_of_the_known_loads_does_not_matter(shown: float, order: list[int]) -> None:
    indicated, applied = [0.0, 100.0, 200.0], [0.0, 90.0, 210.0]
    turned = calibrated([indicated[place] for place in order], [applied[place] for place in order])
    assert turned.true_load(shown) == calibrated(indicated, applied).true_load(shown)


def test_a_reading_not_taken_has_no_true_load() -> None:
    for known in (calibrated([102.0], [100.0]), calibrated([2.0, 102.0], [0.0, 100.0])):
        assert math.isnan(known.true_load(math.nan))


@pytest.mark.parametrize(
    ("indicated", "applied", "fault"),
    [
        ([100.0, 100.0], [100.0, 100.0], ("repeats", 0, 1)),
        ([100.0, 90.0], [100.0, 110.0], ("falls", 1, 0)),
        ([0.0], [100.0], ("no scale", 0, 0)),
        ([100.0], [0.0], ("no scale", 0, 0)),
        ([1e-300], [100.0], ("no scale", 0, 0)),
    ],
)
def test_known_loads_that_make_no_correction_are_named(
    indicated: list[float], applied: list[float], fault: tuple[str, int, int]
) -> None:
    assert find_calibration_faults(indicated, applied) == [fault]


def test_good_known_loads_have_no_fault() -> None:
    assert find_calibration_faults([0.0, 101.0, 205.0], [0.0, 100.0, 200.0]) == []
    assert find_calibration_faults([101.0], [100.0]) == []
