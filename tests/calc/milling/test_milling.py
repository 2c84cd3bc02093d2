from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import pytest

from headbench.calc.cylinders.chamber_shape import from_area
from headbench.calc.cylinders.cylinder import Cylinder
from headbench.calc.intake.manifold import IntakeSide
from headbench.calc.milling.cam_timing import CamDrive
from headbench.calc.milling.milling import Head, HeadChamber, HeadSeat, deepest_cut, mill
from headbench.calc.milling.wanted import MillingTargets
from headbench.calc.movement.movement import Movement
from headbench.calc.movement.seats import Seat
from headbench.calc.pistons.clearances import ValveOverPiston
from headbench.calc.pushrods.pushrods import Pushrod

CC = 1e-6
MM = 1e-3
ACCEPT, BORDERLINE, NOT_MEASURED, REJECT = range(4)
CHAMBER = HeadChamber(volume=64.0 * CC, head_thickness=130.0 * MM)
# 50 cm2: 5 cm3 a millimeter
CUT = Head(Movement(depth=1.0 * MM), [CHAMBER], from_area(50e-4))
SUNK = HeadSeat(Seat(sink=0.5 * MM), 0, 50.0 * MM)


def test_ratios_before_and_after_a_cut() -> None:
    # by hand: 628.3185 swept; 64 + 6 before, 5 cc less after: 9.97598 and 10.66644
    cylinder = Cylinder(
        bore=0.100, stroke=0.080, deck_clearance=0.0, dish_volume=6.0 * CC, gasket_thickness=0.0, opening_area=80e-4
    )
    milled = mill(replace(CUT, cylinder=cylinder))
    assert milled.before is not None
    assert milled.after is not None
    assert milled.before.pistons[0].static_ratio == pytest.approx(9.97598, abs=5e-6)
    assert milled.after.pistons[0].static_ratio == pytest.approx(10.66644, abs=5e-6)


def test_block_and_gasket_alone_change_what_is_over_the_pistons_before_the_cut_does() -> None:
    # by hand: a gasket 0.5 mm thinner over 80 cm2 is 4 cm3 less
    cylinder = Cylinder(bore=0.1, stroke=0.08, deck_clearance=0.0, gasket_thickness=1.0 * MM, opening_area=80e-4)
    milled = mill(replace(CUT, movement=Movement(depth=1.0 * MM, gasket_thickness_change=-0.5 * MM), cylinder=cylinder))
    assert milled.before is not None
    assert milled.uncut is not None
    lost = milled.before.pistons[0].clearance_volume - milled.uncut.pistons[0].clearance_volume
    assert lost / CC == pytest.approx(4.0, rel=1e-9)


@pytest.mark.parametrize(
    ("poured", "sunk"),
    # a disc of 50 mm by 0.5 mm: 0.9817 cm3
    [("before_seats", 0.98175), ("after_seats", 0.0), (None, math.nan)],
)
def test_a_sunk_valve_adds_to_a_chamber_that_was_poured_before_it(
    poured: Literal["before_seats", "after_seats"] | None, sunk: float
) -> None:
    (chamber,) = mill(replace(CUT, seats=[SUNK], poured=poured)).chambers
    assert chamber.sunk_volume / CC == pytest.approx(sunk, abs=5e-6, nan_ok=True)
    assert chamber.volume_after / CC == pytest.approx(59.0 + sunk, abs=5e-6, nan_ok=True)


def test_a_seat_that_belongs_to_no_chamber_yet_leaves_all_open() -> None:
    homeless = replace(SUNK, chamber=None)
    milled = mill(replace(CUT, chambers=[CHAMBER, CHAMBER], seats=[homeless], poured="before_seats"))
    assert all(math.isnan(chamber.volume_after) for chamber in milled.chambers)


def test_a_head_is_held_against_the_thickness_that_must_be_left() -> None:
    # by hand: 130 - 1 mm
    for least, verdict in ((129.0, ACCEPT), (129.5, REJECT)):
        (chamber,) = mill(replace(CUT, head_thickness_minimum=least * MM)).chambers
        assert chamber.thickness_left / MM == pytest.approx(129.0, rel=1e-12)
        assert chamber.thickness_verdict == verdict
    assert deepest_cut(CUT.chambers, 129.5 * MM) / MM == pytest.approx(0.5, rel=1e-9)
    assert deepest_cut([HeadChamber()], 0.0) == math.inf


def test_with_nothing_cut_no_shape_is_needed() -> None:
    (chamber,) = mill(Head(Movement(), [CHAMBER])).chambers
    assert chamber.volume_after == 64.0 * CC
    (unknown,) = mill(Head(Movement(depth=1.0 * MM), [CHAMBER])).chambers
    assert math.isnan(unknown.volume_after)


def test_a_cam_that_comes_late_leaves_no_clearance_accepted() -> None:
    valve = ValveOverPiston(minimum=2.0 * MM, clay=5.0 * MM)
    drive = CamDrive(pitch_radius=0.050)
    late = mill(replace(CUT, valves=[valve], cam_drive=drive))
    timed = mill(replace(CUT, valves=[valve], cam_drive=replace(drive, retimed=True)))
    assert (late.valves[0].verdict, timed.valves[0].verdict) == (NOT_MEASURED, ACCEPT)
    assert late.cam is not None
    # by hand: 1.0/50 rad of cam, twice that of crank
    assert late.cam.shift.cam_retard == pytest.approx(0.04, rel=1e-12)


def test_every_part_of_a_head_moves_by_its_own_place() -> None:
    # by hand: 0.2 mm at the edge and 1 in 100 more
    wedge = Movement(depth=0.2 * MM, slope=0.01)
    milled = mill(
        Head(
            wedge,
            [replace(CHAMBER, distance_across=0.05)],
            pushrods=[Pushrod(length=0.2, angle=0.0, preload=0.5 * MM, distance_across=0.02)],
            valves=[ValveOverPiston(minimum=0.0, clay=3.0 * MM, distance_across=0.03)],
        )
    )
    assert milled.chambers[0].depth / MM == pytest.approx(0.7, rel=1e-9)
    assert milled.pushrods.pushrods[0].head_drop / MM == pytest.approx(0.4, rel=1e-9)
    assert milled.valves[0].head_drop / MM == pytest.approx(0.5, rel=1e-9)


def test_what_is_wanted_is_asked_of_the_head_as_it_was_measured() -> None:
    # by hand: 64 + 0.98 down to 59 at 5 cm3 a millimeter
    targets = MillingTargets(chamber_volume=59.0 * CC)
    wanted = mill(replace(CUT, seats=[SUNK], poured="before_seats", targets=targets)).wanted
    assert wanted is not None
    assert wanted.for_volume is not None
    assert wanted.for_volume[0].reached.needed / MM == pytest.approx(1.19635, abs=5e-6)


def test_the_other_head_of_a_v_moves_as_this_one_unless_it_is_said_otherwise() -> None:
    side = IntakeSide(math.radians(90.0), 0.0)
    alike, unlike = (mill(replace(CUT, intake=side, other_head=other)).intake for other in (None, Movement()))
    assert alike is not None
    assert unlike is not None
    assert alike.level.seat.sideways == pytest.approx(0.0, abs=1e-15)
    # by hand: this head, on the left, alone 1 mm down its bore at 45 degrees
    assert unlike.level.seat.sideways / MM == pytest.approx(math.sqrt(0.5), abs=1e-9)
