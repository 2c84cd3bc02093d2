from __future__ import annotations

import math

import numpy as np
import pytest

from headbench.calc.intake.manifold import IntakeSide, fit_manifold
from headbench.calc.movement.movement import Movement

MM = 1e-3
FLAT = Movement(depth=1.0 * MM)
SQUARE = IntakeSide(math.radians(90.0))


def test_uncut_faces_open_by_the_sine_of_their_tilt_and_ports_are_out_by_its_cosine() -> None:
    # n sin a and n cos a, by hand for 1 mm and 10 degrees
    fit = fit_manifold(IntakeSide(math.radians(90.0), math.radians(10.0)), FLAT, FLAT)
    assert fit is not None
    misfit = fit.uncut_in_place.misfit
    assert misfit.gap / MM == pytest.approx(np.full((2, 2), math.sin(math.radians(10.0))), abs=1e-9)
    assert misfit.misalignment / MM == pytest.approx(np.full(2, math.cos(math.radians(10.0))), abs=1e-9)
    assert fit.tilted is None


def test_one_head_down_moves_the_manifold_along_its_bore() -> None:
    # by hand, 45 degrees, square faces, only the other head 1 mm down: its bore points at 45 degrees, so it moves by
    # (-0.7071, -0.7071); along both faces the manifold must go there too; square to this head's face that is 1 mm
    square = IntakeSide(math.radians(90.0), 0.0)
    fit = fit_manifold(square, Movement(), FLAT)
    assert fit is not None
    assert fit.level.seat.sideways / MM == pytest.approx(-math.sqrt(0.5), abs=1e-9)
    assert fit.level.seat.drop / MM == pytest.approx(math.sqrt(0.5), abs=1e-9)
    assert fit.level.face_cut / MM == pytest.approx(np.array([[1.0, 1.0], [0.0, 0.0]]), abs=1e-9)


def test_rails_hold_the_manifold_up_while_they_have_no_room() -> None:
    # 1 mm with square faces and cut: the manifold comes 1.4142 mm down, by hand, as far as its rails let it
    for room in (0.0, 1.0, 3.0):
        fit = fit_manifold(IntakeSide(math.radians(90.0), 0.0, rail_room=room * MM), FLAT, FLAT)
        assert fit is not None
        assert fit.faces_cut_only.seat.drop / MM == pytest.approx(min(room, math.sqrt(2.0)), abs=1e-9)


def test_a_tilt_not_measured_leaves_all_open() -> None:
    assert fit_manifold(SQUARE, FLAT, FLAT) is None


def test_an_angle_cut_of_either_head_asks_for_the_sizes() -> None:
    wedge = Movement(depth=1.0 * MM, slope=0.01)
    bare = IntakeSide(math.radians(90.0), math.radians(10.0))
    sized = IntakeSide(math.radians(90.0), math.radians(10.0), 0.0, 0.15, 0.25, 0.06, 0.05)
    assert fit_manifold(bare, FLAT, wedge) is None
    fit = fit_manifold(sized, FLAT, wedge)
    assert fit is not None
    # the faces turned unlike: half of it the manifold can take
    assert fit.tilted is not None
    assert fit.tilted.seat.tilt == pytest.approx(0.5 * math.atan(0.01), rel=1e-12)
    both = fit_manifold(sized, wedge, wedge)
    assert both is not None
    assert both.tilted is None
