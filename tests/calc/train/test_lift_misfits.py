"""Lift misfits: readings held against their neighbors."""

from __future__ import annotations

import numpy as np
import pytest

from headbench.calc.train.lift_misfits import lift_misfits, odd_reading, typical_misfit

UNEVEN = np.cumsum(np.random.default_rng(3).uniform(0.5, 1.5, 60))


def test_a_cubic_has_no_misfits_at_any_spacing() -> None:
    misfits = lift_misfits(UNEVEN, 1.0 + UNEVEN - 0.1 * UNEVEN**2 + 0.002 * UNEVEN**3)
    assert np.isnan(misfits[[0, 1, -2, -1]]).all()
    assert misfits[2:-2] == pytest.approx(np.zeros(56), abs=1e-10)


def test_a_misfit_scatters_as_one_reading_does() -> None:
    # brute force: four thousand tables of unit scatter, each interior reading on its own
    rng = np.random.default_rng(9)
    many = np.array([lift_misfits(UNEVEN[:9], rng.standard_normal(9))[2:-2] for _ in range(4000)])
    assert many.std(axis=0) == pytest.approx(np.ones(5), abs=0.05)


def test_a_table_of_scatter_alone_has_no_odd_reading() -> None:
    rng = np.random.default_rng(4)
    assert [odd_reading(UNEVEN, rng.standard_normal(60), 1.0) for _ in range(200)] == [-1] * 200


@pytest.mark.parametrize("place", [4, 30, 55])
def test_a_slip_is_found_where_it_is(place: int) -> None:
    lift = 100.0 - (UNEVEN - 30.0) ** 2 / 9.0 + 0.01 * np.random.default_rng(2).standard_normal(60)
    lift[place] += 2.0
    assert odd_reading(UNEVEN, lift, 0.01) == place


def test_a_corner_is_no_slip() -> None:
    at = np.arange(40.0)
    assert odd_reading(at, np.maximum(at - 20.0, 0.0), 0.001) == -1


def test_the_typical_misfit_is_what_readings_scatter_by() -> None:
    lift = 1000.0 - (UNEVEN - 30.0) ** 2 + 0.1 * np.random.default_rng(2).standard_normal(60)
    assert typical_misfit(UNEVEN, lift, 0.1) == pytest.approx(0.1, rel=0.25)
    assert np.isnan(typical_misfit(UNEVEN[:4], lift[:4], 0.1))
