from __future__ import annotations

import math

import pytest

from headbench.calc.cylinders.compression_ratio import gasket_for_quench
from headbench.calc.cylinders.cylinder import Chamber, Cylinder, compression
from headbench.calc.cylinders.wanted import RatioTargets, for_targets, reach

CC = 1e-6
MM = 1e-3
REJECT = 3
# 400 cm2 by 1 cm: 400 cm3 swept
BANK = compression(
    Cylinder(
        bore=2.0 * math.sqrt(400e-4 / math.pi),
        stroke=10.0 * MM,
        deck_clearance=0.2 * MM,
        gasket_thickness=1.0 * MM,
        opening_area=400e-4,
    ),
    [Chamber(52.0 * CC), Chamber()],
)


def test_the_chamber_and_the_gasket_that_give_a_ratio_worked_by_hand() -> None:
    # 400/(6 - 1) = 80 cm3: 32 of chamber beside 40 of gasket and 8 of deck; 20 of gasket beside 52 and 8, 0.5 mm
    known, unread = for_targets(RatioTargets(static_ratio=6.0), BANK)
    assert known.chamber is not None
    assert known.gasket is not None
    assert known.chamber.needed / CC == pytest.approx(32.0, rel=1e-12)
    assert known.gasket.needed / MM == pytest.approx(0.5, rel=1e-12)
    assert known.quench_with_gasket / MM == pytest.approx(0.7, rel=1e-12)
    # the chamber wanted does not hang on the one there is, the gasket does
    assert unread.chamber is not None
    assert unread.gasket is not None
    assert unread.chamber.needed == known.chamber.needed
    assert math.isnan(unread.gasket.needed)


def test_a_gasket_that_brings_the_piston_too_near_is_told() -> None:
    known, _ = for_targets(RatioTargets(static_ratio=6.0), BANK, quench_minimum=0.8 * MM)
    assert known.quench_verdict == REJECT


def test_what_was_not_asked_for_is_not_answered() -> None:
    line, _ = for_targets(RatioTargets(quench=1.0 * MM), BANK)
    assert (line.chamber, line.gasket) == (None, None)
    assert line.gasket_for_quench is not None
    # by hand: 1.0 - 0.2
    assert line.gasket_for_quench.needed / MM == pytest.approx(0.8, rel=1e-12)


def test_what_cannot_be_reached_tells_the_nearest_and_why() -> None:
    found = reach(gasket_for_quench, 0.9 * MM, 0.6 * MM, 0.5 * MM)
    assert math.isnan(found.needed)
    # by hand: 0.6 + 0.5
    assert found.nearest / MM == pytest.approx(1.1, rel=1e-12)
    assert "thinnest gasket" in found.why


def test_what_can_be_reached_is_its_own_nearest_and_a_missing_reading_has_none() -> None:
    assert reach(gasket_for_quench, 0.9 * MM, 0.1 * MM, 0.0).nearest == 0.9 * MM
    assert math.isnan(reach(gasket_for_quench, 0.9 * MM, math.nan, 0.0).nearest)
