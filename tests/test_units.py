"""Units against the exact definitions."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.units import CHOICES, Scale, scales_for, worked_out_factors

# NIST SP 811 (2008), appendix B: exact definitions of inch, pound, standard gravity and what follows
INCH = Fraction("0.0254")
POUND = Fraction("0.45359237")
GRAVITY = Fraction("9.80665")
POUND_FORCE = POUND * GRAVITY


@pytest.mark.parametrize(
    ("quantity", "unit", "exact"),
    [
        ("length", "in", INCH),
        ("length", "mm", Fraction("0.001")),
        ("force", "lbf", POUND_FORCE),
        ("force", "N", Fraction(1)),
        ("force", "kgf", GRAVITY),
        ("mass", "g", Fraction("0.001")),
        ("mass", "kg", Fraction(1)),
        ("mass", "oz", POUND / 16),
        ("mass", "lb", POUND),
        ("volume", "cm3", Fraction("0.000001")),
        ("volume", "in3", INCH**3),
        ("stress", "psi", POUND_FORCE / INCH**2),
        ("stress", "ksi", 1000 * POUND_FORCE / INCH**2),
        ("stress", "MPa", Fraction(1000000)),
        ("pressure", "psi", POUND_FORCE / INCH**2),
        ("pressure", "kPa", Fraction(1000)),
        ("pressure", "bar", Fraction(100000)),
    ],
)
def test_a_factor_is_its_exact_definition_rounded_once(quantity: str, unit: str, exact: Fraction) -> None:
    scales = scales_for(**{quantity: unit})  # type: ignore[arg-type] # the names come from CHOICES
    assert scales[quantity].unit == unit
    assert scales[quantity].factor == float(exact)


def test_every_unit_on_offer_has_been_checked_against_its_definition() -> None:
    assert sum(map(len, CHOICES.values())) == 17


def test_every_factor_of_every_choice_is_pint_s_to_the_last_bit() -> None:
    factors = worked_out_factors()
    for chosen in product(*CHOICES.values()):
        scales = scales_for(*chosen)  # type: ignore[arg-type] # the names come from CHOICES
        assert set(scales) == set(factors)
        for quantity, scale in scales.items():
            assert scale.quantity == quantity
            assert scale.factor == factors[quantity][scale.unit], scale


def test_derived_factors_follow_from_the_chosen_units() -> None:
    scales = scales_for(length="in", force="lbf", volume="cm3")
    assert scales["rate"].factor == float(POUND_FORCE / INCH)
    assert scales["rate"].unit == "lbf/in"
    assert scales["area"].factor == float(INCH**2)
    assert scales["volume_per_length"].factor == float(Fraction("0.000001") / INCH)
    assert scales_for(length="mm", force="N")["rate"].factor == 1000.0
    assert scales["inertia"].factor == float(Fraction("0.001") * INCH**2)
    for power, name in enumerate(("lift_velocity", "lift_acceleration", "lift_jerk"), start=1):
        assert scales[name].factor == pytest.approx(float(INCH) * (180 / pi) ** power, rel=1e-15)
    assert scales["lift_area"].factor == pytest.approx(float(INCH) * pi / 180, rel=1e-15)
    assert scales["lift_acceleration"].unit == "in/deg2"


def test_angles_are_degrees_speeds_rpm_and_frequencies_hertz_whatever_is_chosen() -> None:
    for scales in (scales_for(), scales_for(length="mm", force="N")):
        assert scales["angle"].factor == pytest.approx(pi / 180, rel=1e-15)
        assert scales["speed"].factor == pytest.approx(2 * pi / 60, rel=1e-15)
        assert scales["frequency"].factor == 1.0


@given(
    value=st.floats(-1e6, 1e6),
    scale=st.sampled_from(
        [scale for choice in (scales_for(), scales_for("mm", "N", "kg", "in3", "MPa")) for scale in choice.values()]
    ),
)
def test_there_and_back_is_the_same_number(value: float, scale: Scale) -> None:
    assert scale.from_si(scale.to_si(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)
