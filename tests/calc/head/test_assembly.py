"""Head assembly: the kernels together, on one position worked by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.shim_rule import best_by_rule, runner_up_by_rule

from headbench.calc.coils.motion import SPRING_SHARE
from headbench.calc.head.assembly import HeadSheet, Limits, Targets, ValveReadings, ValveSheet, assemble
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.heights.shims import stacks_of
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.masses.valve_mass import WeighedParts
from headbench.calc.springs.one_curve import LoadCurve, rated_curve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_set import SpringSet, of_load_alone

INCH = 0.0254
POUND = 4.4482216152605
UNREAD = math.nan
SPRING = curve_through([1.76 * INCH, 1.25 * INCH], [114.06 * POUND, 264.0 * POUND])
RATED = rated_curve(1.75 * INCH, 118.0 * POUND, 294.0 * POUND / INCH)

GRAMS = {"valve": 104.5, "retainer": 19.8, "locks": 5.1, "springs": 88.2}
WEIGHED = WeighedParts(
    **{name: GRAMS.get(name, 0.0) * 1e-3 for name in WeighedParts._fields}
    | {"spring_share": SPRING_SHARE, "rocker_ratio": 1.0}
)


def within_5_percent(load: float) -> LoadTarget:
    wanted = load * POUND
    return LoadTarget(wanted, 0.95 * wanted, 1.05 * wanted)


def spring(curve: LoadCurve | None = SPRING, bind: float = 1.12) -> SpringSet:
    """One spring, and where its coils touch [in]."""
    return SpringSet((of_load_alone(curve)._replace(coil_bind_height=bind * INCH),), 0.0)


NO_LOAD = LoadTarget(UNREAD, UNREAD, UNREAD)
READINGS = ValveReadings(
    bare_height=1.781 * INCH,
    height_with_shims=UNREAD,
    height_proven=True,
    seat_load_with_shims=UNREAD,
    valve_lift=0.4875 * INCH,
    retainer_to_seal=0.602 * INCH,
    springs=spring(),
    masses=WEIGHED,
    targets=Targets(1.750 * INCH, within_5_percent(118.0), within_5_percent(262.0)),
    limits=Limits(
        installed_height_tolerance=0.005 * INCH,
        coil_bind_clearance_minimum=0.060 * INCH,
        retainer_to_seal_clearance_minimum=0.050 * INCH,
        off_target_rejects=False,
    ),
)
SHIMS = ShimsAtHand([0.015 * INCH, 0.030 * INCH, 0.060 * INCH], 0.060 * INCH)


def head_of(*valves: ValveReadings) -> HeadSheet:
    return assemble(valves, SHIMS)


def sheet_of(valve: ValveReadings) -> ValveSheet:
    (sheet,) = head_of(valve).valves
    return sheet


def test_a_whole_position_comes_out_as_on_paper() -> None:
    # hand arithmetic on a line of 294 lbf/in through 114.06 lbf at 1.76 in: installed 1.871 - 0.090 - 0.030
    # = 1.751; seat 114.06 + 294*0.009 = 116.706; open height 1.751 - 0.4875 = 1.2635; open load
    # 114.06 + 294*0.4965 = 260.031; coil bind 1.2635 - 1.12 = 0.1435; seal 0.602 - 0.4875 = 0.1145;
    # moving 104.5 + 19.8 + 5.1 + 88.2/3 = 158.8 g
    sheet = sheet_of(READINGS)
    assert sheet.height.installed_height / INCH == pytest.approx(1.751, abs=1e-12)
    assert sheet.seat_load / POUND == pytest.approx(116.706, rel=1e-12)
    assert sheet.open_height / INCH == pytest.approx(1.2635, abs=1e-12)
    assert sheet.open_load / POUND == pytest.approx(260.031, rel=1e-12)
    assert sheet.coil_bind.clearance / INCH == pytest.approx(0.1435, abs=1e-12)
    assert sheet.retainer_to_seal_clearance / INCH == pytest.approx(0.1145, abs=1e-12)
    assert sheet.moving_mass.total == pytest.approx(0.1588, rel=1e-12)
    assert sheet.verdict == Verdict.ACCEPT


@pytest.mark.parametrize(
    "readings",
    [
        READINGS._replace(bare_height=UNREAD),
        READINGS._replace(valve_lift=UNREAD),
        READINGS._replace(retainer_to_seal=UNREAD),
    ],
)
def test_a_position_is_never_good_while_a_required_reading_is_missing(readings: ValveReadings) -> None:
    sheet = sheet_of(readings)
    assert sheet.verdict == Verdict.NOT_MEASURED


def test_a_spring_without_a_solid_height_holds_the_verdict_back() -> None:
    springs = spring(bind=UNREAD)
    assert sheet_of(READINGS._replace(springs=springs)).verdict == Verdict.NOT_MEASURED


def test_a_load_from_a_rating_is_shown_but_never_accepted() -> None:
    sheet = sheet_of(READINGS._replace(springs=spring(RATED)))
    assert sheet.seat_load / POUND == pytest.approx(118.0 - 0.294, rel=1e-12)
    assert sheet.seat_load_verdict == Verdict.NOT_MEASURED
    assert sheet.verdict == Verdict.NOT_MEASURED


def test_masses_that_were_not_weighed_do_not_hold_the_checks_back() -> None:
    masses = WeighedParts(*(UNREAD for _ in WeighedParts._fields))
    sheet = sheet_of(READINGS._replace(masses=masses))
    assert math.isnan(sheet.moving_mass.total)
    assert sheet.verdict == Verdict.ACCEPT


def test_coils_that_touch_before_full_lift_reject_and_leave_no_open_load() -> None:
    springs = spring(bind=1.30)
    sheet = sheet_of(READINGS._replace(springs=springs))
    assert sheet.coil_bind.touches
    assert math.isnan(sheet.open_load)
    assert sheet.verdict == Verdict.REJECT


def test_a_load_without_a_target_is_not_checked() -> None:
    targets = READINGS.targets._replace(seat_load=NO_LOAD, open_load=NO_LOAD)
    springs = spring(None)
    assert sheet_of(READINGS._replace(targets=targets, springs=springs)).verdict == Verdict.ACCEPT


def test_a_missing_load_with_a_target_holds_the_verdict_back() -> None:
    springs = spring(None)
    assert sheet_of(READINGS._replace(springs=springs)).verdict == Verdict.NOT_MEASURED


def test_a_height_off_its_target_is_for_a_person_to_decide_unless_the_job_rejects_it() -> None:
    # bare 1.741: 0.009 short of 1.750, no shim helps, tolerance 0.005; no load is wanted
    off = READINGS._replace(bare_height=1.741 * INCH, targets=Targets(1.750 * INCH, NO_LOAD, NO_LOAD))
    assert sheet_of(off).verdict == Verdict.BORDERLINE
    strict = off.limits._replace(off_target_rejects=True)
    assert sheet_of(off._replace(limits=strict)).verdict == Verdict.REJECT


def test_the_load_is_the_end_and_the_height_the_means() -> None:
    # bare 1.741 stands 0.009 short; the line of 294 lbf/in pushes 114.06 + 294*0.019 = 119.646 lbf, 1.4 % over 118
    sheet = sheet_of(READINGS._replace(bare_height=1.741 * INCH))
    assert sheet.seat_load / POUND == pytest.approx(119.646, rel=1e-12)
    assert (sheet.height_verdict, sheet.height_counts) == (Verdict.BORDERLINE, False)
    assert sheet.verdict == Verdict.ACCEPT


def test_a_load_that_was_not_read_does_not_carry_the_height() -> None:
    sheet = sheet_of(READINGS._replace(bare_height=1.741 * INCH, springs=spring(RATED)))
    assert sheet.height_counts


def test_a_stack_that_would_bind_gives_way_to_one_inside_the_limits_that_does_not() -> None:
    # bare 1.7880: needs 0.038, 0.045 stands 1.743 and 0.030 stands 1.758; full lift 0.4875 leaves 1.2555 and 1.2705.
    # coils touch at 1.200: clearances 0.0555 (under 0.060) and 0.0705
    tight = spring(bind=1.200)
    tolerant = READINGS.limits._replace(installed_height_tolerance=0.010 * INCH)
    sheet = sheet_of(READINGS._replace(bare_height=1.788 * INCH, springs=tight, limits=tolerant))
    assert sheet.height.shims == (1,)
    assert sheet.coil_bind.clearance / INCH == pytest.approx(0.0705, abs=1e-12)
    # not the 0.045 that is next nearest, but 0.015 that leaves room: 1.773 - 0.4875 - 1.200
    assert sheet.runner_up_clearance / INCH == pytest.approx(0.0855, abs=1e-12)


def test_where_nothing_is_inside_its_limits_a_stack_that_binds_gives_way_to_one_that_does_not() -> None:
    # bare 1.8150: 0.060 stands 1.755; full lift 0.4875 leaves 1.2675, and 0.0595 where coils touch at 1.208; 0.045
    # stands 1.770, 0.020 too tall by a tolerance of 0.004, and leaves 0.0745
    tolerant = READINGS.limits._replace(installed_height_tolerance=0.004 * INCH)
    no_loads = Targets(1.750 * INCH, NO_LOAD, NO_LOAD)
    valve = READINGS._replace(bare_height=1.815 * INCH, springs=spring(bind=1.208), limits=tolerant, targets=no_loads)
    sheet = sheet_of(valve)
    assert sheet.height.shims == (1, 0)
    assert sheet.coil_bind_verdict == Verdict.ACCEPT
    assert sheet.coil_bind.clearance / INCH == pytest.approx(0.0745, abs=1e-12)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (115.0, 120.0, Verdict.ACCEPT),
        (117.0, UNREAD, Verdict.BORDERLINE),
        (UNREAD, 116.0, Verdict.BORDERLINE),
        (116.0, UNREAD, Verdict.ACCEPT),
    ],
)
def test_a_load_may_be_wanted_as_a_range_open_on_either_side(low: float, high: float, verdict: Verdict) -> None:
    # the position of the first test pushes 116.706 lbf on the seat
    aim = high if math.isnan(low) else low if math.isnan(high) else (low + high) / 2.0
    wanted = LoadTarget(aim * POUND, low * POUND, high * POUND)
    sheet = sheet_of(READINGS._replace(targets=Targets(1.750 * INCH, wanted, NO_LOAD)))
    assert sheet.seat_load_verdict == verdict


def test_a_seat_load_read_after_assembly_counts_and_is_proof() -> None:
    read = 121.0 * POUND
    sheet = sheet_of(
        READINGS._replace(
            springs=spring(RATED),
            seat_load_with_shims=read,
            targets=Targets(1.750 * INCH, within_5_percent(118.0), NO_LOAD),
        )
    )
    assert sheet.seat_load == read
    assert sheet.figured_seat_load / POUND == pytest.approx(117.706, rel=1e-12)
    assert sheet.verdict == Verdict.ACCEPT


def test_coils_that_just_touch_at_full_lift_are_rejected_whatever_the_limit() -> None:
    # without any shim 1.781 - 0.4875 = 1.2935
    touching = spring(bind=1.2935)
    none = READINGS.limits._replace(coil_bind_clearance_minimum=0.0)
    no_loads = Targets(1.750 * INCH, NO_LOAD, NO_LOAD)
    sheet = sheet_of(READINGS._replace(springs=touching, limits=none, targets=no_loads))
    assert sheet.coil_bind_verdict == sheet.verdict == Verdict.REJECT


def test_every_position_of_a_head_comes_out_as_it_does_alone_where_there_are_shims_enough() -> None:
    valves = [
        READINGS,
        READINGS._replace(bare_height=UNREAD),
        READINGS._replace(bare_height=1.741 * INCH),
        READINGS._replace(springs=spring(RATED, 1.30)),
    ]
    head = head_of(*valves)
    assert [repr(one) for one in head.valves] == [repr(sheet_of(one)) for one in valves]
    # by hand: one of 0.030 in the first and in the last, none in the short one, nothing known of the second
    assert head.shims_used == [0, 2, 0]
    assert head.shim_choice_proven


def test_a_position_without_a_target_height_aims_at_the_height_of_its_seat_load() -> None:
    # by hand: on the line of 294 lbf/in through 114.06 lbf at 1.76 in, 118.764 lbf are at 1.76 - 4.704/294 = 1.744
    targets = READINGS.targets._replace(installed_height=UNREAD, seat_load=within_5_percent(118.764))
    sheet = sheet_of(READINGS._replace(targets=targets))
    assert sheet.target_height / INCH == pytest.approx(1.744, rel=1e-9)
    # bare 1.781: 0.037 needed, so 0.030 stands 0.007 high and 0.045 0.008 low: the load is what counts
    assert sheet.height.shims == (1,)
    assert sheet.verdict == Verdict.ACCEPT
    assert math.isnan(sheet_of(READINGS._replace(targets=targets, springs=spring(None))).target_height)
    # where the coils touch before that height there is no such height
    assert math.isnan(sheet_of(READINGS._replace(targets=targets, springs=spring(bind=1.750))).target_height)


def test_a_seat_load_on_the_head_that_its_curve_contradicts_takes_the_open_load_along() -> None:
    # the position of the first test figures 116.706 lbf on the seat; 2 % of that are 2.33 lbf
    for read, contradicted in ((118.5, False), (119.5, True)):
        sheet = sheet_of(READINGS._replace(seat_load_with_shims=read * POUND))
        assert sheet.contradicted is contradicted
        assert sheet.trusted is not contradicted
        assert sheet.seat_load_verdict == Verdict.ACCEPT
        assert sheet.open_load_verdict == (Verdict.NOT_MEASURED if contradicted else Verdict.ACCEPT)


def test_a_height_in_doubt_accepts_nothing_that_rests_on_it() -> None:
    sheet = sheet_of(READINGS._replace(height_proven=False))
    held_back = sheet.height_verdict, sheet.seat_load_verdict, sheet.open_load_verdict, sheet.coil_bind_verdict
    assert held_back == (Verdict.NOT_MEASURED,) * 4
    assert sheet.verdict == Verdict.NOT_MEASURED


def test_a_valve_that_nothing_holds_closed_is_rejected() -> None:
    # free at 1.75 + 118/294 = 2.1514 in; the valve stands at 2.170
    loose = READINGS._replace(bare_height=2.170 * INCH, targets=Targets(2.170 * INCH, NO_LOAD, NO_LOAD))
    sheet = sheet_of(loose._replace(springs=spring(RATED)))
    assert sheet.any_loose
    assert sheet.pushes_nothing
    assert sheet.verdict == Verdict.REJECT


def test_a_stack_outside_the_tolerance_is_laid_where_the_load_that_was_read_is_inside_its_ends() -> None:
    # bare 1.772 needs 0.022: 0.015 stands 1.757, 0.030 stands 1.742, 0.007 and 0.008 off. The line of 294 lbf/in pushes
    # 114.06 + 294*0.003 = 114.942 and 114.06 + 294*0.018 = 119.352: of 118 to 121 only the thicker stack is inside
    wanted = LoadTarget(119.5 * POUND, 118.0 * POUND, 121.0 * POUND)
    valve = READINGS._replace(bare_height=1.772 * INCH, targets=Targets(1.750 * INCH, wanted, NO_LOAD))
    sheet = sheet_of(valve)
    assert sheet.height.shims == (1,)
    assert sheet.height.runner_up == (0,)
    assert sheet.runner_up_load / POUND == pytest.approx(114.942, rel=1e-9)
    # a rating is no reading: then the nearest height counts
    assert sheet_of(valve._replace(springs=spring(RATED))).height.shims == (0,)


THOUSANDTH = 0.001 * INCH


@settings(max_examples=400)
@given(
    needed=st.integers(-10, 90),
    sizes=st.lists(st.integers(1, 60), min_size=1, max_size=5, unique=True),
    load=st.floats(105.0, 140.0),
    within=st.floats(0.5, 8.0),
    tolerance=st.integers(0, 12),
    bind=st.floats(1.12, 1.24),
    spring_set=st.sampled_from(["read", "rated", "unknown", "bent"]),
)
def test_the_stack_laid_is_the_best_of_all_that_leave_room_by_height_or_by_a_load_that_was_read(
    needed: int, sizes: list[int], load: float, within: float, tolerance: int, bind: float, spring_set: str
) -> None:
    """By the rule over every stack: the search itself leaves out what cannot fit any more."""
    # a spring that curves sharply, read around the target, where its load is proven
    bent = curve_through([1.70 * INCH, 1.74 * INCH, 1.80 * INCH], [160.0 * POUND, 122.0 * POUND, 100.0 * POUND])
    curve = {"read": SPRING, "rated": RATED, "unknown": None, "bent": bent}[spring_set]
    wanted = LoadTarget(load * POUND, (load - within) * POUND, (load + within) * POUND)
    valve = READINGS._replace(
        bare_height=1.750 * INCH + needed * THOUSANDTH,
        springs=spring(curve, bind),
        targets=Targets(1.750 * INCH, wanted, NO_LOAD),
        limits=READINGS.limits._replace(installed_height_tolerance=tolerance * THOUSANDTH),
    )
    at_hand = ShimsAtHand([size * THOUSANDTH for size in sizes], 0.090 * INCH)
    stacks = stacks_of(at_hand.thicknesses, at_hand.stack_maximum)
    proven = {"read": (1.25 - 0.051, 1.76 + 0.051), "bent": (1.69, 1.81)}

    def breaks(total: int) -> bool:
        return valve.bare_height - total * 1e-9 - valve.valve_lift - bind * INCH < 0.060 * INCH - 1e-12

    def good(total: int) -> bool:
        height = valve.bare_height - total * 1e-9
        if breaks(total):
            return False
        if abs(height - 1.750 * INCH) <= tolerance * THOUSANDTH + 1e-12:
            return True
        if curve is None or spring_set not in proven:
            return False
        low, high = proven[spring_set]
        pushed = curve.load_at(height) / POUND
        return low * INCH <= height <= high * INCH and abs(pushed - load) <= within

    (sheet,) = assemble([valve], at_hand).valves
    miss = on_grid(valve.bare_height - 1.750 * INCH)
    best = best_by_rule(miss, stacks, good, breaks)
    second = runner_up_by_rule(miss, stacks, good, best, breaks)
    assert sheet.height.shims == stacks.shims[best]
    assert sheet.height.runner_up == (None if second is None else stacks.shims[second])
