"""Spring load: what one set of springs answers, by hand arithmetic and by laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.coils.coils import dimensioned_spring
from headbench.calc.coils.shapes import beehive
from headbench.calc.coils.wire import round_wire
from headbench.calc.springs.one_curve import rated_curve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_load import find_loads
from headbench.calc.springs.spring_set import SpringSet, of_load_alone, spring_set

RATED = rated_curve(0.040, 500.0, 50e3)
BEEHIVE = dimensioned_spring(beehive(0.030, 0.020, 3.0, 2.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
BY_DIMENSIONS = SpringSet((of_load_alone(None)._replace(curve=BEEHIVE),), 0.0)


def test_every_height_and_every_load_asked_for_is_answered_in_turn() -> None:
    # hand arithmetic: 500 + 50e3 (0.040 - H)
    found = find_loads(spring_set(RATED), [0.040, 0.030, 0.051], [750.0, 1000.0])
    assert [one.height for one in found.at_heights] == [0.040, 0.030, 0.051]
    assert [one.load for one in found.at_heights] == pytest.approx([500.0, 1000.0, 0.0])
    assert [one.rate for one in found.at_heights] == [50e3, 50e3, 0.0]
    assert found.for_loads == pytest.approx([0.035, 0.030])
    assert found.mean_rate == pytest.approx(1000.0 / 0.021)


def test_where_coils_touch_there_is_no_load_and_no_height_but_coil_bind_has_the_load_that_takes_it_there() -> None:
    bound = SpringSet((of_load_alone(RATED)._replace(coil_bind_height=0.030),), 0.0)
    # hand arithmetic: 1000 N at 0.030
    found = find_loads(bound, [0.031, 0.030, 0.029], [900.0, 1000.0, 1100.0], (0.029, 0.028))
    assert [one.load for one in found.at_heights] == pytest.approx([950.0, math.nan, math.nan], nan_ok=True)
    assert found.for_loads == pytest.approx([0.032, math.nan, math.nan], nan_ok=True)
    assert math.isnan(found.installed.load)
    assert math.isnan(found.opened.rate)
    assert found.bound.load == pytest.approx(1000.0)
    assert [found.touches(height) for height in (0.031, 0.030, math.nan)] == [False, True, False]


def test_one_height_or_none_has_no_mean_rate() -> None:
    for heights in ([], [0.040], [0.040, 0.040]):
        assert math.isnan(find_loads(spring_set(RATED), heights, []).mean_rate)


def test_of_an_unknown_spring_nothing_is_known() -> None:
    found = find_loads(spring_set(RATED, None), [0.040], [500.0], (0.040, 0.030), 5)
    assert math.isnan(found.at_heights[0].load)
    assert math.isnan(found.for_loads[0])
    assert math.isnan(found.bind_height)
    assert np.isnan([one.load for one in found.curve]).all()


def test_the_curve_runs_from_the_tallest_to_the_shortest_height_that_means_something() -> None:
    read = spring_set(curve_through([0.045, 0.032], [500.0, 1100.0]))
    assert [one.height for one in find_loads(read, [], [], (0.046, 0.034), 3).curve] == pytest.approx(
        [0.046, 0.039, 0.032]
    )
    ends = [one.height for one in find_loads(BY_DIMENSIONS, [], [], curve_points=2).curve]
    assert ends == pytest.approx([BEEHIVE.free_height, BEEHIVE.coil_bind_height])
    assert list(find_loads(spring_set(None), [], [], curve_points=3).curve) == []
    assert list(find_loads(read, [], []).curve) == []


@settings(max_examples=50, deadline=None)
@given(share=st.lists(st.floats(0.01, 0.99), min_size=1, max_size=6))
def test_the_height_found_for_a_load_is_the_one_it_was_given_at(share: list[float]) -> None:
    travel = BEEHIVE.free_height - BEEHIVE.coil_bind_height
    heights = [BEEHIVE.coil_bind_height + part * travel for part in share]
    loads = [one.load for one in find_loads(BY_DIMENSIONS, heights, []).at_heights]
    assert find_loads(BY_DIMENSIONS, [], loads).for_loads == pytest.approx(heights, rel=1e-9)


def test_what_is_asked_besides_changes_no_answer() -> None:
    heights = [0.050, 0.045, 0.040]
    together = find_loads(BY_DIMENSIONS, heights, [200.0], (0.049, 0.038), 9)
    alone = [find_loads(BY_DIMENSIONS, [height], []).at_heights[0] for height in heights]
    for one, other in zip(together.at_heights, alone, strict=True):
        assert one == pytest.approx(other, rel=1e-12)
