from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headbench.calc.intake.fit import FaceLimits, FaceReadings, fit_intake
from headbench.calc.movement.movement import Movement

MM = 1e-3
ACCEPT, BORDERLINE, NOT_MEASURED, REJECT = range(4)
SQUARE = math.radians(90.0)
# faces square to the deck, a gasket of 1.5 mm that just fills what is open, the manifold on its rails
READ = FaceReadings(SQUARE, np.full((2, 2, 2), 1.5 * MM), np.zeros(2), 0.0, 1.5 * MM, 0.0)


def test_gaps_that_the_gasket_fills_are_good() -> None:
    found = fit_intake(READ)
    for face in found.faces:
        checks = (face.gap, face.taper, face.twist, face.warp, face.misalignment, face.bolt_entry)
        assert [one.verdict for one in checks] == [ACCEPT] * 6
        assert not face.out_of_true
    assert not found.cocked


def test_what_is_open_once_seated_is_a_setting() -> None:
    # on its rails the manifold comes no nearer: 0.3 mm stay open at both faces, over the 0.127 mm that a gasket fills
    found = fit_intake(replace(READ, gap=np.full((2, 2, 2), 1.8 * MM)))
    assert [face.gap.value / MM for face in found.faces] == pytest.approx([0.3, 0.3], rel=1e-9)
    assert [face.gap.verdict for face in found.faces] == [BORDERLINE, BORDERLINE]
    rejected = fit_intake(replace(READ, gap=np.full((2, 2, 2), 1.8 * MM)), FaceLimits(misses_reject=True))
    assert [face.gap.verdict for face in rejected.faces] == [REJECT, REJECT]


def test_a_manifold_that_does_not_go_in_is_damage() -> None:
    # upright faces: nothing lifts it, and 0.2 mm of gasket are too much on each side
    upright = replace(READ, face_tilt=-0.5 * SQUARE, gap=np.full((2, 2, 2), 1.3 * MM))
    for face in fit_intake(upright).faces:
        assert face.gap.value / MM == pytest.approx(-0.2, rel=1e-9)
        assert (face.gap.verdict, face.gap.damages) == (REJECT, True)


def test_a_head_that_dropped_is_told_by_its_bolt_holes_and_explained_by_its_milling() -> None:
    # square faces open no gap: the holes alone are out by the drop
    down = replace(
        READ, misalignment=np.full(2, 1.0 * MM), milling=(Movement(depth=1.0 * MM), Movement(depth=1.0 * MM))
    )
    found = fit_intake(down)
    assert found.heads.head_drop / MM == pytest.approx(np.ones(2), abs=1e-9)
    assert found.head_drop / MM == pytest.approx(np.ones(2), abs=1e-9)
    assert found.explained == (True, True)
    more = replace(down, milling=(Movement(depth=1.0 * MM), Movement(depth=0.2 * MM)))
    assert fit_intake(more).explained == (True, False)
    assert fit_intake(replace(down, milling=(Movement(), None))).explained == (None, None)


def test_an_angle_cut_tells_nothing_of_the_heads() -> None:
    turned = replace(READ, milling=(Movement(depth=1.0 * MM, slope=0.01), Movement()))
    assert np.isnan(fit_intake(turned).heads.head_drop).all()


def test_faces_open_the_other_way_round_may_be_a_cocked_manifold() -> None:
    gap = READ.gap.copy()
    gap[0, :, 0] += 0.3 * MM
    gap[1, :, 1] += 0.3 * MM
    found = fit_intake(replace(READ, gap=gap))
    assert found.cocked
    assert np.isnan(found.heads.head_drop).all()
    assert [face.out_of_true for face in found.faces] == [True, True]


def test_a_reading_that_no_intake_leaves_tells_no_cut_and_proves_nothing() -> None:
    gap = READ.gap.copy()
    gap[0, 0, 0] = 1.0
    found = fit_intake(replace(READ, gap=gap))
    assert found.odd
    assert found.odd_gaps.sum() == 1
    assert np.isnan(found.cuts.face_cut).all()
    assert found.faces[1].misalignment.verdict == NOT_MEASURED


@pytest.mark.parametrize(
    "unread",
    [
        replace(READ, face_tilt=math.nan),
        replace(READ, intake_gasket_thickness=math.nan),
        replace(READ, rail_room=math.nan),
    ],
)
def test_a_reading_not_taken_leaves_the_seat_open(unread: FaceReadings) -> None:
    assert [face.gap.verdict for face in fit_intake(unread).faces] == [NOT_MEASURED, NOT_MEASURED]
