from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.cylinders.compression_ratio import (
    chamber_for_ratio,
    clearance_for_ratio,
    clearance_volume,
    crevice_volume,
    deck_volume,
    find_ratio_faults,
    gasket_for_quench,
    gasket_for_ratio,
    gasket_volume,
    quench,
    round_opening,
    static_ratio,
    swept_volume,
)
from headbench.errors import NotReachable

CC = 1e-6
MM = 1e-3

ratios = st.floats(1.5, 30.0)


def test_a_gas_engine_as_the_textbook_has_it() -> None:
    # R. K. Rajput, Internal Combustion Engines, example 3.8 (from memory, edition not known): D 0.25 m, L 0.375 m, V_c
    # 0.00263 m3 give 7.99915 (printed as 8; the digits recomputed from the printed inputs)
    ratio = static_ratio(swept_volume(np.array([0.25]), 0.375), np.array([0.00263]))
    assert ratio[0] == pytest.approx(7.99915, abs=5e-6)


def test_a_second_textbook_engine() -> None:
    # Mathur and Sharma, Internal Combustion Engines, example 2.3 (from memory, edition not known): D 17 cm, L 30 cm,
    # V_c 1025 cm3 give 7.643
    ratio = static_ratio(swept_volume(np.array([0.17]), 0.30), np.array([1025.0 * CC]))
    assert ratio[0] == pytest.approx(7.643, abs=5e-4)


def test_swept_volume_in_inches_of_a_four_inch_bore() -> None:
    # 4.000 by 3.480 in: pi 16/4 3.48 = 43.731 in3 by hand, 16.387064 cm3 each (NIST SP 811 (2008), B.8)
    volume = swept_volume(np.array([4.0 * 0.0254]), 3.48 * 0.0254)
    assert volume[0] / CC == pytest.approx(43.73096972 * 16.387064, rel=1e-9)


def test_each_part_of_the_clearance_has_its_sign() -> None:
    parts = (64.0, 9.0, -2.0, 5.0, 7.0, 1.0)
    volume = clearance_volume(np.array([parts[0]]) * CC, *(part * CC for part in parts[1:]))
    # by hand: 64 + 9 - 2 + 5 - 7 + 1
    assert volume[0] / CC == pytest.approx(70.0, rel=1e-12)


def test_a_round_opening_has_the_area_of_a_circle() -> None:
    # 4.100 in: pi 16.81/4 = 13.2025 in2 by hand
    assert round_opening(np.array([4.100 * 0.0254]))[0] / 0.0254**2 == pytest.approx(13.202543, abs=1e-6)


def test_a_part_not_measured_leaves_the_clearance_unknown() -> None:
    volume = clearance_volume(np.array([64.0, np.nan]) * CC, np.array([np.nan, 9.0]) * CC, 0.0, 0.0, 0.0, 0.0)
    assert np.isnan(volume).all()


def test_a_crown_above_the_deck_takes_what_one_below_it_gives() -> None:
    above, below = deck_volume(np.array([0.1, 0.1]), np.array([-0.4, 0.4]) * MM)
    # a disc of 100 mm by 0.4 mm: 3.1416 cm3
    assert below / CC == pytest.approx(math.pi, rel=1e-12)
    assert above == -below


def test_a_round_gasket_is_a_disc() -> None:
    # 104 mm by 1 mm: pi 104^2/4 mm3 = 8.4949 cm3 by hand
    assert gasket_volume(np.array([math.pi * 52.0**2 * 1e-6]), 1.0 * MM)[0] / CC == pytest.approx(8.4949, abs=5e-5)


def test_the_crevice_is_the_cylinder_less_the_piston_in_it() -> None:
    crevice = crevice_volume(np.array([0.1016]), 0.1008, 7.0 * MM)
    whole, piston = swept_volume(np.array([0.1016, 0.1008]), 7.0 * MM)
    assert crevice[0] == pytest.approx(whole - piston, rel=1e-9)


def test_a_crevice_thinner_than_its_height_is_circumference_times_gap_times_height() -> None:
    # thin ring, first order (own derivation)
    assert crevice_volume(np.array([0.1]), 0.1 - 2e-6, 7.0 * MM)[0] == pytest.approx(
        math.pi * 0.1 * 1e-6 * 7.0 * MM, rel=1e-4
    )


