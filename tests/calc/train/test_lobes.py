"""Lobes: what a table or a stand-in makes of a valve's motion, on lobes of closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headbench.calc import FloatArray
from headbench.calc.train.lobes import LiftTable, Lobe, StandIn, lobe_from_stand_in, lobe_from_table, motions_of
from headbench.calc.train.valvetrain import LiftPath

# own derivation: lift (1 - x^2)^4 with x the angle over WIDTH; at its nose it is slowed down by 8 lift/WIDTH^2
LIFT, WIDTH, NOISE = 8e-3, 1.2, 1e-6
RATIO, LASH = 1.5, 5e-4


def rise(angle: FloatArray) -> FloatArray:
    lift: FloatArray = LIFT * np.maximum(1.0 - (angle / WIDTH) ** 2, 0.0) ** 4
    return lift


def read_every(degrees: float, *, at_valve: bool = False) -> LiftTable:
    angle = np.radians(np.arange(-80.0, 80.1, degrees))
    return LiftTable(angle, rise(angle), NOISE, at_valve)


def path(
    valve_lift: float = math.nan, lobe_lift: float = math.nan, ratio: float = RATIO, lash: float = LASH
) -> LiftPath:
    return LiftPath(valve_lift, lobe_lift, np.array([ratio]), np.zeros(1), lash)


def lobe(table: LiftTable, way: LiftPath) -> Lobe:
    found = lobe_from_table(table, way)
    assert isinstance(found, Lobe)
    return found


def test_a_table_read_on_the_cams_side_goes_over_rocker_and_lash() -> None:
    found = lobe(read_every(2.0), path(lobe_lift=LIFT))
    assert found.at_lobe is not None
    assert found.at_lobe.lift.max() == pytest.approx(LIFT, rel=1e-3)
    # hand arithmetic: 8 mm times 1.5 less half a millimeter
    assert found.peak_lift == pytest.approx(11.5e-3, rel=1e-3)
    assert found.stated == pytest.approx(11.5e-3, abs=1e-12)
    assert found.at_valve.acceleration.min() == pytest.approx(-RATIO * 8.0 * LIFT / WIDTH**2, rel=2e-2)
    assert found.proves
    assert not found.differs
    assert found.full_lift == found.stated


def test_a_table_read_at_the_valve_is_the_valves_motion_lash_and_all() -> None:
    found = lobe(read_every(2.0, at_valve=True), path(valve_lift=LIFT, lash=0.0))
    assert found.at_lobe is None
    assert found.peak_lift == pytest.approx(LIFT, rel=1e-3)


@pytest.mark.parametrize(("stated", "larger"), [(0.98 * LIFT, LIFT), (1.02 * LIFT, 1.02 * LIFT)])
def test_where_stated_and_read_lift_differ_the_larger_one_counts(stated: float, larger: float) -> None:
    found = lobe(read_every(2.0), path(lobe_lift=stated))
    assert found.differs
    assert found.full_lift == pytest.approx(RATIO * larger - LASH, rel=1e-3)


@pytest.mark.parametrize(
    ("at_valve", "way"),
    [
        (False, path(lobe_lift=1.1 * LIFT)),
        (False, path(valve_lift=1.1 * LIFT * RATIO - LASH)),
        (True, path(valve_lift=1.1 * LIFT)),
    ],
)
def test_a_lift_stated_far_from_the_readings_contradicts_them(at_valve: bool, way: LiftPath) -> None:  # noqa: FBT001
    found = lobe_from_table(read_every(2.0, at_valve=at_valve), way)
    assert isinstance(found, list)
    assert [fault.kind for fault in found] == ["contradicts stated lift"]


def test_a_table_cut_off_is_not_used() -> None:
    whole = read_every(2.0)
    found = lobe_from_table(replace(whole, angle=whole.angle[:40], lift=whole.lift[:40]), path(lobe_lift=LIFT))
    assert isinstance(found, list)
    assert "open end" in {fault.kind for fault in found}


@pytest.mark.parametrize(("share", "proves"), [(0.0, True), (0.25, True), (0.26, False)])
def test_a_table_that_knows_its_braking_too_coarsely_proves_nothing(share: float, proves: bool) -> None:  # noqa: FBT001
    # rules.COARSE_TABLE: above a quarter float is not judged
    found = lobe(read_every(2.0), path())
    assert found.spacing is not None
    assert replace(found, spacing=replace(found.spacing, error_share=share)).proves is proves


def test_a_table_whose_ratio_is_not_known_waits_for_it() -> None:
    found = lobe(read_every(2.0), path(ratio=math.nan))
    assert found.at_lobe is not None
    assert (found.is_known, found.proves, found.differs) == (False, False, False)
    assert math.isnan(found.full_lift)


def test_a_lash_that_takes_all_the_lift_leaves_the_valve_closed() -> None:
    assert lobe(read_every(2.0), path(lash=1.01 * RATIO * LIFT)).never_opens
    assert not lobe(read_every(2.0), path()).never_opens


@pytest.mark.parametrize(
    ("way", "full"),
    [
        (path(lobe_lift=LIFT), RATIO * LIFT - LASH),
        (path(valve_lift=0.011), 0.011),
        (path(valve_lift=0.011, lobe_lift=LIFT), RATIO * LIFT - LASH),
        (path(), math.nan),
        (path(lobe_lift=LIFT, ratio=math.nan), math.nan),
    ],
)
def test_a_stand_in_rises_to_the_lobes_lift_or_else_to_the_valves(way: LiftPath, full: float) -> None:
    found = lobe_from_stand_in(StandIn("harmonic", WIDTH, WIDTH), way)
    assert found.at_valve.lift.max() == pytest.approx(full, nan_ok=True)
    assert found.is_known is not math.isnan(full)
    assert not found.proves
    assert found.full_lift == pytest.approx(way.full_lift, nan_ok=True)


def test_every_position_moves_as_its_lobe_does_to_its_own_lift() -> None:
    read, guessed = (
        lobe(read_every(2.0), path(lobe_lift=LIFT)),
        lobe_from_stand_in(StandIn("harmonic", 1, 1), path(0.01)),
    )
    own = np.array([math.nan, 0.0110, math.nan, math.nan])
    motion, proven = motions_of([read, guessed, None], np.array([0, 0, 1, 2]), own)
    full = float(read.at_valve.lift.max())
    assert motion.lift.max(axis=1) == pytest.approx([full, 0.0110, 0.01, math.nan], nan_ok=True)
    # a motion scaled to a lift is slowed down by as much less
    assert motion.acceleration[1].min() == pytest.approx(motion.acceleration[0].min() * 0.0110 / full)
    assert proven.tolist() == [True, True, False, False]
