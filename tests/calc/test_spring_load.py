"""Spring load: nested springs, load loss, and readings that cannot be true."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.load_curves import from_rating, from_readings
from headbench.calc.spring_load import (
    NO_SPRING,
    UNKNOWN_CURVE,
    beyond_readings,
    find_reading_faults,
    is_proven,
    load_loss,
    nested_load,
    nested_rate,
)

loads = st.floats(10.0, 2000.0)


def faults(*readings: tuple[float, float]) -> list[tuple[str, int, int]]:
    height, load = np.array(readings).T
    return [*find_reading_faults(np.zeros(len(readings), dtype=np.int64), height * 1e-3, load)]


def test_two_nested_springs_share_2000_n_as_the_textbook_has_it() -> None:
    # Bhandari, Design of Machine Elements, Example 10.18: 2000 N on an outer spring d 10, D 80, N 8 and
    # an inner one d 8, D 64, N 12 mm, G 81370 MPa; 1304.347826 N and 695.652174 N at 52.526569 mm.
    # The rates are the textbook's own formula G d^4/(8 D^3 N).
    outer = 81370.0 * 10.0**4 / (8.0 * 80.0**3 * 8.0) * 1e3
    inner = 81370.0 * 8.0**4 / (8.0 * 64.0**3 * 12.0) * 1e3
    free = 0.200
    curves = from_rating(np.array([free, free]) - 1e-3, np.array([outer, inner]) * 1e-3, np.array([outer, inner]))
    height = np.array([free - 52.526569e-3])
    assert nested_load(curves, np.array([[0, 1]]), height, np.zeros((1, 2))) == pytest.approx([2000.0], rel=1e-8)
    each = [nested_load(curves, np.array([[place]]), height, np.zeros((1, 1)))[0] for place in (0, 1)]
    assert each == pytest.approx([1304.347826, 695.652174], rel=1e-8)


@given(outer=loads, inner=loads, step=st.floats(-0.003, 0.003))
def test_loads_of_nested_springs_add_each_at_its_own_height(outer: float, inner: float, step: float) -> None:
    curves = from_rating(np.array([0.040, 0.040]), np.array([outer, inner]), np.array([40e3, 20e3]))
    height = np.array([0.038])
    together = nested_load(curves, np.array([[0, 1]]), height, np.array([[0.0, step]]))
    alone = curves.load_at(np.array([0, 1]), np.array([0.038, 0.038 - step]))
    assert together[0] == pytest.approx(alone.sum(), rel=1e-12)
    rate = nested_rate(curves, np.array([[0, 1]]), height, np.array([[0.0, step]]))
    assert rate[0] == pytest.approx(curves.rate_at(np.array([0, 1]), np.array([0.038, 0.038 - step])).sum())


def test_a_nested_spring_of_unknown_load_leaves_the_sum_unknown() -> None:
    curves = from_rating(np.array([0.040]), np.array([500.0]), np.array([40e3]))
    height, step = np.array([0.038]), np.zeros((1, 2))
    assert np.isnan(nested_load(curves, np.array([[0, UNKNOWN_CURVE]]), height, step))[0]
    assert nested_load(curves, np.array([[0, NO_SPRING]]), height, step) == pytest.approx([580.0])


def test_only_springs_read_on_a_tester_are_proven() -> None:
    read = from_readings(np.array([0, 0]), np.array([0.040, 0.030]), np.array([500.0, 900.0]))
    rated = from_rating(np.array([0.040]), np.array([500.0]), np.array([40e3]))
    assert is_proven(read, np.array([[0], [UNKNOWN_CURVE]])).tolist() == [True, False]
    assert is_proven(rated, np.array([[0, NO_SPRING]])).tolist() == [False]


def test_the_farthest_of_nested_springs_counts_as_beyond_the_readings() -> None:
    read = from_readings(
        np.array([0, 0, 1, 1]), np.array([0.040, 0.030, 0.038, 0.032]), np.array([500.0, 900.0, 100.0, 200.0])
    )
    beyond = beyond_readings(read, np.array([[0, 1]]), np.array([0.039]), np.array([[0.0, -0.001]]))
    assert beyond == pytest.approx([0.002], rel=1e-9)  # the inner one stands at 0.040, read up to 0.038


def test_a_spring_that_lost_a_tenth_has_lost_ten_percent() -> None:
    assert load_loss(np.array([108.0, 126.0]), np.array([120.0, 120.0])) == pytest.approx([10.0, -5.0])


def test_good_readings_in_any_order_have_no_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (35.0, 690.0)) == []


def test_a_repeated_reading_is_no_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (40.0, 500.0)) == []


def test_a_load_that_falls_as_the_spring_is_compressed_is_named_with_both_readings() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (28.0, 880.0)) == [("falls", 1, 2)]


def test_a_load_that_stays_as_the_spring_is_compressed_is_a_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 500.0)) == [("flat", 0, 1)]


def test_one_height_with_two_loads_is_a_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (40.0, 510.0)) == [("repeats", 0, 2)]


def test_one_height_only_is_no_curve() -> None:
    assert faults((40.0, 500.0), (40.0, 500.0)) == [("too few", 0, 1)]


def test_every_fault_of_every_spring_is_found_and_springs_are_not_mixed_up() -> None:
    spring = np.array([0, 0, 1, 1, 2, 2])
    height = np.array([40.0, 30.0, 40.0, 30.0, 41.0, 41.0]) * 1e-3
    load = np.array([500.0, 400.0, 600.0, 900.0, 300.0, 300.0])
    assert sorted(find_reading_faults(spring, height, load)) == [("falls", 0, 1), ("too few", 4, 5)]
