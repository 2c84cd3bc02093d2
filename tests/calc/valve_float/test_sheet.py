"""Float sheet: the kernels together, on positions worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.one_curve import LoadCurve, rated_curve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.side_by_side import Springs, side_by_side
from headbench.calc.springs.spring_set import OneSpring, SpringSet, of_load_alone
from headbench.calc.train.textbook_motions import motion_from_profile
from headbench.calc.train.valve_motion import Motion, stacked
from headbench.calc.valve_float.sheet import FloatReadings, float_sheet

LIFT, WIDTH, MASS = 0.012, 1.2, 0.16
# 500 N at 40 mm, 1250 N at 25 mm: 50 N/mm
READ = curve_through([0.040, 0.025], [500.0, 1250.0])
RATED = rated_curve(0.040, 500.0, 50e3)


def one_spring(curve: LoadCurve | None = READ, coil_bind_height: float = 0.024) -> Springs:
    spring = of_load_alone(curve)._replace(
        coil_bind_height=coil_bind_height, mass=0.080, retainer_coils=0.0, seat_coils=0.0
    )
    return side_by_side([SpringSet((spring,), 0.0)])


READINGS = FloatReadings(
    motion=stacked([motion_from_profile("harmonic", LIFT, WIDTH, WIDTH)], np.array([0])),
    valve_lift=np.array([LIFT]),
    measured=np.array([True]),
    all_weighed=np.array([True]),
    springs=one_spring(),
    installed_height=np.array([0.040]),
    trusted=np.array([True]),
    mass=np.array([MASS]),
    load_uncertainty=np.zeros(1),
    mass_uncertainty=np.zeros(1),
    crank_speed=700.0,
    wanted_crank_speed=900.0,
    reserve_limit=np.array([10.0]),
    reserve_named=np.array([True]),
    misses_reject=False,
    surge_limit=np.array([5.0]),
)
ROWS = [
    name
    for name in FloatReadings.__dataclass_fields__
    if name != "motion" and isinstance(getattr(READINGS, name), np.ndarray)
]
# by hand: the harmonic nose is slowed down by LIFT/2 (pi/WIDTH)^2 = 0.041123 m/rad2, the open load is
# 500 + 50 * 12 = 1100 N: the cam may turn sqrt(1100/(0.16 * 0.041123)) = 408.88 rad/s, the crank twice that
NOSE = LIFT / 2.0 * (math.pi / WIDTH) ** 2
SPEED = 2.0 * math.sqrt(1100.0 / (MASS * NOSE))


def test_a_position_comes_out_as_on_paper() -> None:
    sheet = float_sheet(READINGS)
    assert sheet.speed.crank_speed[0] == pytest.approx(SPEED, rel=1e-9)
    assert pytest.approx(817.76, abs=0.01) == SPEED
    assert sheet.reserve[0] == pytest.approx(100.0 * (SPEED / 700.0 - 1.0), rel=1e-9)
    assert sheet.forces.least[0] == pytest.approx(1100.0 - MASS * NOSE * 350.0**2, rel=1e-9)
    assert sheet.needed.added[0] == pytest.approx(MASS * NOSE * 450.0**2 - 1100.0, rel=1e-9)
    assert sheet.mass_allowed[0] == pytest.approx(1100.0 / (NOSE * 450.0**2), rel=1e-9)
    # a gram of 160: the speed goes with one over the root of the mass
    assert sheet.gained_per_gram[0] == pytest.approx(SPEED * (math.sqrt(160.0 / 159.0) - 1.0), rel=1e-9)
    # 1/2 sqrt(50e3/0.08) = 395.28 Hz against 700/(4 pi) = 55.70 Hz of the cam
    assert sheet.surging.frequency[0] == pytest.approx(395.2847, abs=1e-4)
    assert sheet.surge_ratio[0] == pytest.approx(395.28471 * 4.0 * math.pi / 700.0, rel=1e-6)
    assert (sheet.reserve_verdict.tolist(), sheet.surge_verdict.tolist()) == ([Verdict.ACCEPT], [Verdict.ACCEPT])


def test_a_reserve_or_a_surge_ratio_that_misses_is_rejected() -> None:
    sheet = float_sheet(replace(READINGS, crank_speed=800.0, surge_limit=np.array([13.0])))
    assert (sheet.reserve_verdict.tolist(), sheet.surge_verdict.tolist()) == ([Verdict.REJECT], [Verdict.REJECT])


@pytest.mark.parametrize("crank_speed", [700.0, 900.0])
def test_a_stand_in_proves_nothing_either_way(crank_speed: float) -> None:
    sheet = float_sheet(replace(READINGS, measured=np.array([False]), crank_speed=crank_speed))
    assert sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED]
    assert not np.isnan(sheet.reserve[0])


def test_a_rated_spring_may_reject_but_never_accepts() -> None:
    rated = replace(READINGS, springs=one_spring(RATED))
    sheet = float_sheet(rated)
    assert sheet.speed.crank_speed[0] == pytest.approx(SPEED, rel=1e-9)
    assert sheet.reserve_verdict.tolist() == sheet.surge_verdict.tolist() == [Verdict.NOT_MEASURED]
    faster = float_sheet(replace(rated, crank_speed=900.0, surge_limit=np.array([13.0])))
    assert faster.reserve_verdict.tolist() == faster.surge_verdict.tolist() == [Verdict.REJECT]


def test_a_mass_that_leaves_out_a_part_may_reject_but_never_accepts() -> None:
    light = replace(READINGS, all_weighed=np.array([False]))
    assert float_sheet(light).reserve_verdict.tolist() == [Verdict.NOT_MEASURED]
    assert float_sheet(replace(light, crank_speed=900.0)).reserve_verdict.tolist() == [Verdict.REJECT]


def test_readings_far_from_full_lift_never_accept() -> None:
    near = curve_through([0.041, 0.040], [450.0, 500.0])
    sheet = float_sheet(replace(READINGS, springs=one_spring(near)))
    assert sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED]


def test_where_the_coils_touch_there_is_no_float_speed() -> None:
    springs = one_spring(coil_bind_height=0.030)
    sheet = float_sheet(replace(READINGS, springs=springs))
    assert np.isnan(sheet.speed.crank_speed[0])
    assert np.isnan(sheet.load).any()
    assert sheet.load[0, 0] == pytest.approx(500.0)
    # 40 mm less 12 mm of lift is 28 mm, and the coils are solid at 30 mm: nothing holds this train
    assert sheet.reserve_verdict.tolist() == [Verdict.REJECT]


def test_a_spring_that_is_loose_at_the_seat_is_rejected() -> None:
    # 500 N at 40 mm and 50 N/mm: free at 50 mm, loose at 51
    reserve_verdict = float_sheet(replace(READINGS, installed_height=np.array([0.051]))).reserve_verdict
    assert reserve_verdict.tolist() == [Verdict.REJECT]


def test_a_reserve_within_its_guard_band_is_borderline() -> None:
    # by hand: 817.76 rad/s at 740 is a reserve of 10.5 %; 1100 N with u = 11 N is half a percent of 817.76 rad/s,
    # 0.55 % of 740, and 1.65 times that, 0.91 %, is more than the 0.5 % it clears its limit by; with 5 N it is not
    near = replace(READINGS, crank_speed=740.0)
    verdicts = [
        float_sheet(replace(near, load_uncertainty=np.array([newton]))).reserve_verdict[0]
        for newton in (0.0, 5.0, 11.0)
    ]
    assert verdicts == [Verdict.ACCEPT, Verdict.ACCEPT, Verdict.BORDERLINE]
    over = replace(near, crank_speed=747.0, load_uncertainty=np.array([11.0]))
    assert float_sheet(over).reserve_verdict.tolist() == [Verdict.BORDERLINE]
    assert float_sheet(replace(over, crank_speed=760.0)).reserve_verdict.tolist() == [Verdict.REJECT]


@pytest.mark.parametrize(
    ("crank_speed", "named", "rejects", "verdict"),
    [
        # by hand: it floats at 817.76 rad/s: reserves of 16.8, 3.5 and -9.1 % against 10
        (700.0, False, False, Verdict.ACCEPT),
        (790.0, False, False, Verdict.BORDERLINE),
        (790.0, False, True, Verdict.REJECT),
        (790.0, True, False, Verdict.REJECT),
        (900.0, False, False, Verdict.REJECT),
    ],
)
def test_a_reserve_that_misses_the_default_alone_is_for_a_person_to_decide(
    crank_speed: float, verdict: Verdict, *, named: bool, rejects: bool
) -> None:
    readings = replace(READINGS, crank_speed=crank_speed, reserve_named=np.array([named]), misses_reject=rejects)
    assert float_sheet(readings).reserve_verdict.tolist() == [verdict]


def test_a_surge_ratio_without_a_limit_is_told_and_not_judged() -> None:
    sheet = float_sheet(replace(READINGS, surge_limit=np.array([math.nan])))
    assert sheet.surge_ratio[0] == pytest.approx(395.28471 * 4.0 * math.pi / 700.0, rel=1e-6)
    assert sheet.surge_verdict.tolist() == [Verdict.NOT_MEASURED]


@pytest.mark.parametrize("left", [0.0, 1e-10, 1e-6])
def test_coils_that_touch_at_full_lift_are_rejected_measured_or_not(left: float) -> None:
    # 40 mm less 12 mm of lift: touching is less than a nanometer left
    springs = one_spring(coil_bind_height=0.028 - left)
    rejected = [Verdict.REJECT if left < 1e-9 else other for other in (Verdict.ACCEPT, Verdict.NOT_MEASURED)]
    for measured, verdict in zip((True, False), rejected, strict=True):
        sheet = float_sheet(replace(READINGS, springs=springs, measured=np.array([measured])))
        assert sheet.reserve_verdict.tolist() == [verdict]


def test_coils_that_touch_at_the_lift_that_clearances_are_judged_by_are_rejected() -> None:
    # the motion was read 1 um lower than the lift is known to be: 40 less 12.001 mm is where the coils touch
    springs = one_spring(coil_bind_height=0.027999)
    higher = replace(READINGS, springs=springs, valve_lift=np.array([0.012001]))
    assert float_sheet(higher).reserve_verdict.tolist() == [Verdict.REJECT]


def test_coils_that_may_touch_before_full_lift_never_accept() -> None:
    unread = replace(READINGS, springs=one_spring(coil_bind_height=math.nan))
    assert float_sheet(unread).reserve_verdict.tolist() == [Verdict.NOT_MEASURED]
    assert float_sheet(replace(unread, crank_speed=900.0)).reserve_verdict.tolist() == [Verdict.REJECT]


@pytest.mark.parametrize("name", ["installed_height", "mass", "crank_speed"])
def test_what_is_not_known_leaves_the_reserve_unmeasured(name: str) -> None:
    unknown = np.nan if name == "crank_speed" else np.array([np.nan])
    sheet = float_sheet(replace(READINGS, **{name: unknown}))  # type: ignore[arg-type] # a float or an array, as it is
    assert np.isnan(sheet.reserve[0])
    assert sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED]


def test_a_spring_without_a_curve_floats_at_no_speed_that_is_known() -> None:
    sheet = float_sheet(replace(READINGS, springs=one_spring(None)))
    assert np.isnan(sheet.speed.crank_speed[0])
    assert sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED]


def test_a_spring_never_called_upon_has_no_float_speed_to_tell() -> None:
    motion = READINGS.motion
    eased = Motion(*(np.abs(getattr(motion, name)) for name in Motion.__dataclass_fields__))
    sheet = float_sheet(replace(READINGS, motion=eased))
    for found in (sheet.speed.crank_speed, sheet.needed.added, sheet.needed.open_load, sheet.mass_allowed):
        assert np.isnan(found).all()


def test_a_train_of_two_grams_is_not_made_lighter_by_one() -> None:
    assert np.isnan(float_sheet(replace(READINGS, mass=np.array([0.001]))).gained_per_gram[0])


INNER = of_load_alone(curve_through([0.040, 0.025], [100.0, 250.0]), 0.002)._replace(
    coil_bind_height=0.020, mass=0.020, retainer_coils=0.0, seat_coils=0.0
)


def with_inner(inner: OneSpring) -> FloatReadings:
    outer = one_spring().sets[0].each[0]
    return replace(READINGS, springs=side_by_side([SpringSet((outer, inner), 0.0)]))


def test_the_slowest_of_the_nested_springs_decides() -> None:
    # by hand: 1/2 sqrt(50e3/0.08) = 395.28 Hz; 10 N/mm and 20 g are 1/2 sqrt(10e3/0.02) = 353.55 Hz
    sheet = float_sheet(with_inner(INNER))
    assert sheet.surging.frequency[0] == pytest.approx(353.5534, abs=1e-4)
    assert (sheet.surging.spring.tolist(), sheet.surging.complete.tolist()) == ([1], [True])


@pytest.mark.parametrize("inner", [INNER._replace(curve=None), INNER._replace(mass=math.nan)], ids=["curve", "mass"])
def test_a_nested_spring_not_known_keeps_the_surge_from_being_good(inner: OneSpring) -> None:
    sheet = float_sheet(with_inner(inner))
    assert sheet.surging.frequency[0] == pytest.approx(395.2847, abs=1e-4)
    assert sheet.surge_verdict.tolist() == [Verdict.NOT_MEASURED]
    missed = replace(with_inner(inner), surge_limit=np.array([13.0]))
    assert float_sheet(missed).surge_verdict.tolist() == [Verdict.REJECT]


def test_springs_tested_together_tell_nothing_of_how_each_surges() -> None:
    sheet = float_sheet(with_inner(INNER._replace(curve=None, has_own_load=False)))
    assert np.isnan(sheet.surging.frequency[0])
    assert not np.isnan(sheet.speed.crank_speed[0])


def test_a_spring_that_only_another_valve_has_does_not_surge() -> None:
    single, double = one_spring().sets[0], with_inner(INNER).springs.sets[0]
    two = {name: np.repeat(getattr(READINGS, name), 2) for name in ROWS}
    motion = stacked([motion_from_profile("harmonic", LIFT, WIDTH, WIDTH)], np.array([0, 0]))
    sheet = float_sheet(replace(READINGS, motion=motion, springs=side_by_side([single, double]), **two))  # type: ignore[arg-type] # every one an array
    assert sheet.surging.frequency == pytest.approx([395.2847, 353.5534], abs=1e-4)
    assert sheet.surging.complete.tolist() == [True, True]
