"""Pockets: the stack of each position, and the next best; the search itself is held to a plain one beside
`set_heights` (test_installed_height.py, test_shim_stock.py).
"""

from __future__ import annotations

import math

from headbench.calc.heights.installed_height import within_height
from headbench.calc.heights.pockets import Side, Suits, lay_shims
from headbench.calc.heights.shims import stacks_of

MM = 1e-3
STACKS = stacks_of([0.25 * MM, 0.5 * MM], 1.0 * MM)


def test_a_position_whose_height_or_target_is_not_known_gets_no_shims() -> None:
    suits = Suits((within_height(44.5 * MM, 0.1 * MM),))
    laid = lay_shims([math.nan, 45.0 * MM, 45.0 * MM], [44.5 * MM, math.nan, 44.5 * MM], [suits] * 3, STACKS)
    assert (laid.taken[0], laid.second[0], laid.ran_out[0]) == (None, None, False)
    assert (laid.taken[1], laid.second[1], laid.ran_out[1]) == (None, None, False)
    assert laid.taken[2] is not None
    assert STACKS.shims[laid.taken[2]] == (1,)


def test_where_nothing_suits_the_nearest_stack_is_laid() -> None:
    laid = lay_shims([45.1 * MM], [44.5 * MM], [Suits((lambda _: Side.TOO_TALL,))], STACKS)
    assert laid.taken[0] is not None
    assert STACKS.totals[laid.taken[0]] == 500_000


def test_a_stack_that_suits_goes_before_a_nearer_one_that_does_not() -> None:
    # 0.50 mm is nearest; only what stands at 44.1 mm or shorter suits
    suits = Suits((lambda height: Side.RIGHT if height < 44.2 * MM else Side.TOO_TALL,))
    laid = lay_shims([45.1 * MM], [44.6 * MM], [suits], STACKS)
    assert laid.taken[0] is not None
    assert STACKS.totals[laid.taken[0]] == 1_000_000


def test_a_stock_that_runs_out_is_told_where_it_does() -> None:
    suits = [Suits((within_height(44.5 * MM, 0.3 * MM),))] * 2
    laid = lay_shims([45.0 * MM] * 2, [44.5 * MM] * 2, suits, STACKS, [0, 1])
    assert sorted(laid.ran_out) == [False, True]
    assert laid.proven


def test_a_stack_of_the_same_thickness_is_no_runner_up() -> None:
    stacks = stacks_of([0.25 * MM, 0.5 * MM], 0.5 * MM)
    laid = lay_shims([45.0 * MM], [44.5 * MM], [Suits((within_height(44.5 * MM, 0.3 * MM),))], stacks)
    assert laid.taken[0] is not None
    assert laid.second[0] is not None
    assert stacks.totals[laid.second[0]] == 250_000
