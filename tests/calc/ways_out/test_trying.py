from __future__ import annotations

import math
from typing import Any

import pytest
from tests.calc.ways_out.readings import INCH, LIMITS, SHIMS, SPRING, UNREAD, inches, valve

from headbench.calc.head.assembly import Targets
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.springs.spring_set import SpringSet
from headbench.calc.ways_out.parts import AS_FITTED, NO_CHANGE, Catalogue, Choice, Part
from headbench.calc.ways_out.trying import Group, Outcome, part_missed


def group(*valves: Any, **listed: Any) -> Group:
    return Group(valves, Catalogue(**listed), LIMITS, SHIMS)


def outcome(one: Any, **listed: Any) -> Outcome:
    tried = group(one, **listed).each_choice(NO_CHANGE)
    assert tried is not None
    return tried.outcomes[0]


def test_a_good_valve_misses_nothing_and_tells_its_least_room() -> None:
    # 1.765 on 0.015 is 1.750: coils 0.092 over, seal 0.560 - 0.480 - 0.050 = 0.030 over, tip 0.100 over their minimum
    found = outcome(valve(1.765))
    assert (found.breaks, found.off, found.open, found.miss, found.shims, found.worst) == (0, 0, 0, 0.0, 1, "")
    assert inches(found.spare) == pytest.approx(0.030)


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        # 0.035 short of 1.750, 0.010 allowed: past it by 2.5 times the limit
        ({"bare": 1.715}, (0, 1, 0, 2.5, "installed_height")),
        # 1.830 on the thickest stack, 0.060, is 1.770
        ({"bare": 1.830}, (0, 1, 0, 1.0, "installed_height")),
        # 0.520 - 0.480 leaves 0.040 of 0.050
        ({"bare": 1.750, "seal": 0.520}, (1, 0, 0, 0.2, "retainer_to_seal_clearance")),
        ({"bare": 1.750, "tip": 0.045}, (1, 0, 0, 0.25, "tip_above_retainer")),
        # 1.640 - 0.480 - 1.118 leaves 0.042 of 0.060, and it is 0.110 short
        ({"bare": 1.640}, (1, 1, 0, 10.0, "coil_bind_clearance")),
        ({"bare": 1.750, "seal": UNREAD}, (0, 0, 1, 0.0, "")),
        ({"bare": UNREAD}, (0, 0, 1, 0.0, "")),
    ],
)
def test_what_is_missed_is_told_by_how_much_of_its_limit(readings: Any, expected: tuple[Any, ...]) -> None:
    found = outcome(valve(**readings))
    assert (found.breaks, found.off, found.open, found.miss, found.worst) == pytest.approx(expected)


def test_loads_count_by_their_own_ends() -> None:
    # 1.750 pushes 470 + 0.05 x 1333.3 = 536.67
    def at(low: float, high: float, aim: float) -> Outcome:
        targets = Targets(1.750 * INCH, LoadTarget(aim, low, high), LoadTarget())
        return outcome(valve(1.750, targets=targets))

    assert at(510.0, 560.0, 535.0).off == 0
    # 6.67 past 530, itself 10 off 520: two thirds of that
    assert at(510.0, 530.0, 520.0).miss == pytest.approx(2 / 3)
    assert at(550.0, math.nan, 560.0).off == 1
    assert at(math.nan, 530.0, 520.0).miss == pytest.approx(2 / 3)


def test_a_pocket_is_cut_only_where_it_helps_and_no_deeper_than_floor_and_leave_allow() -> None:
    cut = Choice(pocket=True)
    found = group(valve(1.715), valve(1.765), pocket_cut=0.060 * INCH).each_choice(cut)
    assert found is not None
    assert [inches(one.pocket_depth) for one in found.valves] == pytest.approx([0.035, 0.0])
    assert [one.off for one in found.outcomes] == [0, 0]
    thin = group(valve(1.715, floor=0.170), pocket_cut=0.060 * INCH).each_choice(cut)
    assert thin is not None
    assert inches(thin.valves[0].pocket_depth) == pytest.approx(0.020)
    assert thin.outcomes[0].off == 1
    assert group(valve(1.765), pocket_cut=0.060 * INCH).each_choice(cut) is None
    # lifted 0.522 it leaves 1.750 - 0.522 - 1.168 = 0.060 at its height and 0.055 where it is: 0.005 deeper
    bound = SPRING.each[0]._replace(coil_bind_height=1.168 * INCH)
    binds = valve(1.745, seal=0.600, valve_lift=0.522 * INCH, springs=SpringSet((bound,), 0.0))
    deeper = group(binds, pocket_cut=0.060 * INCH).each_choice(cut)
    assert deeper is not None
    assert inches(deeper.valves[0].pocket_depth) == pytest.approx(0.005)
    assert deeper.outcomes[0].breaks == 0


def test_of_two_kinds_of_locks_each_valve_gets_the_one_it_does_better_with() -> None:
    locks = (Part("tall", 0.035 * INCH), Part("low", -0.035 * INCH))
    three = (valve(1.715), valve(1.750), valve(1.850))
    mixed = group(*three, locks=locks, mixed_locks=True)
    found = mixed.each_choice(Choice((AS_FITTED, 0)))
    assert found is not None
    assert [one.locks for one in found.valves] == [0, AS_FITTED, AS_FITTED]
    # one kind does for all, which is another choice
    assert group(valve(1.715), locks=locks, mixed_locks=True).each_choice(Choice((AS_FITTED, 0))) is None


def test_a_valve_that_is_short_gets_the_locks_that_wait_for_a_tip_before_those_that_leave_it_short() -> None:
    two = (valve(1.715, tip=UNREAD), valve(1.750, tip=UNREAD))
    listed = Catalogue((Part("tall", 0.035 * INCH),), mixed_locks=True)
    found = Group(two, listed, LIMITS._replace(tip_asked=False), SHIMS).each_choice(Choice((AS_FITTED, 0)))
    assert found is not None
    assert [one.locks for one in found.valves] == [0, AS_FITTED]
    assert [(one.off, one.open) for one in found.outcomes] == [(0, 1), (0, 0)]


def test_a_locator_takes_the_place_of_the_fitted_one() -> None:
    locators = (Part("thin", 0.025 * INCH),)
    found = group(valve(1.715, locator=0.060), locators=locators).each_choice(Choice(locator=0))
    assert found is not None
    assert inches(found.valves[0].readings.bare_height) == pytest.approx(1.750)
    unknown = group(valve(1.715, locator=UNREAD), locators=locators).each_choice(Choice(locator=0))
    assert unknown is not None
    assert unknown.outcomes[0].open == 1


def test_parts_outside_the_catalogue_are_worked_out_alike() -> None:
    listed = group(valve(1.715), locks=(Part("tall", 0.035 * INCH),))
    by_choice, by_change = listed.each_choice(Choice((0,))), listed.with_change(0.035 * INCH, 0.0, 0.0, 0.0)
    assert by_choice is not None
    assert by_choice.outcomes == by_change.outcomes
    assert listed.alone(0).with_change(0.035 * INCH, 0.0, 0.0, 0.0).outcomes == by_change.outcomes


def test_past_a_limit_of_nothing_is_past_without_end() -> None:
    assert part_missed(-1e-6, 0.0) == math.inf
    assert part_missed(math.nan, 0.001) == 0.0
