"""Laws every dimensioned spring keeps, whatever its shape."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.coils.coils import DimensionedSpring, dimensioned_spring
from headbench.calc.coils.shapes import CoilProfile, beehive, coil_table, cone, cylinder
from headbench.calc.coils.wire import Wire, round_wire

_G = 80e9
_DENSITY = 7850.0
_WIRE = round_wire(0.004)


def _spring(profile: CoilProfile, wire: Wire = _WIRE, *, telescoping: bool = False) -> DimensionedSpring:
    return dimensioned_spring(profile, wire, "squared", _G, _DENSITY, telescoping=telescoping)


@st.composite
def _profiles(draw: st.DrawFn) -> CoilProfile:
    count = draw(st.integers(2, 6))
    lengths = draw(st.lists(st.sampled_from([0.0, 0.4, 1.0, 2.5]), min_size=count - 1, max_size=count - 1))
    if sum(lengths) == 0.0:
        lengths[0] = 2.0
    radius = draw(st.lists(st.sampled_from([0.009, 0.012, 0.0125, 0.015]), min_size=count, max_size=count))
    gap = draw(st.lists(st.floats(2e-4, 5e-3), min_size=count, max_size=count))
    alike = draw(st.booleans())
    pitch = np.full(count, 0.004 + gap[0]) if alike else 0.004 + np.array(gap)
    return CoilProfile(np.concatenate([[0.0], np.cumsum(lengths)]), np.array(radius), pitch)


@settings(max_examples=80, deadline=None)
@given(profile=_profiles(), telescoping=st.booleans())
def test_load_rises_strictly_as_the_spring_is_compressed(profile: CoilProfile, *, telescoping: bool) -> None:
    spring = _spring(profile, telescoping=telescoping)
    heights = np.linspace(spring.free_height, spring.coil_bind_height, 60)
    assert (np.diff(spring.load_at(heights)) > 0.0).all()
    assert (spring.rate_at(heights[:-1]) > 0.0).all()


@settings(max_examples=80, deadline=None)
@given(profile=_profiles(), telescoping=st.booleans(), share=st.floats(0.0, 1.0))
def test_height_and_load_are_each_others_inverse(profile: CoilProfile, share: float, *, telescoping: bool) -> None:
    spring = _spring(profile, telescoping=telescoping)
    height = spring.coil_bind_height + share * (spring.free_height - spring.coil_bind_height)
    load = spring.load_at(np.array([height]))
    assert spring.height_for(load)[0] == pytest.approx(height, rel=1e-9)
    wanted = np.array([share * spring.load_at_coil_bind])
    # next to solid a load moves the height by less than a rounding
    if share < 1.0 - 1e-6:
        assert spring.load_at(spring.height_for(wanted))[0] == pytest.approx(wanted[0], rel=1e-9, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(profile=_profiles(), share=st.floats(0.02, 0.97))
def test_the_rate_is_the_slope_of_the_load(profile: CoilProfile, share: float) -> None:
    spring = _spring(profile)
    travel = spring.free_height - spring.coil_bind_height
    height, step = spring.coil_bind_height + share * travel, 1e-6 * travel
    if (np.abs(spring.free_height - spring.knot_deflection - height) > 10.0 * step).all():
        below, above = spring.load_at(np.array([height - step, height + step]))
        assert spring.rate_at(np.array([height]))[0] == pytest.approx((below - above) / (2.0 * step), rel=1e-4)


@settings(max_examples=60, deadline=None)
@given(profile=_profiles(), telescoping=st.booleans(), share=st.floats(0.0, 1.0))
def test_a_spring_turned_upside_down_pushes_the_same(profile: CoilProfile, share: float, *, telescoping: bool) -> None:
    turned = CoilProfile(profile.turn[-1] - profile.turn[::-1], profile.radius[::-1], profile.pitch[::-1])
    one, other = _spring(profile, telescoping=telescoping), _spring(turned, telescoping=telescoping)
    load = np.array([share * one.load_at_coil_bind])
    assert other.height_for(load * (1.0 - 1e-12))[0] == pytest.approx(one.height_for(load)[0], rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(profile=_profiles(), length=st.floats(0.1, 30.0), stress=st.floats(0.1, 30.0), share=st.floats(0.0, 0.999))
def test_a_spring_grown_in_size_and_stiffness_scales(
    profile: CoilProfile, length: float, stress: float, share: float
) -> None:
    grown = CoilProfile(profile.turn, profile.radius * length, profile.pitch * length)
    one = _spring(profile)
    other = dimensioned_spring(grown, round_wire(0.004 * length), "squared", _G * stress, _DENSITY)
    height = np.array([one.free_height + share * (one.coil_bind_height - one.free_height)])
    assert other.load_at(height * length)[0] == pytest.approx(
        one.load_at(height)[0] * stress * length**2, rel=1e-8, abs=1e-9 * one.load_at_coil_bind * stress * length**2
    )
    assert other.active_mass == pytest.approx(one.active_mass * length**3, rel=1e-9)


@pytest.mark.parametrize("profile", [cylinder(0.032, 5.0, 0.02), cone(0.032, 0.024, 5.0, 0.02)])
def test_wire_twice_as_thick_is_sixteen_times_as_stiff(profile: CoilProfile) -> None:
    thin, thick = (_spring(profile, round_wire(diameter)) for diameter in (0.003, 0.006))
    rates = [spring.rate_at(np.array([spring.free_height - 1e-4]))[0] for spring in (thin, thick)]
    assert rates[1] == pytest.approx(16.0 * rates[0], rel=1e-12)


def test_a_cone_with_equal_ends_is_a_cylinder() -> None:
    flat, straight = _spring(cone(0.030, 0.030, 5.0, 0.009)), _spring(cylinder(0.030, 5.0, 0.009))
    heights = np.linspace(flat.coil_bind_height, flat.free_height, 11)
    assert flat.load_at(heights).tolist() == straight.load_at(heights).tolist()


def test_a_vanishing_taper_goes_over_into_a_cylinder() -> None:
    straight = _spring(cylinder(0.030, 5.0, 0.009))
    heights = np.linspace(straight.coil_bind_height, straight.free_height, 11)
    for taper in (1e-6, 1e-9, 1e-12, 1e-15):
        almost = _spring(cone(0.030, 0.030 * (1.0 - taper), 5.0, 0.009))
        assert almost.load_at(heights) == pytest.approx(straight.load_at(heights), rel=4.0 * taper + 1e-9, abs=1e-9)


def test_cutting_a_stretch_in_two_changes_nothing() -> None:
    whole = coil_table(np.array([0.0, 5.0]), np.array([0.030, 0.020]), np.array([0.006, 0.009]))
    parts = coil_table(np.array([0.0, 2.0, 5.0]), np.array([0.030, 0.026, 0.020]), np.array([0.006, 0.0072, 0.009]))
    one, two = _spring(whole), _spring(parts)
    heights = np.linspace(one.coil_bind_height + 1e-5, one.free_height, 21)
    assert two.load_at(heights) == pytest.approx(one.load_at(heights), rel=1e-9, abs=1e-9)
    assert two.coil_closing_load == pytest.approx(one.coil_closing_load, rel=1e-12)


def test_knees_are_where_the_rate_jumps_or_begins_to_grow() -> None:
    spring = _spring(beehive(0.030, 0.020, 3.0, 2.5, 0.008), telescoping=True)
    # the cone nests, so its gap is larger and its wide end touches after the cylinder
    assert len(spring.coil_closing_height) == 2
    fine = np.linspace(spring.free_height - 1e-7, spring.coil_bind_height + 1e-4, 20_001)
    rates = spring.rate_at(fine)
    steady = np.abs(np.diff(rates)) <= 1e-9 * rates[1:]
    assert (np.diff(spring.coil_closing_height) < 0.0).all()
    first, second = spring.coil_closing_height.tolist()
    assert steady[fine[1:] > first].all()
    assert steady[(fine[:-1] < first) & (fine[1:] > second)].all()
    assert not steady[fine[:-1] < second].any()


# ------------------------------------------------------------------------------------------------------ torsion


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8, 1.0])
def test_torsion_is_greatest_at_one_of_the_places_named(share: float) -> None:
    spring = _spring(beehive(0.030, 0.018, 3.0, 2.5, 0.008))
    height = np.array([spring.free_height + share * (spring.coil_bind_height - spring.free_height)])
    radius, load = spring.torsion_at(height)
    # every piece of wire bears the spring's load, or that at which it closed: G d^4 gap/(64 R^3)
    along = np.concatenate([np.full(4, 0.015), np.linspace(0.015, 0.009, 100_001)])
    carried = np.minimum(spring.load_at(height)[0], _G * 0.004**4 * 0.004 / (64.0 * along**3))
    sampled = (along * carried).max()
    assert sampled * (1.0 - 1e-12) <= (radius * load).max() <= sampled * (1.0 + 1e-5)
