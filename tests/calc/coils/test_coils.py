"""Dimensioned springs: closed forms, published examples, an independent count of coils, laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring, dimensioned_spring
from headbench.calc.coils.shapes import CoilProfile, beehive, coil_table, cone, cylinder, stretches
from headbench.calc.coils.wire import EndType, Wire, active_coils, round_wire, uniform_pitch

_INCH, _LBF, _MPSI = 0.0254, 4.4482216152605, 6.894757293168361e9
_G = 80e9
_DENSITY = 7850.0
_WIRE = round_wire(0.004)


def _spring(profile: CoilProfile, wire: Wire = _WIRE, *, telescoping: bool = False) -> DimensionedSpring:
    return dimensioned_spring(profile, wire, "squared", _G, _DENSITY, telescoping=telescoping)


def _of_total_coils(
    diameter: float, total: float, free_height: float, wire_diameter: float, ends: EndType, shear_modulus: float
) -> DimensionedSpring:
    wire, active = round_wire(wire_diameter), active_coils(total, ends)
    profile = cylinder(diameter, active, uniform_pitch(free_height, active, ends, wire))
    return dimensioned_spring(profile, wire, ends, shear_modulus, _DENSITY)


def _counted_deflection(
    radius: FloatArray, gap: FloatArray, turns_each: float, load: float, wire_diameter: float, shear_modulus: float
) -> float:
    """Coil by coil in small bits: each twists by 64 F R^3/(G d^4) per turn or is solid (referee, shares no code)."""
    each = np.minimum(64.0 * load * radius**3 / (shear_modulus * wire_diameter**4), gap)
    return float(each.sum() * turns_each)


def _midpoints(start: float, end: float, count: int = 200_000) -> FloatArray:
    return np.asarray(start + (end - start) * (np.arange(count) + 0.5) / count, dtype=np.float64)


# ------------------------------------------------------------------------------------------- published examples


def test_the_textbook_spring_of_music_wire() -> None:
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Example 10-1 (quoted from memory): d 0.037 in, D 0.400
    # in, 12.5 coils, squared ends, G 11.85 Mpsi: k 4.13 lbf/in, L_s 0.4995 in; free height 2.06 in goes solid at 6.46
    # lbf
    spring = _of_total_coils(0.400 * _INCH, 12.5, 2.06 * _INCH, 0.037 * _INCH, "squared", 11.85 * _MPSI)
    rate = spring.rate_at(np.array([1.5 * _INCH]))[0] / (_LBF / _INCH)
    assert rate == pytest.approx(4.13, abs=0.005)
    assert spring.coil_bind_height / _INCH == pytest.approx(0.4995, abs=5e-5)
    assert spring.load_at_coil_bind / _LBF == pytest.approx(6.46, abs=0.03)


def test_the_textbook_spring_design() -> None:
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Example 10-2 (quoted from memory): d 0.080, D 0.843, N_a
    # 10.1, squared and ground, G 11.75 Mpsi: L_s 0.964, L_0 3.264 in; made for 20 lbf at 2 in and solid at 15 % more
    spring = _of_total_coils(0.843 * _INCH, 12.05, 3.264 * _INCH, 0.080 * _INCH, "squared and ground", 11.75 * _MPSI)
    assert spring.coil_bind_height / _INCH == pytest.approx(0.964, abs=5e-4)
    assert spring.load_at(np.array([1.264 * _INCH]))[0] / _LBF == pytest.approx(20.0, abs=0.05)
    assert spring.load_at_coil_bind / _LBF == pytest.approx(23.0, abs=0.05)


@pytest.mark.parametrize(
    ("diameter", "total", "free", "wire", "ends", "modulus", "rate", "solid", "load_at_coil_bind"),
    [
        # Shigley's MED, 11th ed. (2020), solutions to Problems 10-3, 10-5 and 10-6, in mm, N, MPa or in, lbf,
        # psi
        (28.5, 14.0, 162.8, 2.5, "plain and ground", 81.0e3, 1.314, 35.0, 167.9),
        (2.0, 12.0, 5.0, 0.2, "squared", 11.2e6, 28.0, 2.6, 67.2),
        (40.0, 11.58, 80.0, 4.0, "plain", 77.2e3, 3.333, 50.4, 98.66),
    ],
)
def test_worked_problems_on_every_kind_of_ends(
    diameter: float,
    total: float,
    free: float,
    wire: float,
    ends: EndType,
    modulus: float,
    rate: float,
    solid: float,
    load_at_coil_bind: float,
) -> None:
    spring = _of_total_coils(diameter, total, free, wire, ends, modulus)
    assert spring.rate_at(np.array([0.5 * (free + solid)]))[0] == pytest.approx(rate, rel=1e-3)
    assert spring.coil_bind_height == pytest.approx(solid, rel=2e-3)
    assert spring.load_at_coil_bind == pytest.approx(load_at_coil_bind, rel=3e-3)


# ------------------------------------------------------------------------------------------------- closed forms


def test_a_cylinder_has_the_rate_of_the_formula() -> None:
    # k = G d^4/(8 D^3 N_a): Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-9
    spring = _spring(cylinder(0.030, 5.0, 0.009))
    heights = np.linspace(spring.coil_bind_height, spring.free_height, 9)
    expected = _G * 0.004**4 / (8.0 * 0.030**3 * 5.0)
    assert spring.rate_at(heights) == pytest.approx(np.full(9, expected), rel=1e-12)
    assert spring.load_at(heights) == pytest.approx(expected * (spring.free_height - heights), rel=1e-9, abs=1e-9)
    assert len(spring.coil_closing_height) == 0


@pytest.mark.parametrize(("large", "small"), [(0.032, 0.018), (0.030, 0.0299), (0.020, 0.034)])
def test_a_cone_before_contact_has_the_closed_rate(large: float, small: float) -> None:
    # k = G d^4/(2 n (D1^2 + D2^2)(D1 + D2)): Rodriguez, Paredes and Sartor, J. Mech. Des. 128
    # (2006) 1352-1356 (from memory)
    spring = _spring(cone(large, small, 5.0, 0.009))
    expected = _G * 0.004**4 / (2.0 * 5.0 * (large**2 + small**2) * (large + small))
    heights = spring.free_height - np.array([0.0, 0.25, 0.5, 0.99]) * (
        spring.free_height - spring.coil_closing_height[0]
    )
    assert spring.rate_at(heights) == pytest.approx(np.full(4, expected), rel=1e-9)


def test_the_largest_coil_of_a_cone_closes_first() -> None:
    # F = G d^4 H/(8 D2^3 n) with H the sum of gaps: Rodriguez, Paredes and Sartor, J. Mech. Des. 128
    # (2006) 1352-1356 (from memory)
    spring = _spring(cone(0.020, 0.032, 5.0, 0.009))
    expected = _G * 0.004**4 * (5.0 * 0.005) / (8.0 * 0.032**3 * 5.0)
    assert spring.coil_closing_load.tolist() == pytest.approx([expected], rel=1e-12)
    # all is solid when the smallest coil is: the same formula with its diameter
    assert spring.load_at_coil_bind == pytest.approx(expected * (0.032 / 0.020) ** 3, rel=1e-12)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.9])
@pytest.mark.parametrize("telescoping", [False, True])
def test_a_cone_after_contact_agrees_with_a_count_of_coils(share: float, *, telescoping: bool) -> None:
    first, last, turns, pitch, wire = 0.036, 0.018, 4.0, 0.009, 0.004
    spring = _spring(cone(first, last, turns, pitch), telescoping=telescoping)
    load = float(spring.coil_closing_load[0] + share * (spring.load_at_coil_bind - spring.coil_closing_load[0]))
    step = (first - last) / 2.0 / turns
    gap = pitch - (np.sqrt(wire**2 - step**2) if telescoping else wire)
    radius = _midpoints(first / 2.0, last / 2.0)
    counted = _counted_deflection(radius, np.full_like(radius, gap), turns / len(radius), load, wire, _G)
    assert spring.free_height - spring.height_for(np.array([load]))[0] == pytest.approx(counted, rel=1e-9)


def test_a_cone_after_contact_agrees_with_its_own_integral() -> None:
    # by hand: the part wider than R_c = (G d^4 g/(64 F))^(1/3) is solid, the rest deflects the integral of R^3
    wide, narrow, turns, gap = 0.018, 0.009, 4.0, 0.005
    spring = _spring(cone(2.0 * wide, 2.0 * narrow, turns, 0.009))
    flexibility = _G * 0.004**4 / 64.0
    for load in np.linspace(1.05, 7.0, 7) * float(spring.coil_closing_load[0]):
        critical = (flexibility * gap / load) ** (1.0 / 3.0)
        solid = gap * turns * (wide - critical) / (wide - narrow)
        cubes, _ = quad(lambda radius: radius**3, narrow, critical, epsrel=1e-13)
        expected = solid + load / flexibility * turns / (wide - narrow) * cubes
        assert spring.free_height - spring.height_for(np.array([load]))[0] == pytest.approx(expected, rel=1e-10)


def test_a_fully_telescoping_cone_lies_flat() -> None:
    # a step of 5 mm per turn passes 4 mm wire: the active coils add nothing to the coil-bind height, the ends 3 wires
    spring = _spring(cone(0.050, 0.020, 3.0, 0.009), telescoping=True)
    assert spring.coil_bind_height == pytest.approx(3.0 * 0.004, rel=1e-12)
    assert spring.free_height == pytest.approx(3.0 * 0.004 + 3.0 * 0.009, rel=1e-12)


# ---------------------------------------------------------------------------------- progressive and free shapes


def test_a_progressive_spring_has_its_knee_where_the_close_coils_touch() -> None:
    # by hand: 4 coils with 2 mm gap, 3 with 5 mm, D 30, d 4 mm, G 80 GPa: one coil takes 8 D^3/(G d^4) =
    # 8*27000/(80000*256) = 0.010546875 mm/N; 2 mm are used up at 189.62963 N, after 7 coils gave 14 mm;
    # then 3 coils only: G d^4/(8 D^3 3) = 31.604938 N/mm up to 5 mm each, 474.07407 N
    spring = _spring(stretches([4.0, 3.0], [0.030] * 2, [0.030] * 2, [0.006, 0.009]))
    assert spring.free_height == pytest.approx(0.012 + 0.024 + 0.027, rel=1e-12)
    assert spring.coil_closing_load.tolist() == pytest.approx([189.6296296296], rel=1e-9)
    assert spring.coil_closing_height.tolist() == pytest.approx([0.063 - 0.014], rel=1e-9)
    assert spring.rate_at(np.array([0.055, 0.045])).tolist() == pytest.approx(
        [13544.97354497, 31604.93827160], rel=1e-9
    )
    assert spring.load_at(np.array([0.045]))[0] == pytest.approx(189.6296296296 + 31604.9382716 * 0.004, rel=1e-9)
    assert spring.load_at_coil_bind == pytest.approx(474.074074074, rel=1e-9)


def test_the_rate_at_a_knee_is_the_one_above_it() -> None:
    spring = _spring(stretches([4.0, 3.0], [0.030] * 2, [0.030] * 2, [0.006, 0.009]))
    at = spring.height_for(spring.coil_closing_load)
    assert spring.rate_at(at + 1e-9)[0] == pytest.approx(13544.97354497, rel=1e-9)
    assert spring.rate_at(at - 1e-9)[0] == pytest.approx(31604.93827160, rel=1e-9)


def test_evenly_rising_pitch_stiffens_from_the_first_contact_on() -> None:
    # by hand: gaps from 1 to 4 mm over 6 turns, one coil takes c = 0.010546875 mm/N. First contact at 1/c N; at
    # load F the turns with gap < c F are solid, s = 6 (c F - 1)/3, they used up s (1 + c F)/2, the rest (6 - s) c F
    profile = coil_table(np.array([0.0, 6.0]), np.array([0.030, 0.030]), np.array([0.005, 0.008]))
    spring = _spring(profile)
    coil = 0.010546875e-3
    assert spring.coil_closing_load.tolist() == pytest.approx([1e-3 / coil], rel=1e-9)
    for used in (1.5e-3, 2.7e-3, 3.9e-3):
        solid = 6.0 * (used - 1e-3) / 3e-3
        expected = solid * (1e-3 + used) / 2.0 + (6.0 - solid) * used
        height = spring.free_height - expected
        assert spring.load_at(np.array([height]))[0] == pytest.approx(used / coil, rel=1e-9)
        assert spring.rate_at(np.array([height]))[0] == pytest.approx(1.0 / ((6.0 - solid) * coil), rel=1e-9)


def test_a_beehive_closes_its_cylinder_then_its_cone() -> None:
    spring = _spring(beehive(0.030, 0.020, 3.0, 2.5, 0.008))
    # one gap everywhere: the cylinder and the wide end of the cone touch at the same load, 8 D^3/(G d^4) F = gap
    assert spring.coil_closing_load.tolist() == pytest.approx([0.004 / 0.010546875e-3], rel=1e-9)
    for load in (300.0, 500.0, 1000.0):
        radius = np.concatenate([_midpoints(0.015, 0.015, 6), _midpoints(0.015, 0.010)])
        turns = np.concatenate([np.full(6, 0.5), np.full(200_000, 2.5 / 200_000)])
        each = np.minimum(64.0 * load * radius**3 / (_G * 0.004**4), 0.004) * turns
        assert spring.free_height - spring.height_for(np.array([load]))[0] == pytest.approx(each.sum(), rel=1e-9)


_TABLE = coil_table(
    np.array([0.0, 1.0, 2.5, 4.0, 6.0]),
    np.array([0.026, 0.030, 0.031, 0.027, 0.020]),
    np.array([0.0055, 0.0082, 0.0088, 0.0079, 0.0071]),
)


@pytest.mark.parametrize("load", [40.0, 90.0, 200.0, 350.0, 600.0])
def test_a_free_profile_agrees_with_a_count_of_coils(load: float) -> None:
    counted = 0.0
    for place in range(4):
        radius = _midpoints(_TABLE.radius[place], _TABLE.radius[place + 1])
        gap = _midpoints(_TABLE.pitch[place], _TABLE.pitch[place + 1]) - 0.004
        turns = float(_TABLE.turn[place + 1] - _TABLE.turn[place]) / len(radius)
        counted += _counted_deflection(radius, gap, turns, load, 0.004, _G)
    spring = _spring(_TABLE)
    assert load < spring.load_at_coil_bind
    assert spring.free_height - spring.height_for(np.array([load]))[0] == pytest.approx(counted, rel=1e-9)


def test_close_wound_coils_take_no_part() -> None:
    idle = stretches([2.0, 5.0], [0.030] * 2, [0.030] * 2, [0.004, 0.009])
    spring, without = _spring(idle), _spring(cylinder(0.030, 5.0, 0.009))
    assert spring.load_at_coil_bind == pytest.approx(without.load_at_coil_bind, rel=1e-12)
    assert spring.rate_at(np.array([spring.free_height]))[0] == pytest.approx(
        without.rate_at(np.array([without.free_height]))[0], rel=1e-12
    )
    assert spring.free_height == pytest.approx(without.free_height + 2.0 * 0.004, rel=1e-12)
    assert len(spring.coil_closing_load) == 0


def test_ovate_wire_of_equal_sizes_is_round_and_a_flatter_one_stands_lower() -> None:
    profile = cylinder(0.030, 5.0, 0.009)
    assert _spring(profile, Wire(0.004, 0.004)).load_at_coil_bind == _spring(profile).load_at_coil_bind
    # by hand for w 5, h 4 mm: J = pi (2.5*2)^3/(2.5^2 + 2^2) mm4 = 38.3117, k = G J/(2 pi R^3 N)
    flat = _spring(profile, Wire(0.005, 0.004))
    constant = np.pi * 125.0 / 10.25 * 1e-12
    assert flat.rate_at(np.array([0.050]))[0] == pytest.approx(_G * constant / (2.0 * np.pi * 0.015**3 * 5.0), rel=1e-9)
    assert flat.coil_bind_height == pytest.approx(8.0 * 0.004, rel=1e-12)


# --------------------------------------------------------------------------------------------------------- mass


def test_the_active_mass_is_that_of_the_textbook() -> None:
    # Shigley's MED, 9th ed. (2011), Example 10-4 (quoted from memory): d 0.092, D 0.4705 in, 21 active coils, 0.284
    # lbf/in3: 0.0586 lbf
    wire = round_wire(0.092 * _INCH)
    density = 0.284 * 0.45359237 / _INCH**3
    profile = cylinder(0.4705 * _INCH, 21.0, 0.19 * _INCH)
    spring = dimensioned_spring(profile, wire, "squared and ground", 11.75 * _MPSI, density)
    assert spring.active_mass / 0.45359237 == pytest.approx(0.0586, abs=5e-5)


def test_dead_coils_weigh_with_the_diameter_of_their_end() -> None:
    # one dead coil at each end, pi D long; by hand 7850*pi/4*0.004^2*pi*D
    spring = _spring(beehive(0.030, 0.020, 3.0, 2.5, 0.008))
    coil = 7850.0 * np.pi / 4.0 * 0.004**2 * np.pi
    assert spring.end_mass.tolist() == pytest.approx([coil * 0.030, coil * 0.020], rel=1e-12)
    assert spring.active_mass == pytest.approx(coil * (3.0 * 0.030 + 2.5 * 0.025), rel=1e-12)
    assert spring.total_mass == pytest.approx(coil * (4.0 * 0.030 + 2.5 * 0.025 + 0.020), rel=1e-12)


# -------------------------------------------------------------------------------------------------------- edges


def test_no_load_above_free_and_no_number_below_solid() -> None:
    spring = _spring(beehive(0.030, 0.020, 3.0, 2.5, 0.008))
    heights = np.array(
        [spring.free_height + 1e-6, spring.free_height, spring.coil_bind_height, spring.coil_bind_height - 1e-6]
    )
    load, rate = spring.load_at(heights), spring.rate_at(heights)
    assert load[:3].tolist() == pytest.approx([0.0, 0.0, spring.load_at_coil_bind], rel=1e-12)
    assert np.isnan(load[3])
    assert rate[0] == 0.0
    assert rate[1] > 0.0
    # its last coil closes bit by bit: there is no last rate
    assert np.isnan(rate[2:]).all()


def test_a_height_a_rounding_off_solid_is_solid() -> None:
    spring = _spring(cone(0.030, 0.020, 5.0, 0.009))
    heights = spring.coil_bind_height * (1.0 + np.array([-1e-15, 0.0, 1e-15]))
    assert spring.load_at(heights).tolist() == [spring.load_at_coil_bind] * 3
    assert np.isnan(spring.rate_at(heights)).all()


def test_a_gap_that_opens_from_nothing_makes_no_knee_at_no_load() -> None:
    opening = coil_table(np.array([0.0, 5.0]), np.array([0.030, 0.030]), np.array([0.004, 0.009]))
    spring = _spring(opening)
    assert len(spring.coil_closing_load) == 0
    # by hand: a gap rising from 0 by 1 mm per turn; when c F of it is used up, (5 - s/2) s mm are gone, s = c F mm/turn
    assert spring.load_at(np.array([spring.free_height - 4.5e-3 * 1.0]))[0] == pytest.approx(1e-3 / 0.010546875e-3)


def test_coils_that_close_together_by_a_rounding_are_one_knee() -> None:
    # 2 mm gap on D 30 closes with 2*(40/30)^3 mm on D 40, up to the last digit
    profile = stretches([2.0, 3.0, 2.0], [0.030, 0.040, 0.030], [0.030, 0.040, 0.030], [0.006, 0.0, 0.009])
    profile.pitch[2:4] = 0.004 + 0.002 * (0.040 / 0.030) ** 3
    spring = _spring(profile)
    assert len(spring.coil_closing_load) == 1
    assert spring.knot_straight.all()


def test_a_cylinder_keeps_its_rate_down_to_solid() -> None:
    spring = _spring(cylinder(0.030, 5.0, 0.009))
    rate = spring.rate_at(np.array([spring.coil_bind_height, 0.5 * (spring.coil_bind_height + spring.free_height)]))
    assert rate[0] == pytest.approx(rate[1], rel=1e-12)


def test_loads_no_height_gives_have_none() -> None:
    spring = _spring(cone(0.030, 0.020, 5.0, 0.009))
    wanted = np.array([-1.0, 0.0, spring.load_at_coil_bind, spring.load_at_coil_bind * 1.001, np.nan])
    height = spring.height_for(wanted)
    assert height[1:3].tolist() == pytest.approx([spring.free_height, spring.coil_bind_height], rel=1e-12)
    assert np.isnan(height[[0, 3, 4]]).all()


def test_an_unknown_height_has_no_load() -> None:
    spring = _spring(cone(0.030, 0.020, 5.0, 0.009))
    heights = np.array([np.nan, 0.050])
    assert np.isnan(spring.load_at(heights)).tolist() == [True, False]
    assert np.isnan(spring.rate_at(heights)).tolist() == [True, False]


@pytest.mark.parametrize("unknown", ["diameter", "coils", "pitch", "wire", "modulus"])
def test_an_unknown_dimension_gives_no_load(unknown: str) -> None:
    known = {"diameter": 0.030, "coils": 5.0, "pitch": 0.009, "wire": 0.004, "modulus": _G} | {unknown: float("nan")}
    profile = cylinder(known["diameter"], known["coils"], known["pitch"])
    spring = dimensioned_spring(profile, round_wire(known["wire"]), "squared", known["modulus"], _DENSITY)
    heights = np.array([0.040, 0.050, 0.070])
    # how far the last gap lets a cylinder twist does not depend on how many coils there are
    assert np.isnan(spring.load_at_coil_bind) == (unknown != "coils")
    assert not (spring.load_at(heights[:2]) >= 0.0).any()
    assert not (spring.rate_at(heights[:2]) >= 0.0).any()
    assert np.isnan(spring.height_for(np.array([100.0]))).all()


def test_coils_that_overlap_make_no_spring() -> None:
    spring = _spring(stretches([2.0, 5.0], [0.030] * 2, [0.030] * 2, [0.003, 0.009]))
    assert np.isnan([spring.free_height, spring.coil_bind_height, spring.load_at_coil_bind]).all()
    assert np.isnan(spring.load_at(np.array([0.040]))).all()


def test_a_spring_wound_solid_has_nothing_to_give() -> None:
    spring = _spring(cylinder(0.030, 5.0, 0.004))
    assert spring.free_height == spring.coil_bind_height
    heights = spring.free_height + np.array([1e-4, 0.0, -1e-4])
    assert spring.load_at(heights)[:2].tolist() == [0.0, 0.0]
    assert np.isnan(spring.load_at(heights)[2])
