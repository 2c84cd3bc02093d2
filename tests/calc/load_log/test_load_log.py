from __future__ import annotations

import math

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.load_log.load_log import Followed, Log, OnTester, drift_of, fast_of, follow
from headbench.calc.springs.one_curve import LoadCurve, curve_of_one_reading
from headbench.calc.springs.readings import curve_through

INCH, POUND_FORCE = 0.0254, 4.4482216152605
NAN = math.nan

pounds = st.floats(60.0, 200.0)


def curve(load: float, height: float = 1.850) -> LoadCurve:
    """So many pounds at 1.850 in, and 380 lbf/in."""
    return curve_of_one_reading(height * INCH, load * POUND_FORCE, 380.0 * POUND_FORCE / INCH)


def log(*tests: OnTester, height: float = 1.850, lift: float = 0.600, bind: float = 1.100) -> Followed:
    return follow(Log(tests, height * INCH, lift * INCH, bind * INCH, 10.0))


def loads(*each: float, cycled: bool = False, runs: tuple[float, ...] = ()) -> Followed:
    return log(
        *(
            OnTester(curve(load), runs=runs[place] if runs else NAN, is_heat_cycle=cycled and place == 1)
            for place, load in enumerate(each)
        )
    )


# hand arithmetic: 128 new, 124.16 after the heat cycle, 121.6 and 119.04 after ten and twenty runs
def test_losses_are_of_the_first_reading_and_compared_from_the_heat_cycle_on() -> None:
    found = loads(128.0, 124.16, 121.6, 119.04, cycled=True, runs=(0.0, 0.0, 10.0, 20.0))
    assert [one.loss for one in found.each] == pytest.approx([0.0, 3.0, 5.0, 7.0], abs=1e-9)
    assert (found.heat_cycle_loss, found.settled_loss) == pytest.approx((3.0, 4.0))
    assert found.loss_per_10_runs == pytest.approx(2.0)
    # 3 percent are left, at 0.2 a run
    assert found.runs_left == pytest.approx(15.0)
    # 8.96 lbf at 380 lbf/in
    assert found.shim / INCH == pytest.approx(8.96 / 380.0)
    assert found.bind_clearance / INCH == pytest.approx(0.150 - 8.96 / 380.0)


def test_without_a_heat_cycle_all_is_compared_from_the_first_test() -> None:
    found = loads(128.0, 124.16, 121.6, runs=(0.0, 0.0, 10.0))
    assert math.isnan(found.heat_cycle_loss)
    assert found.settled_loss == pytest.approx(5.0)


@given(
    first=pounds,
    later=st.lists(st.tuples(pounds, st.integers(0, 400)), min_size=2, max_size=8, unique_by=lambda one: one[1]),
)
def test_the_loss_per_ten_runs_is_the_slope_that_scipy_finds(first: float, later: list[tuple[float, int]]) -> None:
    later.sort(key=lambda one: one[1])
    runs = (0.0, *(float(one) for _, one in later))
    found = loads(first, *(load for load, _ in later), runs=runs)
    told = [100.0 * (1.0 - load / first) for load in (first, *(load for load, _ in later))]
    slope = float(scipy.stats.linregress(runs, told).slope)
    assert found.loss_per_10_runs == pytest.approx(10.0 * slope, rel=1e-6, abs=1e-9)


def test_one_test_without_its_runs_leaves_the_rate_unknown_and_the_losses_as_they_are() -> None:
    found = loads(128.0, 124.0, 120.0, runs=(0.0, NAN, 20.0))
    assert math.isnan(found.loss_per_10_runs)
    assert math.isnan(found.runs_left)
    assert found.settled_loss == pytest.approx(6.25)
    # no run between two tests gives no slope, and no fault
    assert math.isnan(loads(128.0, 124.0, runs=(5.0, 5.0)).loss_per_10_runs)


