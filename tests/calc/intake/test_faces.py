from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import root

from headbench.calc.intake.banks import HeadMoves, IntakeV, bank_misfit
from headbench.calc.intake.faces import IntakeCuts, faces_upright, find_intake_faults, intake_cuts
from headbench.calc.intake.seat import ManifoldSeat

half_angles = st.floats(math.radians(10.0), math.radians(60.0))
face_tilts = st.floats(math.radians(-9.0), math.radians(25.0))
head_drops = st.floats(0.05e-3, 2e-3)


class Misfit(NamedTuple):
    """How the right face stands."""

    gap: float
    misalignment: float


def cuts_of(head_drop: float, half_angle: float, face_tilt: float) -> IntakeCuts:
    return intake_cuts(head_drop, 2.0 * half_angle, face_tilt)


def misfit_of(head_drop: float, half_angle: float, face_tilt: float, face_cut: float, drop: float) -> Misfit:
    """Both banks alike, the manifold straight down."""
    v = IntakeV(2.0 * half_angle, face_tilt, 0.0, 0.0, 0.0)
    moves = HeadMoves(np.full(2, head_drop), np.zeros(2), np.zeros(2))
    found = bank_misfit(v, moves, np.full((2, 2), face_cut), ManifoldSeat(0.0, drop, 0.0))
    return Misfit(float(found.gap[1, 0]), float(found.misalignment[1]))


def engine_from_head(point: complex, half_angle: float) -> complex:
    """A point of the right head, drawn deck down (valley left), turned into place over the engine."""
    return point * complex(math.cos(-half_angle), math.sin(-half_angle))


def face_of_head(half_angle: float, face_tilt: float, cut: float) -> tuple[complex, complex]:
    """A bolt hole in the intake face of the right head and the way up the face, in the engine.

    Drawn in the head: the deck is the real axis, the bore the imaginary one, the face a line upward whose
    outside is left; a positive tilt turns that outside up, that is the line clockwise. Milling the deck
    by `cut` lowers everything in the head by it.
    """
    hole = complex(-60e-3, 50e-3 - cut)
    up_the_face = complex(math.cos(math.pi / 2.0 - face_tilt), math.sin(math.pi / 2.0 - face_tilt))
    return engine_from_head(hole, half_angle), engine_from_head(up_the_face, half_angle)


