"""Tester: readings corrected by known loads."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.gauges.tester import corrected_load, find_calibration_faults

loads = st.lists(st.floats(0.0, 1000.0), min_size=1, max_size=8)


def test_a_known_load_corrects_its_own_indication() -> None:
    indicated, applied = np.array([3.0, 99.0, 210.0]), np.array([0.0, 100.0, 200.0])
    assert corrected_load(indicated, indicated, applied) == pytest.approx(applied)


@given(loads)
def test_between_known_loads_the_correction_is_numpys_interpolation(shown: list[float]) -> None:
    indicated, applied = np.array([0.0, 300.0, 1000.0]), np.array([5.0, 290.0, 1010.0])
    found = corrected_load(np.array(shown), indicated, applied)
    assert found == pytest.approx(np.interp(shown, indicated, applied))


def test_beyond_the_known_loads_the_last_line_goes_on() -> None:
    # hand arithmetic: the last piece rises by 120 per 100 shown
    indicated, applied = np.array([0.0, 100.0, 200.0]), np.array([0.0, 90.0, 210.0])
    assert corrected_load(np.array([300.0]), indicated, applied) == pytest.approx([330.0])


def test_one_known_load_is_a_scale_error() -> None:
    # hand arithmetic: it shows 2 % too much
    assert corrected_load(np.array([51.0, 255.0]), np.array([102.0]), np.array([100.0])) == pytest.approx([50.0, 250.0])


@given(loads)
def test_a_true_tester_needs_no_correction(shown: list[float]) -> None:
    known = np.array([100.0, 20.0])
    assert corrected_load(np.array(shown), known, known) == pytest.approx(shown)


def test_the_order_of_the_known_loads_does_not_matter() -> None:
    indicated, applied = np.array([0.0, 100.0, 200.0]), np.array([0.0, 90.0, 210.0])
    shown = np.array([10.0, 150.0, 250.0])
    assert (
        corrected_load(shown, indicated[::-1], applied[::-1]).tolist()
        == corrected_load(shown, indicated, applied).tolist()
    )


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
    assert find_calibration_faults(np.array(indicated), np.array(applied)) == [fault]


def test_good_known_loads_have_no_fault() -> None:
    assert find_calibration_faults(np.array([0.0, 101.0, 205.0]), np.array([0.0, 100.0, 200.0])) == []
    assert find_calibration_faults(np.array([101.0]), np.array([100.0])) == []
