from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad

from headbench.calc.cylinders.chamber_shape import from_area, from_pours
from headbench.calc.cylinders.compression_ratio import static_ratio
from headbench.calc.intake.faces import intake_cuts
from headbench.calc.milling.cam_timing import cam_shift
from headbench.calc.movement.cuts import (
    cut_chambers,
    cut_for_ratio,
    cut_for_volume,
    find_cut_faults,
    head_thickness_after,
    sunk_valve_volume,
    volume_per_depth,
)
from headbench.calc.movement.movement import head_drop, slope_between, wedge_cut
from headbench.calc.pistons.piston_to_valve import clearance_lost
from headbench.calc.pushrods.pushrod_length import pushrod_shortening
from headbench.errors import NotReachable

CC = 1e-6
INCH = 0.0254
AREA = 50e-4
TABLE = from_pours(np.array([0.0, 0.5, 1.0, 1.5, 2.0]) * 1e-3, np.array([64.0, 60.8, 58.0, 55.6, 53.6]) * CC)

cuts = st.floats(0.0, 2e-3)


def test_no_cut_changes_no_chamber() -> None:
    cut = cut_chambers(np.array([64.0, 63.5]) * CC, np.zeros(2), TABLE, 0.0)
    assert cut.chamber_volume.tolist() == (np.array([64.0, 63.5]) * CC).tolist()
    assert cut.removed.tolist() == [0.0, 0.0]


@given(cuts, cuts)
def test_two_cuts_with_one_area_equal_one(first: float, second: float) -> None:
    volume = np.array([64.0]) * CC
    half_way = cut_chambers(volume, np.array([first]), from_area(AREA), 0.0).chamber_volume
    both = cut_chambers(half_way, np.array([second]), from_area(AREA), 0.0).chamber_volume
    once = cut_chambers(volume, np.array([first + second]), from_area(AREA), 0.0).chamber_volume
    assert both == pytest.approx(once, rel=1e-12)


@given(st.floats(0.05e-3, 2e-3))
def test_a_gasket_as_thick_as_the_cut_undoes_the_drop_and_nothing_else(cut: float) -> None:
    drop = head_drop(np.array([cut]), 0.0, cut)
    undone = float(drop[0])
    assert undone == 0.0
    assert (intake_cuts(undone, 1.4, 0.1).face_cut, intake_cuts(undone, 1.4, 0.1).rail_cut) == (0.0, 0.0)
    assert pushrod_shortening(drop, 0.2, 0.1)[0] == 0.0
    assert clearance_lost(drop, np.full(1, 2e-3), 0.3, 1.0, 0.05, 0.0).in_valve_travel[0] == 0.0
    assert cam_shift(undone, 0.05, 0.1).cam_retard == 0.0
    # the chamber has lost its volume all the same
    assert cut_chambers(np.array([64.0]) * CC, np.array([cut]), TABLE, 0.0).chamber_volume[0] < 64.0 * CC


def test_sunk_valves_give_back_part_of_what_a_cut_takes() -> None:
    # a pour of the table less 58 cc at 1 mm, and half a cubic centimeter from the valves
    cut = cut_chambers(np.array([64.0 * CC]), np.array([1.0e-3]), TABLE, 0.5 * CC)
    assert cut.chamber_volume[0] == pytest.approx(58.5 * CC, rel=1e-12)


def test_a_cut_beyond_the_pours_is_marked() -> None:
    cut = cut_chambers(np.array([64.0, 64.0]) * CC, np.array([1.9e-3, 2.2e-3]), TABLE, 0.0)
    assert cut.beyond_pours == pytest.approx(np.array([0.0, 0.2e-3]), abs=1e-12)


def test_an_unpoured_chamber_stays_unknown_beside_a_poured_one() -> None:
    cut = cut_chambers(np.array([np.nan, 64.0 * CC]), np.full(2, 1e-3), TABLE, 0.0)
    assert math.isnan(cut.chamber_volume[0])
    assert cut.chamber_volume[1] == pytest.approx(58.0 * CC, rel=1e-12)


def test_a_first_cut_poured_before_and_after_gives_the_area_of_straight_walls() -> None:
    measured = volume_per_depth(np.array([64.0]) * CC, np.array([64.0]) * CC - AREA * 0.4e-3, 0.4e-3)
    assert measured[0] == pytest.approx(AREA, rel=1e-9)


