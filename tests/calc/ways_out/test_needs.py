from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.calc.ways_out.readings import INCH, LIMITS, SHIMS, inches, valve

from headbench.calc.head.assembly import Targets
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.ways_out.needs import Remedy, remedies_for
from headbench.calc.ways_out.parts import Catalogue
from headbench.calc.ways_out.trying import Group


def remedies(*valves: Any) -> dict[str, Remedy]:
    return {one.part: one for one in remedies_for(Group(valves, Catalogue(), LIMITS, SHIMS))}


def test_a_short_valve_needs_what_its_tolerance_does_not_take_up() -> None:
    # 1.715 to 1.740
    found = remedies(valve(1.715), valve(1.765))
    assert {part: inches(one.change) for part, one in found.items()} == pytest.approx(
        {"locks_or_retainer": 0.025, "valve": 0.025, "pocket": 0.025}
    )
    assert found["pocket"].places == (0,)
    assert not any(one.spoils or one.leaves for one in found.values())


def test_a_locator_helps_only_by_as_much_as_it_is_thick() -> None:
    assert "locator" in remedies(valve(1.715, locator=0.030))
    assert "locator" not in remedies(valve(1.715, locator=0.020))


def test_a_seal_too_near_needs_locks_or_a_valve_and_no_pocket() -> None:
    # 0.515 - 0.480 is 0.015 short of 0.050
    found = remedies(valve(1.765, seal=0.515))
    assert {part: inches(one.change) for part, one in found.items()} == pytest.approx(
        {"locks_or_retainer": 0.015, "valve": 0.015}
    )


def test_a_tall_valve_needs_the_other_way() -> None:
    # 1.830 on 0.060 is 1.770, 0.010 past its tolerance
    found = remedies(valve(1.830, seal=0.600))
    assert {part: inches(one.change) for part, one in found.items()} == pytest.approx(
        {"locks_or_retainer": -0.010, "valve": -0.010, "locator": -0.010}
    )


def test_a_low_tip_needs_lower_locks() -> None:
    found = remedies(valve(1.770, seal=0.580, tip=0.050))
    assert {part: inches(one.change) for part, one in found.items()} == pytest.approx({"locks_or_retainer": -0.010})


def test_what_one_valve_needs_and_another_cannot_take_names_the_other_and_why() -> None:
    found = remedies(valve(1.715), valve(1.765, tip=0.080))
    assert found["locks_or_retainer"].spoils == ((1, "tip_above_retainer"),)
    assert found["valve"].spoils == ()


def test_a_valve_that_no_height_mends_is_left_as_it_is_and_bars_nothing() -> None:
    weak = Targets(1.750 * INCH, LoadTarget(700.0, 690.0, 710.0), LoadTarget())
    found = remedies(valve(1.715), valve(1.765, targets=weak))
    assert found["pocket"].leaves == (1,)
    assert found["pocket"].spoils == ()
    assert remedies(valve(1.765, targets=weak)) == {}


def test_shims_come_in_sizes_so_that_the_least_may_not_be_enough() -> None:
    # 1.737 is 0.003 under 1.740; the other stands at 1.770 on 0.060, on its limit: 0.003 more puts it past
    found = remedies(valve(1.737), valve(1.820))
    assert found["locks_or_retainer"].spoils == ((1, "installed_height"),)
    assert inches(found["pocket"].change) == pytest.approx(0.003)


@given(bares=st.lists(st.integers(1690, 1830), min_size=1, max_size=4))
def test_what_is_said_to_do_it_does_it(bares: list[int]) -> None:
    group = Group([valve(bare / 1000) for bare in bares], Catalogue(), LIMITS, SHIMS)
    for one in remedies_for(group):
        amounts = {"locks_or_retainer": 0, "valve": 1, "locator": 2, "pocket": 3}
        change = [0.0] * 4
        change[amounts[one.part]] = one.change
        wrong = [at for at, came in enumerate(group.with_change(*change).outcomes) if came.breaks or came.off]
        assert bool(wrong) == bool(one.spoils)
