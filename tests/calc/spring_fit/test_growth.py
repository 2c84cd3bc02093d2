from __future__ import annotations

import math
from typing import Any

import pytest
import scipy
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.spring_fit.growth import growth_ends_free, growth_ends_held

# mean diameter, pitch and wire of valve springs [mm]
coils = st.tuples(st.floats(18.0, 36.0), st.floats(1.2, 2.4), st.floats(2.5, 5.5)).map(
    lambda one: (one[0], one[1] * one[2], one[2])
)


# printed formulas, from memory: A. M. Wahl, Mechanical Springs, and EN 13906-1; they are of first order and round
# 1/(2 pi^2) = 0.0507 to 0.05 and 1/pi^2 = 0.1013 to 0.10
@given(coil=coils)
def test_both_are_near_the_printed_formulas(coil: tuple[float, float, float]) -> None:
    mean, pitch, wire = coil
    held = 0.05 * (pitch**2 - wire**2) / mean
    free = 0.10 * (pitch**2 - 0.8 * pitch * wire - 0.2 * wire**2) / mean
    assert growth_ends_held(mean, pitch, wire) == pytest.approx(held, rel=0.03)
    assert growth_ends_free(mean, pitch, wire) == pytest.approx(free, rel=0.08)


# hand arithmetic: 30 mm, 9 mm, 4.5 mm: sqrt(900 + (81 - 20.25)/pi^2) - 30, and pi^2 is 9.869604401
def test_with_ends_held_a_turn_stays_as_long_as_it_was() -> None:
    assert growth_ends_held(30.0, 9.0, 4.5) == pytest.approx(0.10241289, abs=1e-7)


@given(coil=coils)
def test_with_ends_held_the_wire_of_a_turn_measured_along_it_is_kept(coil: tuple[float, float, float]) -> None:
    mean, pitch, wire = coil

    def along(diameter: float, rise: float) -> float:
        """A turn of the helix, its length summed."""
        length, _ = scipy.integrate.quad(lambda _: math.hypot(0.5 * diameter, rise / (2 * math.pi)), 0.0, 2 * math.pi)
        return float(length)

    closed = scipy.optimize.brentq(lambda at: along(at, wire) - along(mean, pitch), mean, 1.2 * mean, xtol=1e-12)
    assert growth_ends_held(mean, pitch, wire) == pytest.approx(closed - mean, rel=1e-6, abs=1e-9)


@given(coil=coils)
@settings(max_examples=20)
def test_with_ends_free_the_wire_takes_the_diameter_of_least_energy(coil: tuple[float, float, float]) -> None:
    mean, pitch, wire = coil

    def shape(diameter: float, angle: float) -> tuple[float, float]:
        """Curvature and torsion of a helix."""
        return 2.0 * math.cos(angle) ** 2 / diameter, 2.0 * math.sin(angle) * math.cos(angle) / diameter

    bent, twisted = shape(mean, math.atan2(pitch, math.pi * mean))

    def settles_at(angle: float) -> float:
        """Diameter of least energy while the height is held, which is the wire's length times the sine of its angle."""

        def energy(log_ratio: Any) -> float:
            # round steel wire, Poisson's ratio 0.3: torsional over bending stiffness 2 G/E = 1/1.3
            curvature, torsion = shape(mean * math.exp(float(log_ratio)), angle)
            return 1e6 * (((curvature - bent) / bent) ** 2 + ((torsion - twisted) / bent) ** 2 / 1.3)

        found = scipy.optimize.minimize_scalar(energy, bounds=(-0.02, 0.05), method="bounded", options={"xatol": 1e-9})
        return mean * math.exp(float(found.x))

    def open_by(angle: float) -> float:
        return math.pi * settles_at(angle) * math.tan(angle) - wire

    closed = float(scipy.optimize.brentq(open_by, 0.0, math.atan2(pitch, math.pi * mean), xtol=1e-9))
    assert growth_ends_free(mean, pitch, wire) == pytest.approx(settles_at(closed) - mean, rel=1e-3)


@given(coil=coils, more=st.floats(0.0, 0.3))
def test_a_wider_pitch_grows_more_and_free_ends_grow_more_than_held_ones(
    coil: tuple[float, float, float], more: float
) -> None:
    mean, pitch, wire = coil
    assert growth_ends_held(mean, pitch * (1.0 + more), wire) >= growth_ends_held(mean, pitch, wire)
    assert growth_ends_free(mean, pitch * (1.0 + more), wire) >= growth_ends_free(mean, pitch, wire) - 1e-12
    assert growth_ends_free(mean, 2.0 * wire, wire) > growth_ends_held(mean, 2.0 * wire, wire)


def test_coils_that_touch_already_do_not_grow() -> None:
    assert growth_ends_held(30.0, 4.5, 4.5) == pytest.approx(0.0, abs=1e-12)
    assert growth_ends_free(30.0, 4.5, 4.5) == pytest.approx(0.0, abs=1e-9)


@given(coil=coils, factor=st.floats(0.001, 100.0))
def test_units_change_nothing(coil: tuple[float, float, float], factor: float) -> None:
    scaled = [one * factor for one in coil]
    for growth in (growth_ends_held, growth_ends_free):
        assert growth(*scaled) == pytest.approx(growth(*coil) * factor, rel=1e-6, abs=1e-9 * factor)


def test_what_was_not_measured_makes_no_number() -> None:
    assert math.isnan(growth_ends_held(30.0, math.nan, 4.5))
    assert math.isnan(growth_ends_free(30.0, math.nan, 4.5))
