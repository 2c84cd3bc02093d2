"""Wire materials: published strengths and moduli, limits, certificates."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from headbench.calc.coils.materials import WIRE_MATERIALS, moduli, tensile_strength

_INCH, _KPSI = 0.0254, 6.894757293168361e6


# Shigley's Mechanical Engineering Design, A in kpsi in^m (the inch column): 9th ed. (2011), Example 10-1 (from memory);
# 11th ed. (2020), solution to Problem 10-5; 8th ed. (2008; edition from memory), solutions to Problems 10-23 and 10-26
@pytest.mark.parametrize(
    ("name", "diameter", "strength"),
    [
        ("music wire", 0.037, 324.2),
        ("music wire", 0.105, 278.691),
        ("music wire", 0.112, 276.096),
        ("oil-tempered wire", 0.2, 198.6),
        ("302 stainless wire", 0.080, 244.363),
        ("302 stainless wire", 0.0915, 239.618),
        ("302 stainless wire", 0.1055, 231.257),
        ("302 stainless wire", 0.1205, 223.311),
    ],
)
def test_tensile_strength_is_that_of_worked_examples(name: str, diameter: float, strength: float) -> None:
    found = tensile_strength(WIRE_MATERIALS[name], np.array([diameter * _INCH]))
    assert found.strength[0] / _KPSI == pytest.approx(strength, rel=2e-4)
    assert found.inside_limits.all()
    assert not found.certified.any()


# Shigley's, 11th ed. (2020), solutions to Problems 10-3 and 10-6, worked with A in MPa mm^m, metric column,
# which the book rounds on its own
@pytest.mark.parametrize(
    ("name", "diameter", "strength"), [("music wire", 2.5, 1936.0), ("oil-tempered wire", 4.0, 1431.0)]
)
def test_tensile_strength_agrees_with_the_metric_column(name: str, diameter: float, strength: float) -> None:
    found = tensile_strength(WIRE_MATERIALS[name], np.array([diameter * 1e-3])).strength[0]
    assert found / 1e6 == pytest.approx(strength, rel=3e-3)


# Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-4, metric column, A in MPa mm^m (from memory)
@pytest.mark.parametrize(
    ("name", "coefficient", "exponent"),
    [
        ("music wire", 2211.0, 0.145),
        ("oil-tempered wire", 1855.0, 0.187),
        ("hard-drawn wire", 1783.0, 0.190),
        ("chrome-vanadium wire", 2005.0, 0.168),
        ("chrome-silicon wire", 1974.0, 0.108),
    ],
)
def test_both_columns_of_the_table_say_the_same(name: str, coefficient: float, exponent: float) -> None:
    row = WIRE_MATERIALS[name].strength[0]
    assert row.exponent == exponent
    assert row.coefficient / 1e6 * 1e3**exponent == pytest.approx(coefficient, rel=2.5e-3)


# least tensile strength in kpsi, ASTM A228 and ASTM A227 class I, as a wire maker prints them (from memory, years not
# known)
_A228 = {0.010: 387, 0.020: 350, 0.040: 315, 0.063: 293, 0.080: 282, 0.125: 261, 0.177: 245, 0.250: 230}
_A227 = {0.032: 266, 0.048: 248, 0.080: 227, 0.120: 210, 0.177: 195, 0.250: 182, 0.375: 167, 0.500: 156}


@pytest.mark.parametrize(("name", "standard"), [("music wire", _A228), ("hard-drawn wire", _A227)])
def test_the_fit_keeps_within_seven_percent_of_the_standard(name: str, standard: dict[float, int]) -> None:
    diameters = np.array(list(standard)) * _INCH
    found = tensile_strength(WIRE_MATERIALS[name], diameters)
    assert found.strength / _KPSI == pytest.approx(np.array(list(standard.values()), dtype=np.float64), rel=0.07)
    assert found.inside_limits.all()


# Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-5, metric columns, GPa
@pytest.mark.parametrize(
    ("name", "diameter", "elastic", "shear"),
    [
        ("music wire", 0.020, 203.4, 82.7),
        ("music wire", 0.040, 200.0, 81.7),
        ("music wire", 0.100, 196.5, 81.0),
        ("music wire", 0.200, 193.0, 80.0),
        ("hard-drawn wire", 0.020, 198.6, 80.7),
        ("hard-drawn wire", 0.040, 197.9, 80.0),
        ("hard-drawn wire", 0.100, 197.2, 79.3),
        ("hard-drawn wire", 0.200, 196.5, 78.6),
        ("oil-tempered wire", 0.200, 196.5, 77.2),
        ("carbon valve spring wire", 0.160, 203.4, 77.2),
        ("chrome-vanadium wire", 0.160, 203.4, 77.2),
    ],
)
def test_moduli_are_those_of_the_table(name: str, diameter: float, elastic: float, shear: float) -> None:
    found = moduli(WIRE_MATERIALS[name], np.array([diameter * _INCH]))
    # the table rounds each of its two units on its own
    assert found.elastic[0] / 1e9 == pytest.approx(elastic, abs=0.15)
    assert found.shear[0] / 1e9 == pytest.approx(shear, abs=0.1)


def test_sources_for_chrome_silicon_differ_by_five_and_a_half_percent() -> None:
    # trade knowledge: G is given as 77.2 to 81.5 GPa by different sources
    least, greatest = WIRE_MATERIALS["chrome-silicon wire"].shear_modulus_range
    assert (least, greatest) == (77.2e9, 81.5e9)
    assert greatest / least - 1.0 == pytest.approx(0.055, abs=0.001)


@pytest.mark.parametrize("name", list(WIRE_MATERIALS))
def test_every_material_is_consistent_in_itself(name: str) -> None:
    material = WIRE_MATERIALS[name]
    assert material.name == name
    assert material.source
    least, greatest = material.shear_modulus_range
    for row in material.moduli:
        assert least * 0.999 <= row.shear <= greatest * 1.001
        # an isotropic metal: Poisson's ratio E/(2 G) - 1 between 0.2 and 0.5
        assert 0.2 < row.elastic / (2.0 * row.shear) - 1.0 < 0.5
    for thinner, thicker in zip(material.strength, material.strength[1:], strict=False):
        assert thinner.thickest == thicker.thinnest
        at_the_seam = [each.coefficient / thinner.thickest**each.exponent for each in (thinner, thicker)]
        assert at_the_seam[0] == pytest.approx(at_the_seam[1], rel=0.03)
    assert 0.0 < material.torsional_yield_share < material.yield_percent_set[0] < material.yield_percent_set[1] < 100.0


def test_the_table_cannot_be_changed() -> None:
    with pytest.raises(TypeError, match="does not support item assignment"):
        WIRE_MATERIALS["music wire"] = WIRE_MATERIALS["hard-drawn wire"]  # type: ignore[index] # the point of the test
    with pytest.raises(dataclasses.FrozenInstanceError):
        WIRE_MATERIALS["music wire"].density = 1.0  # type: ignore[misc] # likewise


def test_limits_belong_to_the_table_and_what_lies_outside_is_flagged() -> None:
    # chrome-silicon: 0.063 to 0.375 in (from memory)
    diameters = np.array([0.0629, 0.063, 0.375, 0.3751]) * _INCH
    found = tensile_strength(WIRE_MATERIALS["chrome-silicon wire"], diameters)
    assert found.inside_limits.tolist() == [False, True, True, False]
    # 202/0.375^0.108 kpsi by hand
    assert found.strength[2] / _KPSI == pytest.approx(224.57, abs=0.01)


def test_a_limit_written_in_millimeters_is_still_the_limit() -> None:
    found = tensile_strength(WIRE_MATERIALS["chrome-silicon wire"], np.array([1.6002e-3, 9.525e-3]))
    assert found.inside_limits.all()


def test_a_certificate_overrides_the_table() -> None:
    diameters = np.array([0.004, 0.004, 0.020])
    found = tensile_strength(WIRE_MATERIALS["chrome-silicon wire"], diameters, np.array([2.05e9, np.nan, 1.5e9]))
    assert found.strength[[0, 2]].tolist() == [2.05e9, 1.5e9]
    assert found.certified.tolist() == [True, False, True]
    assert found.inside_limits.all()


def test_wire_without_a_row_needs_a_certificate() -> None:
    wire = WIRE_MATERIALS["carbon valve spring wire"]
    assert np.isnan(tensile_strength(wire, np.array([0.004])).strength).all()
    certified = tensile_strength(wire, np.array([0.004, 0.005]), np.array([1.6e9, np.nan]))
    assert certified.strength[0] == 1.6e9
    assert certified.inside_limits.tolist() == [True, False]


def test_unknown_wire_is_of_unknown_strength() -> None:
    wire = WIRE_MATERIALS["music wire"]
    found = tensile_strength(wire, np.array([np.nan]))
    assert np.isnan(found.strength).all()
    assert not found.inside_limits.any()
    assert np.isnan(moduli(wire, np.array([np.nan])).shear).all()
