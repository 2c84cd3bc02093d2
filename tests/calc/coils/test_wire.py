"""Wire sections and spring ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from headbench.calc.coils.wire import (
    EndType,
    Wire,
    active_coils,
    coil_stiffness,
    contact_height,
    dead_coils,
    end_height,
    round_wire,
    torsion_constant,
    uniform_pitch,
)

_SIZE = st.floats(1e-3, 8e-3)


# Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-1, with d 2 mm and N_t 10
@pytest.mark.parametrize(
    ("ends", "active", "coil_bind_height"),
    [
        ("plain", 10.0, 0.022),
        ("plain and ground", 9.0, 0.020),
        ("squared", 8.0, 0.022),
        ("squared and ground", 8.0, 0.020),
    ],
)
def test_ends_leave_the_active_coils_and_the_solid_height_of_the_table(
    ends: EndType, active: float, coil_bind_height: float
) -> None:
    wire = round_wire(0.002)
    assert active_coils(10.0, ends) == active
    assert active * wire.axial + end_height(ends, wire) == pytest.approx(coil_bind_height, rel=1e-12)
    assert dead_coils(ends) == 10.0 - active


# Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-1: pitch (L_0 - d)/N_a,
# (L_0 - 3d)/N_a, (L_0 - 2d)/N_a
@pytest.mark.parametrize(
    ("ends", "active", "pitch"),
    [("plain", 10.0, 4.8e-3), ("squared", 8.0, 5.5e-3), ("squared and ground", 8.0, 5.75e-3)],
)
def test_pitch_follows_from_the_free_height_as_in_the_table(ends: EndType, active: float, pitch: float) -> None:
    assert uniform_pitch(0.050, active, ends, round_wire(0.002)) == pytest.approx(pitch, rel=1e-12)


@given(diameter=_SIZE)
def test_round_wire_has_the_polar_moment_of_a_circle(diameter: float) -> None:
    # pi d^4/32, own derivation: the integral of r^2 over a disc
    assert torsion_constant(round_wire(diameter)) == pytest.approx(np.pi * diameter**4 / 32.0, rel=1e-12)


@pytest.mark.parametrize(("radial", "axial"), [(2.0, 1.0), (1.0, 1.7), (1.3, 1.2)])
def test_torsion_constant_of_an_ellipse_is_twice_the_volume_under_its_membrane(radial: float, axial: float) -> None:
    # Prandtl: J is 2 times the volume under a membrane u with laplacian -2 and u = 0 on the rim; scipy integrates
    a, b = radial / 2.0, axial / 2.0
    top = 1.0 / (1.0 / a**2 + 1.0 / b**2)
    volume, _ = dblquad(
        lambda y, x: top * (1.0 - (x / a) ** 2 - (y / b) ** 2),
        -a,
        a,
        lambda x: -b * np.sqrt(1.0 - (x / a) ** 2),
        lambda x: b * np.sqrt(1.0 - (x / a) ** 2),
    )
    assert torsion_constant(Wire(radial, axial)) == pytest.approx(2.0 * volume, rel=1e-7)


def test_a_turn_deflects_as_the_textbook_says() -> None:
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-8: y = 8 F D^3 N/(d^4 G), here with N = 1, D = 2 R
    load, radius, diameter, shear_modulus = 300.0, 0.014, 0.0042, 79e9
    expected = 8.0 * load * (2.0 * radius) ** 3 / (diameter**4 * shear_modulus)
    assert load * radius**3 / coil_stiffness(round_wire(diameter), shear_modulus) == pytest.approx(expected, rel=1e-12)


@given(radial=_SIZE, axial=_SIZE, share=st.floats(0.01, 0.98))
def test_coils_touch_where_their_outlines_do(radial: float, axial: float, share: float) -> None:
    # outlines drawn as points: the second, moved by (dR, c), must just clear the first one
    step = share * radial
    height = float(contact_height(Wire(radial, axial), np.array([step]))[0])
    angle = np.linspace(0.0, 2.0 * np.pi, 40_001)
    outline = np.stack([radial / 2.0 * np.cos(angle), axial / 2.0 * np.sin(angle)])
    moved = outline + np.array([[step], [height]])
    depth = (moved[0] / (radial / 2.0)) ** 2 + (moved[1] / (axial / 2.0)) ** 2
    assert depth.min() == pytest.approx(1.0, abs=1e-6)


@given(diameter=_SIZE, share=st.floats(1.0, 5.0))
def test_coils_pass_each_other_once_the_step_exceeds_the_wire(diameter: float, share: float) -> None:
    assert contact_height(round_wire(diameter), np.array([-share * diameter, share * diameter])).tolist() == [0.0, 0.0]


def test_an_unknown_wire_has_no_stiffness() -> None:
    assert np.isnan(coil_stiffness(round_wire(float("nan")), 80e9))
