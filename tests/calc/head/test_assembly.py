"""Head assembly: the kernels together, on one position worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from headbench.calc.head.assembly import HeadReadings, Limits, LoadTarget, Targets, assemble
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.masses.valve_mass import WeighedParts
from headbench.calc.coils.motion import SPRING_SHARE
from headbench.calc.springs.curves import SpringCurves
from headbench.calc.springs.load_curves import from_rating
from headbench.calc.springs.nested import Springs
from headbench.calc.springs.readings import from_readings

INCH = 0.0254
POUND = 4.4482216152605
UNREAD = np.array([np.nan])
SPRING = SpringCurves(from_readings(np.array([0, 0]), np.array([1.76, 1.25]) * INCH, np.array([114.06, 264.0]) * POUND))

GRAMS = {"valve": 104.5, "retainer": 19.8, "locks": 5.1, "springs": 88.2}
WEIGHED = WeighedParts(
    **{name: np.array([GRAMS.get(name, 0.0) * 1e-3]) for name in WeighedParts.__dataclass_fields__}
    | {"spring_share": np.array([SPRING_SHARE]), "rocker_ratio": np.ones(1)}
)


def within_5_percent(load: float) -> LoadTarget:
    wanted = np.array([load]) * POUND
    return LoadTarget(wanted, 0.95 * wanted, 1.05 * wanted)


NO_LOAD = LoadTarget(UNREAD, UNREAD, UNREAD)
READINGS = HeadReadings(
    bare_height=np.array([1.781]) * INCH,
    height_with_shims=UNREAD,
    height_proven=np.array([True]),
    seat_load_with_shims=UNREAD,
    valve_lift=np.array([0.4875]) * INCH,
    retainer_to_seal=np.array([0.602]) * INCH,
    springs=Springs(SPRING, np.array([[0]]), np.zeros((1, 1)), np.array([[1.12]]) * INCH),
    masses=WEIGHED,
    targets=Targets(np.array([1.750]) * INCH, within_5_percent(118.0), within_5_percent(262.0)),
    limits=Limits(
        installed_height_tolerance=np.array([0.005]) * INCH,
        coil_bind_clearance_minimum=np.array([0.060]) * INCH,
        retainer_to_seal_clearance_minimum=np.array([0.050]) * INCH,
        off_target_rejects=False,
    ),
    shims=ShimsAtHand(np.array([0.015, 0.030, 0.060]) * INCH, 0.060 * INCH),
)


def test_a_whole_position_comes_out_as_on_paper() -> None:
    # hand arithmetic on a line of 294 lbf/in through 114.06 lbf at 1.76 in: installed 1.871 - 0.090 - 0.030
    # = 1.751; seat 114.06 + 294*0.009 = 116.706; open height 1.751 - 0.4875 = 1.2635; open load
    # 114.06 + 294*0.4965 = 260.031; coil bind 1.2635 - 1.12 = 0.1435; seal 0.602 - 0.4875 = 0.1145;
    # moving 104.5 + 19.8 + 5.1 + 88.2/3 = 158.8 g
    sheet = assemble(READINGS)
    assert sheet.heights.installed_height[0] / INCH == pytest.approx(1.751, abs=1e-12)
    assert sheet.seat_load[0] / POUND == pytest.approx(116.706, rel=1e-12)
    assert sheet.open_height[0] / INCH == pytest.approx(1.2635, abs=1e-12)
    assert sheet.open_load[0] / POUND == pytest.approx(260.031, rel=1e-12)
    assert sheet.coil_bind.clearance[0] / INCH == pytest.approx(0.1435, abs=1e-12)
    assert sheet.retainer_to_seal_clearance[0] / INCH == pytest.approx(0.1145, abs=1e-12)
    assert sheet.moving_mass.total[0] == pytest.approx(0.1588, rel=1e-12)
    assert sheet.verdict.tolist() == [Verdict.ACCEPT]


@pytest.mark.parametrize(
    "readings",
    [
        replace(READINGS, bare_height=UNREAD),
        replace(READINGS, valve_lift=UNREAD),
        replace(READINGS, retainer_to_seal=UNREAD),
    ],
)
def test_a_position_is_never_good_while_a_required_reading_is_missing(readings: HeadReadings) -> None:
    sheet = assemble(readings)
    assert sheet.verdict.tolist() == [Verdict.NOT_MEASURED]


def test_a_spring_without_a_solid_height_holds_the_verdict_back() -> None:
    springs = replace(READINGS.springs, coil_bind_height=np.array([[np.nan]]))
    assert assemble(replace(READINGS, springs=springs)).verdict.tolist() == [Verdict.NOT_MEASURED]


def test_a_load_from_a_rating_is_shown_but_never_accepted() -> None:
    line = from_rating(np.array([1.75]) * INCH, np.array([118.0]) * POUND, np.array([294.0]) * POUND / INCH)
    rated = SpringCurves(line)
    sheet = assemble(replace(READINGS, springs=replace(READINGS.springs, curves=rated)))
    assert sheet.seat_load[0] / POUND == pytest.approx(118.0 - 0.294, rel=1e-12)
    assert sheet.seat_load_verdict.tolist() == [Verdict.NOT_MEASURED]
    assert sheet.verdict.tolist() == [Verdict.NOT_MEASURED]


def test_masses_that_were_not_weighed_do_not_hold_the_checks_back() -> None:
    masses = WeighedParts(*(UNREAD for _ in WeighedParts.__dataclass_fields__))
    sheet = assemble(replace(READINGS, masses=masses))
    assert np.isnan(sheet.moving_mass.total[0])
    assert sheet.verdict.tolist() == [Verdict.ACCEPT]


def test_coils_that_touch_before_full_lift_reject_and_leave_no_open_load() -> None:
    springs = replace(READINGS.springs, coil_bind_height=np.array([[1.30]]) * INCH)
    sheet = assemble(replace(READINGS, springs=springs))
    assert sheet.coils_touch.tolist() == [True]
    assert np.isnan(sheet.open_load[0])
    assert sheet.verdict.tolist() == [Verdict.REJECT]


def test_a_load_without_a_target_is_not_checked() -> None:
    targets = replace(READINGS.targets, seat_load=NO_LOAD, open_load=NO_LOAD)
    springs = replace(READINGS.springs, curve=np.array([[-1]]))
    assert assemble(replace(READINGS, targets=targets, springs=springs)).verdict.tolist() == [Verdict.ACCEPT]


def test_a_missing_load_with_a_target_holds_the_verdict_back() -> None:
    springs = replace(READINGS.springs, curve=np.array([[-1]]))
    assert assemble(replace(READINGS, springs=springs)).verdict.tolist() == [Verdict.NOT_MEASURED]


def test_a_height_off_its_target_is_for_a_person_to_decide_unless_the_job_rejects_it() -> None:
    # bare 1.741: 0.009 short of 1.750, no shim helps, tolerance 0.005; no load is wanted
    off = replace(
        READINGS, bare_height=np.array([1.741]) * INCH, targets=Targets(np.array([1.750]) * INCH, NO_LOAD, NO_LOAD)
    )
    assert assemble(off).verdict.tolist() == [Verdict.BORDERLINE]
    strict = replace(off.limits, off_target_rejects=True)
    assert assemble(replace(off, limits=strict)).verdict.tolist() == [Verdict.REJECT]


def test_the_load_is_the_end_and_the_height_the_means() -> None:
    # bare 1.741 stands 0.009 short; the line of 294 lbf/in pushes 114.06 + 294*0.019 = 119.646 lbf, 1.4 % over 118
    sheet = assemble(replace(READINGS, bare_height=np.array([1.741]) * INCH))
    assert sheet.seat_load[0] / POUND == pytest.approx(119.646, rel=1e-12)
    assert (sheet.height_verdict.tolist(), sheet.height_counts.tolist()) == ([Verdict.BORDERLINE], [False])
    assert sheet.verdict.tolist() == [Verdict.ACCEPT]


def test_a_load_that_was_not_read_does_not_carry_the_height() -> None:
    line = from_rating(np.array([1.75]) * INCH, np.array([118.0]) * POUND, np.array([294.0]) * POUND / INCH)
    springs = replace(READINGS.springs, curves=SpringCurves(line))
    sheet = assemble(replace(READINGS, bare_height=np.array([1.741]) * INCH, springs=springs))
    assert sheet.height_counts.tolist() == [True]


def test_a_stack_that_would_bind_gives_way_to_one_inside_the_limits_that_does_not() -> None:
    # bare 1.7880: needs 0.038, 0.045 stands 1.743 and 0.030 stands 1.758; full lift 0.4875 leaves 1.2555 and 1.2705.
    # coils touch at 1.200: clearances 0.0555 (under 0.060) and 0.0705
    tight = replace(READINGS.springs, coil_bind_height=np.array([[1.200]]) * INCH)
    tolerant = replace(READINGS.limits, installed_height_tolerance=np.array([0.010]) * INCH)
    sheet = assemble(replace(READINGS, bare_height=np.array([1.788]) * INCH, springs=tight, limits=tolerant))
    assert sheet.heights.shims == ((1,),)
    assert sheet.coil_bind.clearance[0] / INCH == pytest.approx(0.0705, abs=1e-12)
    assert sheet.runner_up_clearance[0] / INCH == pytest.approx(0.0555, abs=1e-12)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (115.0, 120.0, Verdict.ACCEPT),
        (117.0, np.nan, Verdict.BORDERLINE),
        (np.nan, 116.0, Verdict.BORDERLINE),
        (116.0, np.nan, Verdict.ACCEPT),
    ],
)
def test_a_load_may_be_wanted_as_a_range_open_on_either_side(low: float, high: float, verdict: Verdict) -> None:
    # the position of the first test pushes 116.706 lbf on the seat
    aim = np.nanmean([low, high])
    wanted = LoadTarget(np.array([aim]) * POUND, np.array([low]) * POUND, np.array([high]) * POUND)
    sheet = assemble(replace(READINGS, targets=Targets(np.array([1.750]) * INCH, wanted, NO_LOAD)))
    assert sheet.seat_load_verdict.tolist() == [verdict]


def test_a_seat_load_read_after_assembly_counts_and_is_proof() -> None:
    rated = from_rating(np.array([1.75]) * INCH, np.array([118.0]) * POUND, np.array([294.0]) * POUND / INCH)
    springs = replace(READINGS.springs, curves=SpringCurves(rated))
    read = np.array([121.0]) * POUND
    sheet = assemble(
        replace(
            READINGS,
            springs=springs,
            seat_load_with_shims=read,
            targets=Targets(np.array([1.750]) * INCH, within_5_percent(118.0), NO_LOAD),
        )
    )
    assert sheet.seat_load[0] == read[0]
    assert sheet.figured_seat_load[0] / POUND == pytest.approx(117.706, rel=1e-12)
    assert sheet.verdict.tolist() == [Verdict.ACCEPT]


def test_coils_that_just_touch_at_full_lift_are_rejected_whatever_the_limit() -> None:
    # 1.751 - 0.4875 = 1.2635
    touching = replace(READINGS.springs, coil_bind_height=np.array([[1.2635]]) * INCH)
    none = replace(READINGS.limits, coil_bind_clearance_minimum=np.zeros(1))
    no_loads = Targets(np.array([1.750]) * INCH, NO_LOAD, NO_LOAD)
    sheet = assemble(replace(READINGS, springs=touching, limits=none, targets=no_loads))
    assert sheet.coil_bind_verdict.tolist() == sheet.verdict.tolist() == [Verdict.REJECT]
