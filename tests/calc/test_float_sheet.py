"""Float sheet: float and surge of whole positions, against hand arithmetic, and what proves them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from headbench.calc.float_sheet import FloatReadings, float_sheet
from headbench.calc.head_assembly import Springs
from headbench.calc.load_curves import from_rating
from headbench.calc.motion_laws import motion_from_law
from headbench.calc.nested_springs import UNKNOWN_CURVE
from headbench.calc.spring_curves import SpringCurves
from headbench.calc.spring_readings import from_readings
from headbench.calc.valve_motion import stacked
from headbench.calc.verdicts import Verdict

LIFT, RISE, MASS, SEAT, RATE = 0.012, 1.2, 0.16, 500.0, 50e3
READ = SpringCurves(from_readings(np.array([0, 0]), np.array([0.041, 0.027]), np.array([450.0, 1150.0])))
ONE = np.ones(1)

READINGS = FloatReadings(
    motion=stacked([motion_from_law("harmonic", LIFT, RISE, RISE)], np.array([0])),
    measured=np.array([True]),
    springs=Springs(READ, np.array([[0]]), np.zeros((1, 1)), np.array([[0.025]])),
    active_mass=np.array([[0.08]]),
    installed_height=0.040 * ONE,
    mass=MASS * ONE,
    load_uncertainty=0.0 * ONE,
    mass_uncertainty=0.0 * ONE,
    crank_speed=600.0,
    wanted_crank_speed=900.0,
    reserve_limit=10.0,
    surge_limit=5.0,
)


def test_a_harmonic_lobe_floats_where_hand_arithmetic_says() -> None:
    # L'' at the nose is -(lift/2)(pi/rise)^2, the load there 500 + 50e3*0.012 = 1100 N; the crank turns twice
    # for the cam: 2 sqrt(1100/(0.16 * 0.006 * (pi/1.2)^2))
    speed = 2.0 * np.sqrt((SEAT + RATE * LIFT) / (MASS * LIFT / 2.0 * (np.pi / RISE) ** 2))
    sheet = float_sheet(READINGS)
    assert sheet.speed.crank_speed[0] == pytest.approx(speed, rel=1e-6)
    assert sheet.reserve[0] == pytest.approx(100.0 * (speed / 600.0 - 1.0), rel=1e-6)
    assert sheet.mass_allowed[0] == pytest.approx(MASS * (speed / 900.0) ** 2, rel=1e-6)
    assert sheet.reserve_verdict.tolist() == [Verdict.ACCEPT]


def test_the_spring_surges_where_hand_arithmetic_says() -> None:
    # 1/2 sqrt(50e3/0.08) = 395.28 Hz; the cam turns 600/(4 pi) = 47.746 times a second: 8.28 times
    sheet = float_sheet(READINGS)
    assert sheet.surging.frequency[0] == pytest.approx(395.2847, rel=1e-6)
    assert sheet.surge_ratio[0] == pytest.approx(395.2847 / 47.74648, rel=1e-6)
    assert sheet.surge_verdict.tolist() == [Verdict.ACCEPT]
    assert float_sheet(replace(READINGS, surge_limit=13.0)).surge_verdict.tolist() == [Verdict.REJECT]


def test_a_stand_in_lobe_proves_nothing_either_way() -> None:
    for speed in (600.0, 5000.0):
        sheet = float_sheet(replace(READINGS, measured=np.array([False]), crank_speed=speed))
        assert sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED]


def test_a_rating_may_reject_but_never_accepts() -> None:
    rated = SpringCurves(from_rating(np.array([0.040]), np.array([SEAT]), np.array([RATE])))
    readings = replace(READINGS, springs=replace(READINGS.springs, curves=rated))
    assert float_sheet(readings).reserve_verdict.tolist() == [Verdict.NOT_MEASURED]
    assert float_sheet(replace(readings, crank_speed=5000.0)).reserve_verdict.tolist() == [Verdict.REJECT]


def test_readings_far_from_full_lift_never_accept() -> None:
    near = SpringCurves(from_readings(np.array([0, 0]), np.array([0.041, 0.040]), np.array([450.0, 500.0])))
    readings = replace(READINGS, springs=replace(READINGS.springs, curves=near))
    assert float_sheet(readings).reserve_verdict.tolist() == [Verdict.NOT_MEASURED]


@pytest.mark.parametrize(
    "readings",
    [
        replace(READINGS, mass=np.array([np.nan])),
        replace(READINGS, installed_height=np.array([np.nan])),
        replace(READINGS, springs=replace(READINGS.springs, curve=np.array([[UNKNOWN_CURVE]]))),
        # the coils touch 1 mm before full lift
        replace(READINGS, springs=replace(READINGS.springs, coil_bind_height=np.array([[0.029]]))),
    ],
)
def test_what_is_not_known_floats_at_no_speed_and_is_never_good(readings: FloatReadings) -> None:
    sheet = float_sheet(readings)
    assert np.isnan(sheet.speed.crank_speed[0])
    assert sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED]
