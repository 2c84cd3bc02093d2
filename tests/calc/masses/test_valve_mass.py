from __future__ import annotations

import math

import mpmath  # type: ignore[import-untyped]  # ships no types
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.coils.motion import SPRING_SHARE
from headbench.calc.masses.valve_mass import (
    WeighedParts,
    moved_by_springs,
    moving_mass_by_part,
    rocker_mass_from_inertia,
    rocker_mass_from_scale,
    rocker_mass_from_swing,
    rocker_mass_from_weight,
    seen_from_valve,
    spring_share,
)

GRAMS = st.floats(1e-3, 0.3)
PARTS = (
    "valve",
    "retainer",
    "locks",
    "lash_cap",
    "springs",
    "spring_share",
    "retainer_coils",
    "seat_coils",
    "dampers",
    "damper_share",
    "rocker",
    "pushrod",
    "lifter",
    "rocker_ratio",
)


def weighed(**given_parts: float) -> WeighedParts:
    values = dict.fromkeys(PARTS, 0.0) | {"spring_share": SPRING_SHARE, "damper_share": 1.0, "rocker_ratio": 1.0}
    return WeighedParts(**(values | given_parts))


def exact_share(ratio: float) -> mpmath.mpf:
    """The share from the lowest root of x tan x = ratio, bisected with 50 digits."""
    with mpmath.workdps(50):
        low, high = mpmath.mpf(0), mpmath.pi / 2
        for _ in range(200):
            x = (low + high) / 2
            low, high = (x, high) if x * mpmath.tan(x) < ratio else (low, x)
        return 1 / low**2 - 1 / mpmath.mpf(ratio)


@given(
    valve=GRAMS,
    retainer=GRAMS,
    active=GRAMS,
    dead=GRAMS,
    damper=GRAMS,
    tail=GRAMS,
    pushrod=GRAMS,
    lifter=GRAMS,
    ratio=st.floats(1.0, 2.0),
)
def test_the_moving_mass_holds_the_kinetic_energy_of_all_the_parts(
    valve: float,
    retainer: float,
    active: float,
    dead: float,
    damper: float,
    tail: float,
    pushrod: float,
    lifter: float,
    ratio: float,
) -> None:
    # own derivation: every part's energy at a valve speed of 2 m/s, the active coils cut into slices whose speed
    # runs evenly from 0 at the seat to the retainer's, the rocker a point mass on its tail
    speed, arm, slices = 2.0, 0.040, 2000
    inertia = tail * (arm / ratio) ** 2
    along = (np.arange(slices) + 0.5) / slices
    energy = 0.5 * (valve + retainer + dead + damper) * speed**2
    energy += float(np.sum(0.5 * active / slices * (along * speed) ** 2))
    energy += 0.5 * inertia * (speed / arm) ** 2
    energy += 0.5 * (pushrod + lifter) * (speed / ratio) ** 2
    parts = weighed(
        valve=valve,
        retainer=retainer,
        springs=active + 2.0 * dead,
        retainer_coils=dead,
        seat_coils=dead,
        dampers=damper,
        rocker=rocker_mass_from_inertia(inertia, arm),
        pushrod=pushrod,
        lifter=lifter,
        rocker_ratio=ratio,
    )
    mass = moving_mass_by_part(parts)
    assert mass.total == pytest.approx(2.0 * energy / speed**2, rel=1e-6)
    assert mass.lifter_side == pytest.approx(2.0 * energy / (speed / ratio) ** 2, rel=1e-6)


def test_every_part_is_told_and_they_add_up() -> None:
    mass = moving_mass_by_part(
        weighed(valve=0.1, retainer=0.02, locks=0.005, lash_cap=0.003, springs=0.09, dampers=0.012, damper_share=0.5)
    )
    each = [mass.valve, mass.retainer, mass.locks, mass.lash_cap, mass.springs, mass.dampers]
    # by hand: 90/3 g of springs, half of 12 g of dampers
    assert each == pytest.approx([0.1, 0.02, 0.005, 0.003, 0.03, 0.006])
    assert mass.total == pytest.approx(0.164)