def test_a_wedge_takes_area_times_the_depth_at_the_centroid() -> None:
    # referee: the depth integrated over a half disc, which lies askew to the wedge (scipy.integrate.dblquad);
    # its centroid stands 4 R/(3 pi) from the straight side (own derivation: 1/A times the integral of y dA)
    radius, outer, inner, width = 40e-3, 0.3e-3, 1.9e-3, 160e-3

    def depth(across: float) -> float:
        return outer + (inner - outer) * across / width

    start = 50e-3
    exact, _ = dblquad(
        lambda _along, across: depth(start + across),
        0.0,
        radius,
        lambda across: -math.sqrt(radius**2 - across**2),
        lambda across: math.sqrt(radius**2 - across**2),
        epsabs=1e-16,
    )
    centroid = np.array([start + 4.0 * radius / (3.0 * math.pi)])
    at_centroid = wedge_cut(centroid, 0.0, outer, slope_between(0.0, outer, width, inner))
    removed = cut_chambers(np.array([64.0 * CC]), at_centroid, from_area(math.pi * radius**2 / 2.0), 0.0).removed
    assert removed[0] == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(("wall", "angle"), [(0.5, 0.3), (1.0, 0.6)])
def test_a_wedge_through_walls_that_lean_is_out_by_the_second_order_of_its_slope(wall: float, angle: float) -> None:
    """Referee: a round chamber that narrows by `wall` per depth, integrated column by column (scipy.integrate.quad).

    Own derivation: at the rim, where the wall cuts the wedge, wall x depth^2/2 is missing per length of rim; with
    depth = d + s R cos(along) its mean is d^2 + s^2 R^2/2, of which the pours see d^2 only: pi wall s^2 R^3/2 less.
    """
    radius, middle, slope = 40e-3, 1.0e-3, math.tan(math.radians(angle))

    def column(across: float) -> float:
        # the strip at `across` lies between deck and wedge, or deck and wall where that comes first
        deep = middle + slope * across
        half = math.sqrt(radius**2 - across**2)
        inner = math.sqrt(max((radius - wall * deep) ** 2 - across**2, 0.0))
        sloped, _ = quad(lambda y: (radius - math.hypot(across, y)) / wall, inner, half, epsabs=1e-16)
        return 2.0 * (inner * deep + sloped)

    exact, _ = quad(column, -radius, radius, epsabs=1e-14, limit=400)
    depths = np.linspace(0.0, 2.0, 9) * 1e-3
    # a frustum, any table
    cone = math.pi * depths * (radius**2 + radius * (radius - wall * depths) + (radius - wall * depths) ** 2) / 3.0
    removed = from_pours(depths, 64.0 * CC - cone).removed_by(np.array([middle]))[0]
    missing = math.pi * wall * slope**2 * radius**3 / 2.0
    assert removed - exact == pytest.approx(missing, rel=0.1)
    assert missing < 0.003 * removed


def test_a_sunk_valve_leaves_a_disc_behind() -> None:
    # pi 2.02^2/4 in2 by 0.020 in: area of a circle, by hand 0.064095 in3 = 1.0503 cm3
    gained = sunk_valve_volume(np.array([0.020]) * INCH, 2.02 * INCH)
    assert gained[0] / CC == pytest.approx(1.0503, abs=5e-5)


def test_what_a_cut_leaves_of_the_head() -> None:
    left = head_thickness_after(np.array([130.00e-3, np.nan]), 0.75e-3)
    assert left[0] == pytest.approx(129.25e-3, abs=1e-12)
    assert math.isnan(left[1])


@given(st.floats(0.0, 2e-3))
def test_cut_for_volume_inverts_the_cut(cut: float) -> None:
    wanted = float(cut_chambers(np.array([64.0 * CC]), np.array([cut]), TABLE, 0.0).chamber_volume[0])
    assert cut_for_volume(wanted, 64.0 * CC, TABLE, math.inf) == pytest.approx(cut, rel=1e-9, abs=1e-13)


@given(st.floats(0.0, 2e-3))
def test_cut_for_ratio_inverts_the_cut(cut: float) -> None:
    after = cut_chambers(np.array([64.0 * CC]), np.array([cut]), TABLE, 0.0).chamber_volume
    ratio = float(static_ratio(700.0 * CC, after + 14.0 * CC)[0])
    found = cut_for_ratio(ratio, 700.0 * CC, 14.0 * CC, 64.0 * CC, TABLE, math.inf)
    assert found == pytest.approx(cut, rel=1e-9, abs=1e-12)


def test_a_chamber_that_is_right_already_needs_no_cut() -> None:
    assert cut_for_volume(64.0 * CC, 64.0 * CC * (1.0 - 1e-15), from_area(AREA), 1e-3) == 0.0


def test_a_chamber_too_small_already_is_told_as_the_nearest() -> None:
    with pytest.raises(NotReachable) as told:
        cut_for_volume(64.5 * CC, 64.0 * CC, TABLE, math.inf)
    assert told.value.nearest == 64.0 * CC


