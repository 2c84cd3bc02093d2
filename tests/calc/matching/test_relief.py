from __future__ import annotations

import pytest
from tests.calc.matching.pockets import INCH, POUND, pocket, shims, straight

from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.matching.choices import Pocket
from headbench.calc.matching.relief import Blocked, what_blocks, why_empty
from headbench.calc.matching.spring_matching import match_springs

ONE = [straight(118.0)]


def test_a_stack_that_may_not_be_laid_is_named_with_what_allowing_it_gives() -> None:
    # 1.830 needs 0.080; 0.060 leaves 1.770 and 118 - 280 * 0.020 = 112.4; 0.075 would leave 1.755 and 116.6
    pockets, at_hand = [pocket(1.830)], shims((0.015, 0.030, 0.060))
    relief = what_blocks(pockets, ONE, at_hand, "seat_load", match_springs(pockets, ONE, at_hand))
    assert relief is not None
    assert relief.blocked is Blocked.STACK_MAXIMUM
    assert relief.needed / INCH == pytest.approx(0.080)
    assert relief.allowed / INCH == pytest.approx(0.090)
    # 0.090 lets 0.075 in as well
    assert relief.worst / POUND == pytest.approx(1.4, abs=1e-6)


def test_a_position_that_is_short_is_named_and_nothing_is_promised() -> None:
    pockets, at_hand = [pocket(1.735)], shims((0.015,))
    relief = what_blocks(pockets, ONE, at_hand, "seat_load", match_springs(pockets, ONE, at_hand))
    assert relief is not None
    assert relief.blocked is Blocked.TOO_SHORT
    assert relief.needed / INCH == pytest.approx(-0.015)
    assert relief.worst != relief.worst


def test_a_window_that_keeps_the_spring_from_its_load_is_named() -> None:
    # 109.6 at 1.750 pushes 118 at 1.720, 0.010 outside a window of 0.020
    pockets, at_hand, weak = [pocket(1.750, window=0.020)], shims((0.015, 0.030)), [straight(109.6)]
    relief = what_blocks(pockets, weak, at_hand, "seat_load", match_springs(pockets, weak, at_hand))
    assert relief is not None
    assert relief.blocked is Blocked.HEIGHT_WINDOW
    assert relief.worst / POUND == pytest.approx(0.0, abs=1e-6)


def test_a_stock_that_runs_out_is_named() -> None:
    pockets, at_hand = [pocket(1.780)], shims((0.015, 0.030), stock=[1, 0])
    relief = what_blocks(pockets, ONE, at_hand, "seat_load", match_springs(pockets, ONE, at_hand))
    assert relief is not None
    assert relief.blocked is Blocked.IN_STOCK
    assert relief.worst / POUND == pytest.approx(0.0, abs=1e-6)


def test_sizes_that_do_not_make_the_stack_are_named() -> None:
    pockets, at_hand = [pocket(1.772)], shims((0.015, 0.030))
    relief = what_blocks(pockets, ONE, at_hand, "seat_load", match_springs(pockets, ONE, at_hand))
    assert relief is not None
    assert relief.blocked is Blocked.THICKNESSES
    assert relief.needed / INCH == pytest.approx(0.022)
    assert relief.worst / POUND == pytest.approx(0.0, abs=1e-4)


def test_coils_that_come_too_near_are_named() -> None:
    # at 1.750 - 0.500 a bind of 1.195 leaves 0.055 of the 0.060 asked
    pockets, at_hand, tall = [pocket(1.765)], shims((0.005, 0.010)), [straight(118.0, bind=1.195)]
    relief = what_blocks(pockets, tall, at_hand, "seat_load", match_springs(pockets, tall, at_hand))
    assert relief is not None
    assert relief.blocked is Blocked.COIL_BIND


def test_nothing_is_in_the_way_of_a_load_that_is_met() -> None:
    pockets, at_hand = [pocket(1.780)], shims((0.015, 0.030))
    assert what_blocks(pockets, ONE, at_hand, "seat_load", match_springs(pockets, ONE, at_hand)) is None


@pytest.mark.parametrize(
    ("own", "at_hand", "blocked"),
    [
        (pocket(1.780), shims((0.015,)), Blocked.SPRINGS),
        (pocket(1.700), shims((0.015,)), Blocked.TOO_SHORT),
        (pocket(1.800), shims((0.090,), 0.100), Blocked.HEIGHT_WINDOW),
        (pocket(1.860), shims((0.030,), 0.060), Blocked.STACK_MAXIMUM),
        (pocket(1.780)._replace(open_high=100.0 * POUND), shims((0.015,)), Blocked.OPEN_LOAD),
        (pocket(1.780)._replace(coil_bind_clearance_minimum=0.3 * INCH), shims((0.015,)), Blocked.COIL_BIND),
        (pocket(2.200)._replace(target_height=2.2 * INCH), shims((0.015,)), Blocked.READINGS),
    ],
)
def test_what_keeps_a_pocket_empty_is_named(own: Pocket, at_hand: ShimsAtHand, blocked: Blocked) -> None:
    # another spring lies in a pocket of its own, so that one is missing where all could stand
    taken = pocket(1.750)
    found = match_springs([taken, own], ONE, at_hand)
    assert why_empty([taken, own], ONE, at_hand, "seat_load", found)[1].blocked is blocked
