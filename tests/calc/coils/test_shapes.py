"""Coil profiles and the dimensions that cannot be true."""

from __future__ import annotations

import numpy as np
import pytest

from headbench.calc.coils.shapes import (
    CoilProfile,
    beehive,
    coil_table,
    cone,
    cylinder,
    find_coil_faults,
    stretch_gaps,
    stretches,
)
from headbench.calc.coils.wire import round_wire

_WIRE = round_wire(0.004)
_UNCOUNTED = float("nan")


def _same(one: CoilProfile, other: CoilProfile) -> bool:
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in ("turn", "radius", "pitch"))


def test_a_beehive_is_a_cylinder_and_a_cone_end_to_end() -> None:
    profile = beehive(0.030, 0.020, 3.0, 2.0, 0.008)
    assert profile.turn.tolist() == [0.0, 3.0, 3.0, 5.0]
    assert profile.radius.tolist() == [0.015, 0.015, 0.015, 0.010]
    assert profile.pitch.tolist() == [0.008] * 4


def test_a_cone_with_equal_ends_is_a_cylinder() -> None:
    assert _same(cone(0.030, 0.030, 5.0, 0.008), cylinder(0.030, 5.0, 0.008))


def test_a_table_of_two_points_is_a_cone() -> None:
    table = coil_table(np.array([0.0, 5.0]), np.array([0.030, 0.020]), np.array([0.008, 0.008]))
    assert _same(table, cone(0.030, 0.020, 5.0, 0.008))


def test_gaps_of_coils_that_do_not_telescope_are_pitch_less_wire() -> None:
    profile = stretches([4.0, 2.0], [0.030, 0.030], [0.030, 0.020], [0.006, 0.009])
    # the stretch of no length between the two holds nothing
    gaps = stretch_gaps(profile, _WIRE, telescoping=False)[[0, 2]]
    assert gaps == pytest.approx(np.array([[0.002, 0.002], [0.005, 0.005]]), rel=1e-12)


def test_gaps_of_telescoping_coils_grow_by_what_nests() -> None:
    # a step of 2.4 mm per turn and 4 mm wire: sqrt(4^2 - 2.4^2) = 3.2 mm, a 3-4-5 triangle
    gaps = stretch_gaps(cone(0.040, 0.0208, 4.0, 0.008), _WIRE, telescoping=True)
    assert gaps == pytest.approx(np.array([[0.0048, 0.0048]]), rel=1e-12)


def test_a_sound_spring_has_no_faults() -> None:
    assert find_coil_faults(beehive(0.030, 0.020, 3.0, 2.0, 0.008), _WIRE, 7.0, telescoping=False) == []


def test_wire_as_thick_as_the_coil_leaves_no_bore() -> None:
    assert find_coil_faults(cone(0.030, 0.004, 5.0, 0.009), _WIRE, 7.0, telescoping=False) == [("no bore", 1)]


@pytest.mark.parametrize(("diameter", "faults"), [(0.0159, 2), (0.016, 0), (0.048, 0), (0.0481, 2)])
def test_an_index_outside_four_to_twelve_is_pointed_out(diameter: float, faults: int) -> None:
    found = find_coil_faults(cylinder(diameter, 5.0, 0.009), _WIRE, 7.0, telescoping=False)
    assert found == [("index", 0), ("index", 1)][:faults]


def test_pitch_not_above_the_wire_leaves_no_gap_and_no_travel() -> None:
    found = find_coil_faults(cylinder(0.030, 5.0, 0.004), _WIRE, 7.0, telescoping=False)
    assert found == [("no gap", 0), ("no travel", -1)]


def test_one_close_stretch_is_named_while_the_others_leave_travel() -> None:
    profile = stretches([2.0, 4.0], [0.030] * 2, [0.030] * 2, [0.0035, 0.008])
    assert find_coil_faults(profile, _WIRE, 8.0, telescoping=False) == [("no gap", 0)]


@pytest.mark.parametrize(("total", "faulty"), [(4.9, True), (5.0, False), (7.0, False), (_UNCOUNTED, False)])
def test_no_more_coils_are_active_than_there_are(total: float, *, faulty: bool) -> None:
    found = find_coil_faults(cylinder(0.030, 5.0, 0.009), _WIRE, total, telescoping=False)
    assert found == ([("too many active coils", -1)] if faulty else [])


def test_a_taper_too_gentle_to_telescope_is_named() -> None:
    steep = cone(0.048, 0.018, 3.0, 0.009)
    gentle = cone(0.030, 0.020, 5.0, 0.009)
    assert find_coil_faults(steep, _WIRE, 5.0, telescoping=True) == []
    assert find_coil_faults(gentle, _WIRE, 7.0, telescoping=True) == [("does not telescope", 0)]
    assert find_coil_faults(gentle, _WIRE, 7.0, telescoping=False) == []


def test_the_cylinder_of_a_beehive_is_not_blamed_for_standing_straight() -> None:
    profile = stretches([3.0, 2.0], [0.040, 0.040], [0.040, 0.020], [0.009] * 2)
    assert find_coil_faults(profile, _WIRE, 7.0, telescoping=True) == []


def test_a_spring_without_taper_cannot_telescope_at_all() -> None:
    found = find_coil_faults(cylinder(0.030, 5.0, 0.009), _WIRE, 7.0, telescoping=True)
    assert found == [("does not telescope", -1)]


def test_turns_that_run_backward_are_named() -> None:
    profile = coil_table(np.array([0.0, 3.0, 2.0]), np.full(3, 0.030), np.full(3, 0.009))
    assert ("falls", 1) in find_coil_faults(profile, _WIRE, 7.0, telescoping=False)


def test_unknown_dimensions_are_no_fault() -> None:
    profile = cylinder(_UNCOUNTED, 5.0, _UNCOUNTED)
    assert find_coil_faults(profile, _WIRE, _UNCOUNTED, telescoping=False) == []