def test_the_valve_side_alone_counts_a_third_of_the_springs() -> None:
    # by hand: 104.5 + 19.8 + 5.1 + 1.6 + 90/3 g
    mass = moving_mass_by_part(weighed(valve=0.1045, retainer=0.0198, locks=0.0051, lash_cap=0.0016, springs=0.090))
    assert mass.total == pytest.approx(0.1610)


def test_a_part_not_weighed_leaves_the_sum_unknown() -> None:
    mass = moving_mass_by_part(weighed(valve=0.1, locks=math.nan))
    assert math.isnan(mass.total)
    assert mass.valve == 0.1


@pytest.mark.parametrize("ratio", [1e-9, 1e-4, 0.00999, 0.01001, 0.1, 0.5, 1.0, 3.0, 30.0, 1e4, 1e9])
def test_the_spring_share_is_that_of_the_exact_root(ratio: float) -> None:
    assert spring_share(ratio, 1.0) == pytest.approx(float(exact_share(ratio)), rel=1e-14, abs=0.0)


@pytest.mark.parametrize(
    ("ratio", "percent"),
    # own derivation: Rayleigh's third against the root of x tan x = m_s/m, by hand
    [(0.1, 0.0105), (0.5, 0.2116), (1.0, 0.6616)],
)
def test_a_third_puts_the_frequency_high_by_the_published_percentage(ratio: float, percent: float) -> None:
    share = spring_share(ratio, 1.0)
    error = math.sqrt((1.0 + share * ratio) / (1.0 + ratio / 3.0)) - 1.0
    assert 100.0 * error == pytest.approx(percent, abs=5e-5)


@pytest.mark.parametrize(
    ("ratio", "root"),
    # roots of x tan x = B as printed for one-term coefficients of a plane wall (from memory)
    [(0.1, 0.3111), (0.5, 0.6533), (1.0, 0.8603), (10.0, 1.4289)],
)
def test_the_spring_share_agrees_with_printed_roots(ratio: float, root: float) -> None:
    # four printed digits of x are worth this much in the share
    allowed = 2.0 * 5e-5 / root**3
    assert spring_share(ratio, 1.0) == pytest.approx(1.0 / root**2 - 1.0 / ratio, abs=allowed)


def test_a_chain_of_small_masses_vibrates_as_the_share_says() -> None:
    # own derivation: spring of 0.09 kg and 50 kN/m cut into 200 masses and springs, 0.15 kg at its end
    pieces, rate, spring, end = 200, 50e3, 0.09, 0.15
    mass = np.full(pieces, spring / pieces)
    mass[-1] = spring / pieces / 2.0 + end
    stiffness = rate * pieces * (2.0 * np.eye(pieces) - np.eye(pieces, k=1) - np.eye(pieces, k=-1))
    stiffness[-1, -1] = rate * pieces
    root = 1.0 / np.sqrt(mass)
    lowest = np.linalg.eigvalsh(stiffness * root[:, np.newaxis] * root).min()
    share = spring_share(spring, end)
    assert rate / (end + share * spring) == pytest.approx(lowest, rel=1e-5)


def test_the_spring_share_runs_from_a_third_to_four_over_pi_squared() -> None:
    share = [spring_share(ratio, 1.0) for ratio in (0.0, *np.logspace(-6, 6, 200).tolist(), 1e15)]
    assert share[0] == pytest.approx(1.0 / 3.0, rel=1e-15)
    assert share[-1] == pytest.approx(4.0 / math.pi**2, rel=1e-12)
    assert (np.diff(share) > -1e-15).all()
    assert math.isnan(spring_share(math.nan, 1.0))


def test_a_uniform_arm_that_swings_weighs_a_third_at_its_tip() -> None:
    # own derivation, I by the integral of x^2: a rod of mass m and length x about its end has I = m x^2/3, swings in
    # T = 2 pi sqrt(2 x/(3 g)), and presses half its weight on a scale under its free end
    mass, arm = 0.09, 0.045
    period = 2.0 * math.pi * math.sqrt(2.0 * arm / (3.0 * 9.80665))
    assert rocker_mass_from_swing(mass / 2.0, arm, period) == pytest.approx(mass / 3.0, rel=1e-12)
    assert rocker_mass_from_inertia(mass * arm**2 / 3.0, arm) == pytest.approx(mass / 3.0, rel=1e-12)