def test_a_spring_that_loses_nothing_has_no_end_in_sight_and_one_past_its_limit_none_left() -> None:
    assert math.isnan(loads(128.0, 128.0, runs=(0.0, 10.0)).runs_left)
    assert loads(128.0, 100.0, runs=(0.0, 10.0)).runs_left == 0.0


def test_the_nearer_of_two_limits_ends_it() -> None:
    # 3 and 5 percent, ten runs apart: 5 to 10 in all and 1 to 3 since, at 0.2 a run
    tests = [OnTester(curve(100.0), runs=0.0), OnTester(curve(97.0), runs=0.0, is_heat_cycle=True)]
    tests.append(OnTester(curve(95.0), runs=10.0))
    own = Log(tuple(tests), 1.850 * INCH, NAN, NAN, 10.0, settled_maximum=3.0)
    assert follow(own).runs_left == pytest.approx(5.0)
    assert follow(own._replace(settled_maximum=NAN)).runs_left == pytest.approx(25.0)


def test_half_a_run_is_a_run_and_nothing_is_settled_before_a_test_since_the_heat_cycle() -> None:
    assert loads(100.0, 99.0, runs=(0.0, 0.5)).loss_per_10_runs == pytest.approx(20.0)
    assert math.isnan(loads(100.0, 97.0, cycled=True).settled_loss)
    assert math.isnan(log(OnTester(curve(100.0)), OnTester(curve(97.0))).heat_cycle_loss)


def test_a_spring_whose_first_test_came_after_its_heat_cycle_is_compared_from_there() -> None:
    found = log(OnTester(curve(100.0), is_heat_cycle=True), OnTester(curve(97.0)))
    assert math.isnan(found.heat_cycle_loss)
    assert found.settled_loss == pytest.approx(3.0)
    assert not loads(128.0).last.came_back


def test_of_a_first_load_of_nothing_nothing_can_be_lost() -> None:
    assert math.isnan(loads(0.0, 10.0).last.loss)


def test_a_drop_that_no_tester_tells_takes_no_shim() -> None:
    # 2 percent of 128 is 2.56 lbf
    assert loads(128.0, 125.5).shim == 0.0
    assert loads(128.0, 129.0).shim == 0.0
    assert loads(128.0, 125.0).shim / INCH == pytest.approx(3.0 / 380.0)


def test_a_spring_tested_once_has_lost_nothing_that_is_known() -> None:
    found = loads(128.0)
    assert math.isnan(found.last.loss)
    assert math.isnan(found.shim)
    assert not found.last.is_proven


def test_a_reading_at_its_very_height_needs_no_rate_but_gives_no_shim() -> None:
    found = log(OnTester(None, read_there=128.0), OnTester(None, read_there=118.0))
    assert found.last.loss == pytest.approx(7.8125)
    assert found.last.is_proven
    assert math.isnan(found.shim)
    assert not log(OnTester(None, 128.0), OnTester(None, 118.0, in_doubt=True)).last.is_proven


def test_a_test_read_elsewhere_or_not_at_all_proves_nothing() -> None:
    far = OnTester(curve(128.0, height=1.700))
    assert not log(far, OnTester(curve(120.0))).last.is_proven
    assert math.isnan(log(OnTester(None), OnTester(curve(120.0))).last.loss)


def test_there_is_no_load_where_coils_touch() -> None:
    assert math.isnan(log(OnTester(curve(128.0)), OnTester(curve(120.0)), bind=1.850).last.loss)


def test_a_load_that_comes_back_by_more_than_a_tester_repeats_is_told() -> None:
    found = loads(128.0, 120.0, 124.0)
    assert [one.came_back for one in found.each] == [False, False, True]
    # 2 percent of 122.4 is 2.448
    assert not loads(128.0, 120.0, 122.4).each[2].came_back


