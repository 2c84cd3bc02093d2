from __future__ import annotations

import math

import pytest

from headbench.calc.cylinders.chamber_shape import from_area, from_pours
from headbench.calc.cylinders.cylinder import Chamber, Cylinder, compression
from headbench.calc.cylinders.wanted import RatioTargets
from headbench.calc.milling.wanted import MillingTargets, wanted_of_head

CC = 1e-6
MM = 1e-3
# 50 cm2: 5 cm3 a millimeter
STRAIGHT = from_area(50e-4)
POURED = from_pours([0.0, 1.0 * MM], [57.3 * CC, 52.3 * CC])
# by hand: 400 cm2 x 1 cm = 400 cm3 swept, nothing over the piston but the chamber
BANK = compression(
    Cylinder(
        bore=2.0 * math.sqrt(400e-4 / math.pi),
        stroke=10.0 * MM,
        deck_clearance=0.0,
        gasket_thickness=0.0,
        opening_area=400e-4,
    ),
    [Chamber(57.3 * CC)],
)
RATIO = MillingTargets(ratio=RatioTargets(static_ratio=9.0))


def test_a_depth_for_a_ratio_goes_beyond_the_pours_and_says_so() -> None:
    # by hand: 9 to 1 leaves 50 cm3: 7.3/5 = 1.46 mm, 0.46 mm beyond the pours
    found = wanted_of_head(RATIO, [57.3 * CC], POURED, math.inf, BANK)
    assert found.for_ratio is not None
    (line,) = found.for_ratio
    assert line.reached.needed / MM == pytest.approx(1.46, rel=1e-9)
    assert line.beyond_pours / MM == pytest.approx(0.46, rel=1e-9)
    assert found.for_volume is None


def test_a_depth_for_a_volume_takes_what_is_too_much_at_every_chamber() -> None:
    # by hand: 64 and 62 down to 59, and one that nobody cc'd
    found = wanted_of_head(
        MillingTargets(chamber_volume=59.0 * CC), [64.0 * CC, 62.0 * CC, math.nan], STRAIGHT, math.inf, None
    )
    assert found.for_volume is not None
    depths = [one.reached.needed / MM for one in found.for_volume]
    assert depths == pytest.approx([1.0, 0.6, math.nan], rel=1e-9, nan_ok=True)
    assert (found.for_ratio, found.cylinders, found.equal) == (None, None, None)


def test_without_a_shape_no_depth_is_told() -> None:
    targets = MillingTargets(ratio=RatioTargets(static_ratio=9.0), chamber_volume=50.0 * CC, equal_chambers=True)
    found = wanted_of_head(targets, [57.3 * CC], None, math.inf, BANK)
    assert found.for_volume is not None
    assert found.for_ratio is not None
    assert found.equal is not None
    assert all(math.isnan(one.reached.nearest) for one in (*found.for_volume, *found.for_ratio))
    assert math.isnan(found.equal.found.common_cut)
    assert found.equal.aim == 50.0 * CC


def test_equal_chambers_are_brought_to_the_smallest_by_the_least_cut() -> None:
    # by hand: 64.5 down to 63.5 takes 0.2 mm
    volumes = [64.0 * CC, 64.5 * CC, 63.5 * CC]
    found = wanted_of_head(MillingTargets(equal_chambers=True), volumes, STRAIGHT, math.inf, None).equal
    assert found is not None
    assert found.aim == 63.5 * CC
    assert found.found.common_cut / MM == pytest.approx(0.2, rel=1e-9)
    assert found.found.complete


def test_equal_chambers_out_of_reach_tell_how_near_the_largest_comes() -> None:
    # by hand: 66 less 0.4 mm at 5 cm3 a millimeter
    found = wanted_of_head(MillingTargets(equal_chambers=True), [66.0 * CC, 58.0 * CC], STRAIGHT, 0.4 * MM, None).equal
    assert found is not None
    assert found.why
    assert found.nearest / CC == pytest.approx(64.0, rel=1e-9)
    assert math.isnan(found.found.common_cut)
