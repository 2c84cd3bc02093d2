"""Floats: lobes, springs and masses together, without a request, on valves worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from headbench.calc.coils.motion import SPRING_SHARE
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.masses.valve_mass import WeighedParts
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.side_by_side import side_by_side
from headbench.calc.springs.spring_set import SpringSet, of_load_alone
from headbench.calc.train.lobes import StandIn, lobe_from_stand_in
from headbench.calc.train.valvetrain import LiftPath
from headbench.calc.valve_float.floats import FloatSetting, FloatValves, find_floats

LIFT, WIDTH = 0.012, 1.2
ONE, NONE, YES = np.ones(2), np.zeros(2), np.ones(2, dtype=np.bool_)
LOBE = lobe_from_stand_in(
    StandIn("harmonic", WIDTH, WIDTH), LiftPath(math.nan, LIFT / 1.5, np.array([1.5]), np.zeros(1), 0.0)
)
# 500 N at 40 mm, 1250 N at 25 mm: 50 N/mm
SPRING = of_load_alone(curve_through([0.040, 0.025], [500.0, 1250.0]))._replace(
    coil_bind_height=0.024, mass=0.075, retainer_coils=0.0, seat_coils=0.0
)
# by hand: 95 + 20 + 5 g, a third of 75 g, 6 g of rocker and (9 + 11.25)/2.25 = 9 g beyond it: 160 g
PARTS = WeighedParts(
    valve=0.095, retainer=0.020, locks=0.005, lash_cap=0.0, springs=0.075, spring_share=SPRING_SHARE,
    retainer_coils=0.0, seat_coils=0.0, dampers=0.0, damper_share=SPRING_SHARE, rocker=0.006, pushrod=0.009,
    lifter=0.01125, rocker_ratio=1.5,
)  # fmt: skip

VALVES = FloatValves(
    lobes=[LOBE, None],
    lobe=np.array([0, 0]),
    own_lift=np.array([math.nan, 0.9 * LIFT]),
    valve_lift=np.array([LIFT, 0.9 * LIFT]),
    installed_height=0.040 * ONE,
    trusted=YES,
    springs=side_by_side([SpringSet((SPRING,), 0.0)] * 2),
    parts=[PARTS, PARTS],
    ratio_known=np.array([True, False]),
    all_weighed=YES,
    mass_uncertainty=NONE,
)
SETTING = FloatSetting(700.0, 900.0, 10.0 * ONE, YES, misses_reject=False, surge_limit=5.0 * ONE)
MASS = 0.160
# by hand, as in test_sheet.py: the harmonic nose is slowed down by lift/2 (pi/WIDTH)^2, the load there is
# 500 + 50 lift
SPEEDS = [
    2.0 * math.sqrt((500.0 + 50e3 * lift) / (MASS * lift / 2.0 * (math.pi / WIDTH) ** 2)) for lift in (LIFT, 0.9 * LIFT)
]


def test_two_valves_of_one_lobe_float_as_worked_on_paper_each_with_its_own_lift() -> None:
    floats = find_floats(VALVES, SETTING)
    assert [mass.total for mass in floats.mass] == pytest.approx([MASS, MASS])
    assert floats.sheet.speed.crank_speed == pytest.approx(SPEEDS, rel=1e-9)
    assert floats.sheet.reserve == pytest.approx([100.0 * (speed / 700.0 - 1.0) for speed in SPEEDS])
    # a stand-in proves nothing
    assert floats.sheet.reserve_verdict.tolist() == [Verdict.NOT_MEASURED] * 2


def test_a_gram_counts_by_where_it_comes_off() -> None:
    per_gram = find_floats(VALVES, SETTING).per_gram
    gained = [speed * (math.sqrt(160.0 / 159.0) - 1.0) for speed in SPEEDS]
    assert per_gram.valve == pytest.approx(gained, rel=1e-9)
    assert per_gram.springs == pytest.approx([one / 3.0 for one in gained], rel=1e-9)
    # one over the ratio squared, where the ratio is known
    assert per_gram.lifter == pytest.approx([gained[0] / 2.25, math.nan], rel=1e-9, nan_ok=True)


def test_the_harmonics_beside_the_surge_frequency_are_those_of_the_lift() -> None:
    # referee: scipy.integrate.quad on lift/2 (1 + cos(pi angle/WIDTH)), which is even about its peak;
    # 1/2 sqrt(50e3/0.075) = 408.25 Hz against 700/(4 pi) = 55.70 Hz of the cam is 7.33
    told = find_floats(VALVES, SETTING).harmonics
    for lift, harmonics in zip((LIFT, 0.9 * LIFT), told, strict=True):
        assert [one.order for one in harmonics] == [6, 7, 8]
        for one in harmonics:
            wave = quad(
                lambda at, n=one.order, top=lift: top / 2.0 * (1.0 + math.cos(math.pi * at / WIDTH)) * math.cos(n * at),
                -WIDTH,
                WIDTH,
            )[0]
            assert one.amplitude == pytest.approx(abs(wave) / math.pi, rel=1e-4, abs=1e-9)
            assert one.crank_speed == pytest.approx(4.0 * math.pi * 408.2483 / one.order, rel=1e-6)


def test_a_trace_runs_over_the_lobe_and_adds_up() -> None:
    traces = find_floats(VALVES, replace(SETTING, trace_points=5)).traces
    assert find_floats(VALVES, SETTING).traces == [None, None]
    for lift, trace in zip((LIFT, 0.9 * LIFT), traces, strict=True):
        assert trace is not None
        assert trace.angle == pytest.approx([-WIDTH, -WIDTH / 2.0, 0.0, WIDTH / 2.0, WIDTH])
        assert trace.lift == pytest.approx([0.0, lift / 2.0, lift, lift / 2.0, 0.0], abs=1e-6)
        assert trace.load == pytest.approx(500.0 + 50e3 * trace.lift)
        assert trace.inertia[2] == pytest.approx(-MASS * lift / 2.0 * (math.pi / WIDTH) ** 2 * 350.0**2)
        assert trace.contact == pytest.approx(trace.load + trace.inertia)


def test_a_valve_whose_lobe_nobody_knows_still_has_its_springs_surge() -> None:
    floats = find_floats(replace(VALVES, lobe=np.array([0, 1])), replace(SETTING, trace_points=5))
    assert math.isnan(floats.sheet.speed.crank_speed[1])
    assert (floats.harmonics[1], floats.traces[1]) == ([], None)
    assert floats.sheet.surge_ratio == pytest.approx([7.329, 7.329], abs=1e-3)


def test_uncertainties_of_weighing_and_of_the_job_add_in_squares() -> None:
    # JCGM 100:2008, 5.1.2: half of the mass's own share, where the load's and the motion's are 0
    weighed = replace(VALVES, mass_uncertainty=0.0003 * ONE)
    found = find_floats(weighed, replace(SETTING, mass_uncertainty=0.0004)).sheet.speed
    assert found.crank_speed_uncertainty == pytest.approx([speed / 2.0 * 0.0005 / MASS for speed in SPEEDS])