def test_the_shim_goes_by_the_curve_of_the_last_test() -> None:
    heights = [1.900 * INCH, 1.850 * INCH, 1.700 * INCH, 1.400 * INCH]
    last = curve_through(heights, [one * POUND_FORCE for one in (90.0, 116.0, 180.0, 330.0)])
    found = log(OnTester(curve(128.0)), OnTester(last))
    root = scipy.optimize.brentq(lambda at: last.load_at(at) - 128.0 * POUND_FORCE, 1.4 * INCH, 1.9 * INCH)
    assert found.shim == pytest.approx(1.850 * INCH - root, rel=1e-9)


def test_a_set_is_told_by_mean_worst_and_spread() -> None:
    found = drift_of([loads(128.0, 124.16), loads(130.0, 119.6), loads(129.0)])
    # 3 and 8 percent; 2 lbf apart and then 4.56; one was tested once
    assert (found.mean, found.worst) == pytest.approx((5.5, 8.0))
    assert found.spread_first / POUND_FORCE == pytest.approx(2.0)
    assert found.spread_last / POUND_FORCE == pytest.approx(4.56)
    assert math.isnan(drift_of([loads(129.0)]).mean)


def test_a_spring_that_loses_twice_the_median_of_its_set_falls_fast() -> None:
    # 3, 3, 4 and 9 percent: the median is 3.5, twice that 7
    found = fast_of([loads(100.0, left) for left in (97.0, 97.0, 96.0, 91.0)], by_run=False)
    assert [one.value for one in found] == pytest.approx([3.0, 3.0, 4.0, 9.0])
    assert [one.limit for one in found] == pytest.approx([7.0] * 4)


def test_what_a_tester_does_not_tell_is_not_fast() -> None:
    # 0.2 percent in the median of 100 lbf springs; a tester tells 2 lbf
    found = fast_of([loads(100.0, left) for left in (99.9, 99.8, 98.2)], by_run=False)
    assert [one.limit for one in found] == pytest.approx([2.0] * 3)
    by_run = fast_of([loads(100.0, left, runs=(0.0, 40.0)) for left in (99.9, 99.8, 98.2)], by_run=True)
    assert [one.limit for one in by_run] == pytest.approx([0.5] * 3)
    not_by_run = fast_of([loads(100.0, left, runs=(0.0, 40.0)) for left in (99.9, 99.8, 98.2)], by_run=False)
    assert [one.limit for one in not_by_run] == pytest.approx([2.0] * 3)
    later = fast_of([loads(100.0, left, runs=(10.0, 50.0)) for left in (99.9, 99.8, 98.2)], by_run=True)
    assert [one.limit for one in later] == pytest.approx([0.5] * 3)


def test_a_young_spring_is_held_against_old_ones_by_the_run() -> None:
    old = [loads(100.0, 92.0, runs=(0.0, 40.0)) for _ in range(3)]
    young = loads(100.0, 94.0, runs=(0.0, 10.0))
    values = [one.value for one in fast_of([*old, young], by_run=True)]
    assert values == pytest.approx([2.0, 2.0, 2.0, 6.0])
    assert fast_of([*old, young], by_run=True)[3].limit == pytest.approx(4.0)


def test_two_springs_have_no_median_to_fall_behind() -> None:
    assert fast_of([loads(100.0, 90.0), loads(100.0, 99.0)], by_run=False) == []


@given(first=pounds, last=pounds, factor=st.floats(0.1, 10.0))
def test_a_tester_that_is_off_by_a_factor_finds_the_same_losses(first: float, last: float, factor: float) -> None:
    one, other = loads(first, last), loads(first * factor, last * factor)
    assert other.last.loss == pytest.approx(one.last.loss, rel=1e-9, abs=1e-9)


@given(first=pounds, last=pounds, less=st.floats(0.0, 50.0))
def test_less_load_is_more_loss_and_more_shim(first: float, last: float, less: float) -> None:
    before, after = loads(first, last), loads(first, last - less)
    assert after.last.loss >= before.last.loss
    assert after.shim >= before.shim - 1e-12