def simulated_cuts(half_angle: float, face_tilt: float, cut: float) -> tuple[float, float]:
    """Face cut and drop that bring the hole of the lowered manifold onto the hole of the milled, cut head.

    Own derivation, by moving points: no angle functions but the turns above.
    """
    manifold_hole, _ = face_of_head(half_angle, face_tilt, 0.0)
    head_hole, up = face_of_head(half_angle, face_tilt, cut)
    outwards = up * 1j

    def apart(unknown: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        face_cut, drop = unknown
        miss = (head_hole - face_cut * outwards) - (manifold_hole - 1j * drop)
        return [miss.real / cut, miss.imag / cut]

    found = root(apart, [cut, cut], tol=1e-13)
    assert found.success
    return float(found.x[0]), float(found.x[1])


@pytest.mark.parametrize(
    ("half_angle", "face_tilt", "face_cut", "rail_cut"),
    [(45.0, 10.0, 1.2328, 1.7170), (45.0, 0.0, 1.0000, 1.4142), (45.0, -3.0, 0.9515, 1.3438)],
)
def test_the_factors_of_a_ninety_degree_v(
    half_angle: float, face_tilt: float, face_cut: float, rail_cut: float
) -> None:
    # own derivation by vectors, worked apart from the kernel
    cuts = intake_cuts(1.0, math.radians(2.0 * half_angle), math.radians(face_tilt))
    assert cuts.face_cut == pytest.approx(face_cut, abs=5e-5)
    assert cuts.rail_cut == pytest.approx(rail_cut, abs=5e-5)


@given(head_drops, half_angles, face_tilts)
def test_the_cuts_bring_the_simulated_holes_together(head_drop: float, half_angle: float, face_tilt: float) -> None:
    cuts = cuts_of(head_drop, half_angle, face_tilt)
    face_cut, rail_cut = simulated_cuts(half_angle, face_tilt, head_drop)
    assert cuts.face_cut == pytest.approx(face_cut, rel=1e-9)
    assert cuts.rail_cut == pytest.approx(rail_cut, rel=1e-9)


@given(head_drops, half_angles, face_tilts, st.floats(0.0, 2e-3), st.floats(-1e-3, 2e-3))
def test_gap_and_misalignment_are_those_of_the_moved_points(
    head_drop: float, half_angle: float, face_tilt: float, face_cut: float, drop: float
) -> None:
    manifold_hole, _ = face_of_head(half_angle, face_tilt, 0.0)
    head_hole, up = face_of_head(half_angle, face_tilt, head_drop)
    apart = (manifold_hole - 1j * drop) - (head_hole - face_cut * up * 1j)
    # what lies between the holes, seen along the face and out of it: one division turns the plane into the face's own
    in_face = apart / up
    misfit = misfit_of(head_drop, half_angle, face_tilt, face_cut, drop)
    assert misfit.misalignment == pytest.approx(in_face.real, abs=1e-15)
    assert misfit.gap == pytest.approx(in_face.imag, abs=1e-15)


@given(head_drops, half_angles, face_tilts)
def test_with_both_cuts_nothing_is_left(head_drop: float, half_angle: float, face_tilt: float) -> None:
    cuts = cuts_of(head_drop, half_angle, face_tilt)
    misfit = misfit_of(head_drop, half_angle, face_tilt, cuts.face_cut, cuts.rail_cut)
    assert misfit.gap == pytest.approx(0.0, abs=1e-15)
    assert misfit.misalignment == pytest.approx(0.0, abs=1e-15)


@given(head_drops, half_angles, face_tilts)
def test_uncut_the_gap_and_the_holes_share_the_head_drop(head_drop: float, half_angle: float, face_tilt: float) -> None:
    # two views of one movement: Pythagoras gives it back
    misfit = misfit_of(head_drop, half_angle, face_tilt, 0.0, 0.0)
    assert math.hypot(misfit.gap, misfit.misalignment) == pytest.approx(head_drop, rel=1e-12)


def test_a_square_face_opens_no_gap_at_all() -> None:
    misfit = misfit_of(0.75e-3, math.radians(45.0), 0.0, 0.0, 0.0)
    assert misfit.gap == pytest.approx(0.0, abs=1e-18)
    assert misfit.misalignment == pytest.approx(0.75e-3, rel=1e-12)


@given(head_drops, half_angles, face_tilts)
def test_with_the_face_alone_cut_the_holes_stay_out_and_the_gap_is_wider(
    head_drop: float, half_angle: float, face_tilt: float
) -> None:
    uncut = misfit_of(head_drop, half_angle, face_tilt, 0.0, 0.0)
    cuts = cuts_of(head_drop, half_angle, face_tilt)
    face_only = misfit_of(head_drop, half_angle, face_tilt, cuts.face_cut, 0.0)
    assert face_only.misalignment == uncut.misalignment
    assert face_only.gap == pytest.approx(uncut.gap + cuts.face_cut, rel=1e-12)


@given(head_drops, head_drops, half_angles, face_tilts)
def test_two_millings_need_what_one_needs(one: float, other: float, half_angle: float, face_tilt: float) -> None:
    first, second = cuts_of(one, half_angle, face_tilt), cuts_of(other, half_angle, face_tilt)
    whole = cuts_of(one + other, half_angle, face_tilt)
    assert first.face_cut + second.face_cut == pytest.approx(whole.face_cut, rel=1e-12)
    assert first.rail_cut + second.rail_cut == pytest.approx(whole.rail_cut, rel=1e-12)


def test_no_head_drop_needs_no_cut() -> None:
    cuts = cuts_of(0.0, 0.7, 0.1)
    assert (cuts.face_cut, cuts.rail_cut) == (0.0, 0.0)


def test_a_narrow_v_needs_next_to_no_face_cut() -> None:
    # limit b = 0, a = 0: the head comes down along the faces
    cuts = cuts_of(1e-3, 1e-6, 0.0)
    assert cuts.face_cut == pytest.approx(0.0, abs=1e-8)
    assert cuts.rail_cut == pytest.approx(1e-3, rel=1e-9)


@pytest.mark.parametrize(
    ("half_angle", "face_tilt", "faults"),
    [
        (45.0, 10.0, []),
        (0.0, 10.0, ["no_v"]),
        (90.0, -10.0, ["lies_flat"]),
        (45.0, 45.0, ["faces_lie_flat"]),
        (60.0, 40.0, ["faces_lie_flat"]),
        (30.0, -30.0, []),
        (30.0, -40.0, ["faces_overhang"]),
    ],
)
def test_angles_that_make_no_v_are_named(half_angle: float, face_tilt: float, faults: list[str]) -> None:
    assert find_intake_faults(math.radians(2.0 * half_angle), math.radians(face_tilt)) == faults


@pytest.mark.parametrize("half_angle", [30.0, 36.0, 45.0])
def test_upright_faces_slide_past_one_another_as_the_bore_comes_down(half_angle: float) -> None:
    # by hand: the head comes n sin b toward the valley and n cos b down, the first off its upright face and the
    # second off the rails; 0.7071 each in a V of 90 degrees
    cuts = intake_cuts(1.0, math.radians(2.0 * half_angle), -math.radians(half_angle))
    assert cuts.face_cut == pytest.approx(math.sin(math.radians(half_angle)), rel=1e-12)
    assert cuts.rail_cut == pytest.approx(math.cos(math.radians(half_angle)), rel=1e-12)
    assert faces_upright(math.radians(2.0 * half_angle), -math.radians(half_angle))
    assert not faces_upright(math.radians(2.0 * half_angle), -math.radians(half_angle - 0.1))
    assert not faces_upright(math.radians(2.0 * half_angle), math.nan)
