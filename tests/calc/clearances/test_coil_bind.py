"""Coil bind: the smallest clearance decides."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.clearances.coil_bind import CoilBind, check_coil_bind, coil_bind_clearance, coil_bind_verdict
from headbench.calc.coils.coils import dimensioned_spring
from headbench.calc.coils.shapes import cylinder
from headbench.calc.coils.wire import round_wire
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.spring_set import SpringSet, of_load_alone

UNREAD = math.nan
heights = st.floats(0.02, 0.04)


def binding(*each: tuple[float, float]) -> SpringSet:
    """Springs by their seat rise and the height at which their coils touch."""
    return SpringSet(tuple(of_load_alone(None, rise)._replace(coil_bind_height=bind) for rise, bind in each), 0.0)


def test_clearance_is_open_height_less_coil_bind_height() -> None:
    # hand arithmetic: 1.751 - 0.4875 = 1.2635; 1.2635 - 1.120 = 0.1435
    assert coil_bind_clearance(1.2635, binding((0.0, 1.120))).clearance == pytest.approx(0.1435, abs=1e-12)


def test_an_inner_spring_on_a_step_may_be_the_one_that_decides() -> None:
    # the inner stands 0.060 shorter: 1.260 - 0.060 - 1.150 = 0.050, against 1.260 - 1.120 = 0.140 outside
    bind = coil_bind_clearance(1.260, binding((0.0, 1.120), (0.060, 1.150)))
    assert bind.clearance == pytest.approx(0.050, abs=1e-12)
    assert bind.tightest == 1
    assert bind.complete


def test_coil_bind_heights_0_030_apart_make_the_worst_spring_decide() -> None:
    # common practice, no source: coil-bind heights in one set differ by about 0.030 in, so a nominal
    # 0.060 in leaves 0.030 in on the worst spring
    each = [coil_bind_clearance(1.190, binding((0.0, solid))) for solid in (1.130, 1.145, 1.160)]
    assert min(bind.clearance for bind in each) == pytest.approx(0.030, abs=1e-12)
    assert [bind.verdict(0.060) for bind in each] == [Verdict.ACCEPT, Verdict.REJECT, Verdict.REJECT]


def test_a_spring_not_read_holds_the_verdict_back_but_not_a_known_miss() -> None:
    each = [coil_bind_clearance(0.032, binding((0.0, solid), (0.0, UNREAD))) for solid in (0.030, 0.0315)]
    assert [bind.clearance for bind in each] == pytest.approx([0.002, 0.0005], abs=1e-12)
    assert [bind.verdict(0.0015) for bind in each] == [Verdict.NOT_MEASURED, Verdict.REJECT]


def test_a_height_in_doubt_holds_the_verdict_back_but_not_a_known_miss() -> None:
    (sure,) = binding((0.0, 0.030)).each
    bind = coil_bind_clearance(0.032, SpringSet((sure._replace(bind_doubtful=True),), 0.0))
    assert bind.clearance == pytest.approx(0.002, abs=1e-12)
    assert [bind.verdict(limit) for limit in (0.0015, 0.0025)] == [Verdict.NOT_MEASURED, Verdict.REJECT]


def test_nothing_read_is_no_number_at_all() -> None:
    for springs in (binding((0.0, UNREAD)), binding((0.0, UNREAD), (0.0, UNREAD))):
        bind = coil_bind_clearance(0.032, springs)
        assert math.isnan(bind.clearance)
        assert bind.verdict(0.0) == Verdict.NOT_MEASURED
        assert not bind.touches


def test_an_unknown_height_is_no_number_at_all() -> None:
    bind = coil_bind_clearance(math.nan, binding((0.0, 0.030)))
    assert math.isnan(bind.clearance)
    assert bind.verdict(0.0) == Verdict.NOT_MEASURED


def test_the_closed_valve_may_say_already_that_there_is_too_little_room() -> None:
    # by hand: 0.001 with the valve closed is the most there can be
    unknown, closed = CoilBind(math.nan, 0, complete=False), CoilBind(0.001, 0, complete=True)
    assert coil_bind_verdict(unknown, closed, 0.0015) == Verdict.REJECT
    assert coil_bind_verdict(unknown, closed, 0.0005) == Verdict.NOT_MEASURED
    assert coil_bind_verdict(closed, closed, 0.0005) == Verdict.ACCEPT


@given(height=heights, solid=st.lists(heights, min_size=2, max_size=3))
def test_one_more_spring_never_makes_more_room(height: float, solid: list[float]) -> None:
    springs = [(0.0, one) for one in solid]
    one = coil_bind_clearance(height, binding(*springs[:-1])).clearance
    more = coil_bind_clearance(height, binding(*springs)).clearance
    assert more <= one


@given(height=heights, solid=st.lists(heights, min_size=2, max_size=2))
def test_the_order_of_nested_springs_does_not_matter(height: float, solid: list[float]) -> None:
    springs = [(0.0, one) for one in solid]
    one = coil_bind_clearance(height, binding(*springs)).clearance
    other = coil_bind_clearance(height, binding(*springs[::-1])).clearance
    assert one == other


def test_what_is_left_at_full_lift_is_figured_from_the_installed_height() -> None:
    # hand arithmetic: 44.5 - 12.5 = 32 mm, less 30 mm of coil bind; 14.5 mm with the valve closed
    found = check_coil_bind(0.0445, 0.0125, binding((0.0, 0.030)), 0.0015)
    assert found.open_height == pytest.approx(0.032, abs=1e-12)
    assert found.at_lift.clearance == pytest.approx(0.002, abs=1e-12)
    assert found.closed.clearance == pytest.approx(0.0145, abs=1e-12)
    assert found.verdict == Verdict.ACCEPT
    assert not found.by_dimensions


@pytest.mark.parametrize(
    ("lift", "limit", "verdict"),
    [
        (UNREAD, 0.0015, Verdict.NOT_MEASURED),
        # even the closed valve leaves 14.5 mm only
        (UNREAD, 0.0150, Verdict.REJECT),
        # a lift of 1 um is none, and accepts nothing
        (1e-6, 0.0015, Verdict.NOT_MEASURED),
        (0.0135, 0.0015, Verdict.REJECT),
    ],
)
def test_a_lift_that_is_not_known_or_not_possible_accepts_nothing(lift: float, limit: float, verdict: Verdict) -> None:
    assert check_coil_bind(0.0445, lift, binding((0.0, 0.030)), limit).verdict == verdict


def test_a_spring_that_would_bind_by_its_dimensions_is_noticed_whatever_was_read() -> None:
    wire = round_wire(0.004)
    spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), wire, "squared", 80e9, 7850.0)
    # by hand: 5 active coils and 3 wires of the ends, 8 times 4 mm
    one = of_load_alone(None)._replace(curve=spring, coil_bind_height=0.028)
    springs = SpringSet((one,), 0.0)
    assert check_coil_bind(0.0445, 0.0126, springs, 0.001).by_dimensions
    assert not check_coil_bind(0.0445, 0.0124, springs, 0.001).by_dimensions


def test_a_nested_spring_that_stands_higher_binds_by_its_dimensions_sooner() -> None:
    spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    # by hand: solid at 32 mm and standing 2 mm up, so closed once the outer spring is down to 34 mm
    inner = of_load_alone(None)._replace(curve=spring, coil_bind_height=0.028, seat_rise=0.002)
    springs = SpringSet((inner,), 0.0)
    assert check_coil_bind(0.0445, 0.0106, springs, 0.001).by_dimensions
    assert not check_coil_bind(0.0445, 0.0104, springs, 0.001).by_dimensions