@given(ratios)
def test_clearance_for_ratio_inverts_the_ratio(ratio: float) -> None:
    clearance = clearance_for_ratio(np.array([ratio]), 700.0 * CC)
    assert static_ratio(700.0 * CC, clearance)[0] == pytest.approx(ratio, rel=1e-12)


@given(ratios, st.floats(0.1, 50.0))
def test_the_ratio_does_not_know_the_unit_of_volume(ratio: float, unit: float) -> None:
    clearance = 700.0 / (ratio - 1.0)
    assert static_ratio(700.0 * unit, np.array([clearance * unit]))[0] == pytest.approx(ratio, rel=1e-12)


def test_chamber_for_ratio_worked_by_hand() -> None:
    # 720/(10 - 1) = 80, less 16
    assert chamber_for_ratio(10.0, 720.0 * CC, 16.0 * CC) == pytest.approx(64.0 * CC, rel=1e-12)


def test_a_ratio_no_chamber_can_give_tells_the_highest() -> None:
    with pytest.raises(NotReachable) as told:
        chamber_for_ratio(50.0, 720.0 * CC, 16.0 * CC)
    # by hand: 1 + 720/16
    assert told.value.nearest == pytest.approx(46.0, rel=1e-12)


def test_a_chamber_of_nothing_is_none() -> None:
    # 1/(3 - 1) = 0.5, all of it in the others
    with pytest.raises(NotReachable):
        chamber_for_ratio(3.0, 1.0, 0.5)


@pytest.mark.parametrize("deck_clearance", [0.3, 0.0, -0.2])
def test_quench_is_crown_to_head(deck_clearance: float) -> None:
    assert quench(np.array([deck_clearance * MM]), 1.0 * MM)[0] == pytest.approx((1.0 + deck_clearance) * MM, abs=1e-15)


@given(st.floats(-0.5, 1.0), st.floats(0.3, 2.0))
def test_gasket_for_quench_inverts_quench(deck_clearance: float, thickness: float) -> None:
    wanted = float(quench(np.array([deck_clearance * MM]), thickness * MM)[0])
    assert gasket_for_quench(wanted, deck_clearance * MM, 0.3 * MM) == pytest.approx(thickness * MM, rel=1e-9)


def test_a_quench_too_tight_tells_what_the_thinnest_gasket_gives() -> None:
    with pytest.raises(NotReachable) as told:
        gasket_for_quench(0.9 * MM, 0.6 * MM, 0.5 * MM)
    assert told.value.nearest == pytest.approx(1.1 * MM, rel=1e-12)


@given(st.floats(0.3, 2.0))
def test_gasket_for_ratio_inverts_the_ratio(thickness: float) -> None:
    area = 85e-4
    clearance = clearance_volume(np.array([64.0 * CC]), gasket_volume(np.array([area]), thickness * MM), 0, 0, 0, 0)
    ratio = float(static_ratio(700.0 * CC, clearance)[0])
    assert gasket_for_ratio(ratio, 700.0 * CC, 64.0 * CC, area, 0.3 * MM) == pytest.approx(thickness * MM, rel=1e-9)


def test_a_ratio_too_high_tells_what_the_thinnest_gasket_gives() -> None:
    with pytest.raises(NotReachable) as told:
        gasket_for_ratio(12.0, 700.0 * CC, 66.0 * CC, 80e-4, 0.5 * MM)
    # by hand: 80 cm2 by 0.5 mm is 4 cc; 1 + 700/70
    assert told.value.nearest == pytest.approx(11.0, rel=1e-12)


def test_a_missing_reading_gives_no_gasket() -> None:
    assert math.isnan(gasket_for_quench(1.0 * MM, math.nan, 0.5 * MM))
    assert math.isnan(gasket_for_ratio(10.0, 700.0 * CC, math.nan, 80e-4, 0.5 * MM))


def test_ratios_that_cannot_be_are_named_with_their_places() -> None:
    wanted = np.array([1.0, 0.5, 10.0, np.nan, 1.01])
    clearance = np.array([70.0, 70.0, 0.0, -1.0, np.nan]) * CC
    assert find_ratio_faults(wanted, clearance) == [
        ("not_above_1", 0),
        ("not_above_1", 1),
        ("no_room", 2),
        ("no_room", 3),
    ]
