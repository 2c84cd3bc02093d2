"""Side by side: spring sets in arrays answer as each set by itself."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import accumulate

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.coils.coils import dimensioned_spring
from headbench.calc.coils.shapes import beehive, cylinder
from headbench.calc.coils.wire import round_wire
from headbench.calc.springs import nested
from headbench.calc.springs.nested import NO_SPRING, UNKNOWN_CURVE
from headbench.calc.springs.one_curve import LoadCurve, curve_of_one_reading, rated_curve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.side_by_side import side_by_side
from headbench.calc.springs.spring_set import OneSpring, SpringSet, of_load_alone, spring_set

STRAIGHT = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
BEEHIVE = dimensioned_spring(beehive(0.030, 0.020, 3.0, 2.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)


@st.composite
def read_curves(draw: st.DrawFn) -> LoadCurve:
    """Heights rising by 0.2 to 5 mm and loads falling by 5 to 500 N; two runs may have disagreed."""
    count = draw(st.integers(2, 6))
    steps = draw(st.lists(st.floats(0.2e-3, 5e-3), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(5.0, 500.0), min_size=count, max_size=count))
    height, load = [0.025 + by for by in accumulate(steps)], [100.0 + by for by in accumulate(drops)][::-1]
    return replace(curve_through(height, load), in_doubt=draw(st.booleans()))


lines = st.builds(
    lambda make, *line: make(*line),
    st.sampled_from([rated_curve, curve_of_one_reading]),
    st.floats(0.025, 0.060),
    st.floats(10.0, 2000.0),
    st.floats(1e3, 200e3),
)
springs = st.builds(
    OneSpring,
    curve=st.one_of(read_curves(), lines, st.sampled_from([STRAIGHT, BEEHIVE, None])),
    has_own_load=st.sampled_from([True, True, True, False]),
    seat_rise=st.floats(-0.003, 0.006),
    coil_bind_height=st.one_of(st.floats(0.015, 0.030), st.just(math.nan)),
    bind_doubtful=st.booleans(),
    mass=st.one_of(st.floats(0.02, 0.1), st.just(math.nan)),
    retainer_coils=st.floats(0.0, 0.01),
    seat_coils=st.floats(0.0, 0.01),
    moving_share=st.just(1.0 / 3.0),
    share_within=st.just(0.0),
)
sets = st.builds(SpringSet, st.lists(springs, min_size=1, max_size=3).map(tuple), st.just(0.0))


@given(each=st.lists(sets, min_size=1, max_size=4), data=st.data())
def test_sets_in_arrays_answer_to_the_last_bit_as_each_by_itself(each: list[SpringSet], data: st.DataObject) -> None:
    table = side_by_side(each)
    where = st.one_of(st.floats(0.020, 0.070), st.just(math.nan))
    heights = data.draw(st.lists(where, min_size=len(each), max_size=len(each)))
    rows = list(zip(each, heights, strict=True))
    asked = table.curves, table.curve, np.array(heights), table.seat_rise
    np.testing.assert_array_equal(nested.nested_load(*asked), [one.load_at(height) for one, height in rows])
    assert nested.is_proven(*asked).tolist() == [one.is_proven(height) for one, height in rows]
    assert nested.any_loose(*asked).tolist() == [one.any_loose(height) for one, height in rows]
    unknown = (table.curve == UNKNOWN_CURVE).any(axis=1)
    assert (~unknown).tolist() == [one.is_known for one in each]


@given(st.lists(sets, min_size=1, max_size=4))
def test_every_spring_has_its_place_and_there_are_none_besides(each: list[SpringSet]) -> None:
    table = side_by_side(each)
    assert list(table.sets) == each
    for row, one in enumerate(each):
        own = len(one.each)
        assert table.seat_rise[row, :own].tolist() == [spring.seat_rise for spring in one.each]
        np.testing.assert_array_equal(
            table.coil_bind_height[row, :own], [spring.coil_bind_height for spring in one.each]
        )
        assert table.bind_doubtful[row, :own].tolist() == [spring.bind_doubtful for spring in one.each]
        np.testing.assert_array_equal(table.active_mass[row, :own], [spring.active_mass for spring in one.each])
        assert (table.curve[row, own:] == NO_SPRING).all()
        assert (table.coil_bind_height[row, own:] == -np.inf).all()
        assert not table.bind_doubtful[row, own:].any()
        assert (table.active_mass[row, own:] == 0.0).all()


def test_an_unknown_load_and_one_that_another_curve_includes_are_told_apart() -> None:
    included = of_load_alone(None)._replace(has_own_load=False)
    pair = SpringSet((of_load_alone(rated_curve(0.040, 500.0, 50e3)), included), 0.0)
    assert side_by_side([pair, spring_set(None)]).curve.tolist() == [[0, NO_SPRING], [UNKNOWN_CURVE, NO_SPRING]]


def test_no_sets_at_all_are_an_empty_table() -> None:
    assert side_by_side([]).curve.shape == (0, 1)