def test_a_chamber_too_small_by_a_thousandth_is_too_small() -> None:
    with pytest.raises(NotReachable):
        cut_for_volume(64.001 * CC, 64.0 * CC, TABLE, math.inf)


def test_no_chamber_at_all_is_never_reached() -> None:
    with pytest.raises(NotReachable) as told:
        cut_for_volume(0.0, 64.0 * CC, from_area(AREA), math.inf)
    assert told.value.nearest == pytest.approx(0.0, abs=1e-15)


def test_a_cut_too_deep_tells_the_volume_at_the_deepest() -> None:
    with pytest.raises(NotReachable) as told:
        cut_for_volume(55.0 * CC, 64.0 * CC, TABLE, 1.0e-3)
    # a pour of the table: 58 cc at 1 mm
    assert told.value.nearest == pytest.approx(58.0 * CC, rel=1e-12)


def test_the_deepest_cut_itself_is_allowed() -> None:
    assert cut_for_volume(58.0 * CC, 64.0 * CC, TABLE, 1.0e-3) == pytest.approx(1.0e-3, rel=1e-12)


def test_a_ratio_too_high_tells_the_ratio_at_the_deepest() -> None:
    with pytest.raises(NotReachable) as told:
        cut_for_ratio(14.0, 700.0 * CC, 14.0 * CC, 64.0 * CC, TABLE, 1.0e-3)
    # by hand: 1 + 700/(58 + 14)
    assert told.value.nearest == pytest.approx(1.0 + 700.0 / 72.0, rel=1e-12)


def test_a_ratio_too_low_tells_the_ratio_there_is() -> None:
    with pytest.raises(NotReachable) as told:
        cut_for_ratio(9.0, 700.0 * CC, 14.0 * CC, 64.0 * CC, TABLE, 1.0e-3)
    # by hand: 1 + 700/(64 + 14)
    assert told.value.nearest == pytest.approx(1.0 + 700.0 / 78.0, rel=1e-12)


def test_a_ratio_that_even_no_chamber_gives_tells_the_ratio_of_none() -> None:
    with pytest.raises(NotReachable) as told:
        cut_for_ratio(60.0, 700.0 * CC, 14.0 * CC, 64.0 * CC, from_area(AREA), math.inf)
    # by hand: 1 + 700/14
    assert told.value.nearest == pytest.approx(51.0, rel=1e-9)


@pytest.mark.parametrize(
    ("wanted", "deepest", "why"),
    [
        (64.5, math.inf, "the chamber is smaller than that already, and milling only takes away"),
        (55.0, 1.0e-3, "the cut would leave the head too thin"),
        # a chamber of 64 cc over 50 cm2 is 12.8 mm deep
        (0.0, 12.9e-3, "the cut would take the whole chamber"),
        (0.0, 12.7e-3, "the cut would leave the head too thin"),
    ],
)
def test_what_is_not_reached_is_told_why_as_a_volume_and_as_a_ratio(wanted: float, deepest: float, why: str) -> None:
    shape = from_area(AREA)
    with pytest.raises(NotReachable) as told:
        cut_for_volume(wanted * CC, 64.0 * CC, shape, deepest)
    assert str(told.value) == why
    ratio = static_ratio(700.0 * CC, (wanted + 14.0) * CC)
    with pytest.raises(NotReachable) as told:
        cut_for_ratio(ratio, 700.0 * CC, 14.0 * CC, 64.0 * CC, shape, deepest)
    assert str(told.value) == why


def test_an_unpoured_chamber_has_no_cut() -> None:
    assert math.isnan(cut_for_volume(60.0 * CC, math.nan, TABLE, math.inf))
    assert math.isnan(cut_for_ratio(10.0, 700.0 * CC, 14.0 * CC, math.nan, TABLE, math.inf))


def test_every_impossible_cut_is_named_with_its_place() -> None:
    faults = find_cut_faults(
        np.array([13e-3, 1e-3, -0.1e-3, 1e-3]),
        np.array([64.0, 64.0, 64.0, np.nan]) * CC,
        from_area(AREA),
        np.array([0.12, 1e-3, 0.12, np.nan]),
    )
    assert faults == [("deeper_than_chamber", 0), ("deeper_than_head", 1), ("misses_chamber", 2)]


def test_a_cut_that_just_empties_the_chamber_is_too_deep() -> None:
    # powers of two, so that the product is exact
    faults = find_cut_faults(np.array([2.0**-6]), np.array([2.0**-14]), from_area(2.0**-8), np.array([np.nan]))
    assert faults == [("deeper_than_chamber", 0)]


def test_a_possible_cut_has_no_fault() -> None:
    assert find_cut_faults(np.array([0.0, 1e-3]), np.full(2, 64.0 * CC), TABLE, np.full(2, 0.12)) == []
