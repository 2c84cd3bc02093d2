from __future__ import annotations

import pytest
from tests.calc.matching.pockets import INCH, NAN, POUND, pocket, straight

from headbench.calc.heights.shims import stacks_of
from headbench.calc.matching.choices import best_stack, find_choices, is_matchable
from headbench.calc.springs.one_curve import rated_curve
from headbench.calc.springs.spring_set import SpringSet, of_load_alone, spring_set

STACKS = stacks_of([0.015 * INCH, 0.030 * INCH], 0.060 * INCH)


def heights_of(springs: SpringSet, **changed: float) -> list[float]:
    """Heights [in] at which a spring may stand in a pocket of 1.790 in."""
    own = pocket(1.790)._replace(**changed)  # type: ignore[arg-type] # numbers all
    found = find_choices([own], [springs], STACKS, "seat_load")
    heights = {round((own.bare_height - STACKS.totals[one] * 1e-9) / INCH, 4) for one in found.stack.tolist()}
    return sorted(heights, reverse=True)


def test_a_spring_stands_within_the_window_around_its_height() -> None:
    assert heights_of(straight(118.0)) == [1.775, 1.760, 1.745, 1.730]
    assert heights_of(straight(118.0), height_window=0.010 * INCH) == [1.760, 1.745]
    assert heights_of(straight(118.0), height_window=NAN) == [1.790, 1.775, 1.760, 1.745, 1.730]


def test_no_spring_stands_where_its_coils_come_nearer_than_the_limit() -> None:
    # 1.745 - 0.500 - 1.185 is the 0.060 that is asked, 1.730 is 0.015 less
    assert heights_of(straight(118.0, bind=1.185)) == [1.775, 1.760, 1.745]
    assert heights_of(straight(118.0, bind=1.300)) == []


def test_no_spring_stands_where_its_open_load_leaves_its_range() -> None:
    # 118 + 280 * (1.750 - 1.260) = 255.2 at 1.260 open, 4.2 more for each 0.015 in
    assert heights_of(straight(118.0), open_low=255.2 * POUND) == [1.760, 1.745, 1.730]
    assert heights_of(straight(118.0), open_high=259.4 * POUND) == [1.775, 1.760, 1.745]


def test_a_spring_known_by_its_catalog_or_without_coil_bind_is_not_matched() -> None:
    rated = spring_set(rated_curve(1.75 * INCH, 118 * POUND, 280 * POUND / INCH))
    assert not is_matchable(rated)
    assert heights_of(rated) == []
    unread = SpringSet((of_load_alone(straight(118.0).each[0].curve),), 0.0)  # type: ignore[arg-type] # one of readings
    assert heights_of(unread) == []


def test_no_spring_stands_far_outside_the_heights_it_was_read_at() -> None:
    assert heights_of(straight(118.0), bare_height=2.050 * INCH, target_height=2.0 * INCH, height_window=NAN) == []


def test_the_best_stack_gives_exactly_the_load_wanted() -> None:
    # 5.6 lbf more than 118 at 1.750 takes 0.020 in less
    own = pocket(1.790, load=123.6)
    assert round(best_stack(own, straight(118.0), "seat_load") / INCH, 9) == 0.060
    opened = own._replace(open_load=258.0 * POUND)
    assert round(best_stack(opened, straight(118.0), "open_load") / INCH, 9) == 0.040


def test_for_both_loads_the_best_stack_leaves_either_as_far_off() -> None:
    own = pocket(1.790, load=118.0)._replace(open_load=272.0 * POUND)
    stack = best_stack(own, straight(118.0), "both")
    height = own.bare_height - stack
    one = straight(118.0)
    over = one.load_at(height) / POUND - 118.0
    under = 272.0 - one.load_at(height - own.valve_lift) / POUND
    # the stack is found to a hundredth of a thousandth: 280 lbf/in make that 0.003 lbf
    assert over == pytest.approx(under * 118.0 / 272.0, abs=0.003)