@given(st.floats(0.01, 0.5), st.floats(0.5, 3.0))
def test_an_even_bar_is_the_sum_of_its_slices(mass: float, ratio: float) -> None:
    # own derivation: the bar from -arm/ratio to arm cut into slices, each moved by its distance from the pivot
    arm, slices = 0.045, 20_000
    at = -arm / ratio + (np.arange(slices) + 0.5) / slices * (arm + arm / ratio)
    expected = float(np.sum(mass / slices * at**2)) / arm**2
    assert rocker_mass_from_weight(mass, 1.0 / ratio) == pytest.approx(expected, rel=1e-7)


def test_a_finger_pivots_at_its_end() -> None:
    # own derivation: the bar from 0 to arm, integral of m/arm t^2 dt over arm^2 = m/3; hung by its ends half of it is
    # on the tip, and what rests on the pivot stands still
    assert rocker_mass_from_weight(0.09, 0.0) == pytest.approx(0.03, rel=1e-12)
    assert rocker_mass_from_scale(0.045, 0.045, 0.0) == pytest.approx(0.045, rel=1e-12)


def test_metal_beyond_its_contacts_makes_a_hung_rocker_count_too_little() -> None:
    # own derivation: a roller of 20 g at 1.3 times the valve arm; moments about the contacts put more than it weighs on
    # the tip and pull the tail up, and 20 * 1.3^2 is what it counts
    arm, tail = 0.045, -0.030
    on_tip = 0.020 * (1.3 * arm - tail) / (arm - tail)
    found = rocker_mass_from_scale(on_tip, 0.020 - on_tip, -tail / arm)
    assert found < 0.020 * 1.3**2


@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(1e-3, 0.05)), min_size=1, max_size=8), st.floats(1.0, 2.0))
def test_weighing_the_ends_of_a_rocker_that_lies_between_them_never_gives_too_little(
    points: list[tuple[float, float]], ratio: float
) -> None:
    # own derivation: point masses anywhere between tail and tip, moments taken about the ends
    arm = 0.045
    tail = -arm / ratio
    at = np.array([tail + share * (arm - tail) for share, _ in points])
    mass = np.array([grams for _, grams in points])
    on_tip = float(np.sum(mass * (at - tail))) / (arm - tail)
    on_tail = float(np.sum(mass * (arm - at))) / (arm - tail)
    exact = float(np.sum(mass * at**2)) / arm**2
    assert rocker_mass_from_scale(on_tip, on_tail, 1.0 / ratio) >= exact * (1.0 - 1e-12)


def test_weighing_the_ends_is_exact_for_a_rocker_that_is_all_ends() -> None:
    # own derivation: 30 g at the tip, 45 g at the tail of an arm 1.5 times shorter: I = (30 + 45/2.25) g x^2
    assert rocker_mass_from_scale(0.030, 0.045, 1.0 / 1.5) == pytest.approx(0.050, rel=1e-12)


@given(GRAMS, GRAMS, GRAMS, st.floats(1.0, 2.0))
def test_what_the_springs_move_and_their_share_of_themselves_make_the_moving_mass(
    valve: float, springs: float, lifter: float, ratio: float
) -> None:
    # own derivation: the kinetic energy of all that moves rigidly with the valve, half m v^2, the lifter at v/r
    parts = weighed(valve=valve, springs=springs, lifter=lifter, rocker_ratio=ratio)
    rigid = valve + lifter * (1.0 / ratio) ** 2
    assert moved_by_springs(parts) == pytest.approx(rigid, rel=1e-12)
    assert moving_mass_by_part(parts).total == pytest.approx(rigid + SPRING_SHARE * springs, rel=1e-12)
    assert seen_from_valve(lifter, ratio) == pytest.approx(lifter * (1.0 / ratio) ** 2, rel=1e-12)
