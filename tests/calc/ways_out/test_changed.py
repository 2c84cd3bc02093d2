from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.calc.ways_out.readings import INCH, LIMITS, UNREAD, inches, valve

from headbench.calc.ways_out.changed import change_valve

LENGTH = st.floats(-0.1, 0.1).map(lambda one: round(one, 4))


# the effects of the trade's own remedies, own derivation: locks and retainer carry spring, underside and top alike;
# a longer valve carries all of them and its tip; locator and pocket move the seat of the spring alone
@pytest.mark.parametrize(
    ("change", "bare", "seal", "tip"),
    [
        ((0.050, 0.0, 0.0, 0.0), 1.765, 0.610, 0.110),
        ((0.0, 0.100, 0.0, 0.0), 1.815, 0.660, 0.160),
        ((0.0, 0.0, 0.030, 0.0), 1.745, 0.560, 0.160),
        ((0.0, 0.0, 0.0, 0.035), 1.750, 0.560, 0.160),
        ((-0.050, 0.100, -0.030, 0.010), 1.745, 0.610, 0.210),
    ],
)
def test_each_part_moves_what_it_carries(
    change: tuple[float, float, float, float], bare: float, seal: float, tip: float
) -> None:
    found = change_valve(valve(1.715), *(one * INCH for one in change))
    assert inches(found.readings.bare_height) == pytest.approx(bare)
    assert inches(found.readings.retainer_to_seal) == pytest.approx(seal)
    assert inches(found.tip_above_retainer) == pytest.approx(tip)
    assert math.isnan(found.floor_left) == (change[3] == 0.0)


@given(first=LENGTH, second=LENGTH)
def test_offsets_of_locks_and_retainer_add_up(first: float, second: float) -> None:
    there = valve(1.715)
    both = change_valve(there, (first + second) * INCH, 0.0)
    one = change_valve(there, first * INCH, 0.0).readings.bare_height - there.readings.bare_height
    other = change_valve(there, second * INCH, 0.0).readings.bare_height - there.readings.bare_height
    assert both.readings.bare_height - there.readings.bare_height == pytest.approx(one + other, abs=1e-12)


def test_nothing_changed_is_the_reading_itself_and_what_was_read_after_assembly_goes_with_other_parts() -> None:
    there = valve(1.715, height_with_shims=1.748 * INCH, fitted_stack=0.015 * INCH, bare_height=UNREAD)
    assert change_valve(there, 0.0, 0.0).readings is there.readings
    other = change_valve(there, 0.010 * INCH, 0.0).readings
    # 1.748 with 0.015 in is 1.763 without, and 0.010 more
    assert inches(other.bare_height) == pytest.approx(1.773)
    assert all(map(math.isnan, (other.height_with_shims, other.fitted_stack, other.seat_load_with_shims)))
    apart = change_valve(there._replace(reshim=True), 0.0, 0.0).readings
    assert inches(apart.bare_height) == pytest.approx(1.763)
    assert math.isnan(apart.height_with_shims)


def test_loads_that_the_head_contradicts_make_no_other_part_sure() -> None:
    # 1.750 pushes 537 by the readings
    right, wrong = (valve(1.750, seat_load_with_shims=load) for load in (537.0, 600.0))
    assert [change_valve(one, 0.001 * INCH, 0.0).readings.height_proven for one in (right, wrong)] == [True, False]


def test_a_tip_nobody_read_waits_only_where_it_is_asked_for_or_comes_nearer() -> None:
    loose = LIMITS._replace(tip_asked=False)
    unread = valve(1.715, tip=UNREAD)
    raised, lowered, same = (change_valve(unread, by * INCH, 0.0) for by in (0.01, -0.01, 0.0))
    assert [one.tip_verdict(loose) for one in (raised, lowered, same)] == [2, None, None]
    assert same.tip_verdict(LIMITS) == 2
    assert [change_valve(valve(1.7, tip=0.110), by * INCH, 0.0).tip_verdict(loose) for by in (0.05, 0.051)] == [0, 3]


def test_a_pocket_is_judged_by_its_floor_only_where_it_is_cut() -> None:
    there = valve(1.715, floor=0.180)
    cut = [change_valve(there, 0.0, 0.0, 0.0, depth * INCH) for depth in (0.0, 0.030, 0.031)]
    assert [one.floor_verdict(LIMITS) for one in cut] == [None, 0, 3]
    assert change_valve(valve(1.715, floor=UNREAD), 0.0, 0.0, 0.0, 0.01 * INCH).floor_verdict(LIMITS) == 2
