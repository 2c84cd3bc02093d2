"""Intake faces: what was measured at both faces of a V, as /v1/intake-fit takes it and as the kernels do."""

from __future__ import annotations

from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.intake.manifold import BankAngle, FaceTilt
from headbench.api.movement.moved import Moved, movement_of
from headbench.api.vocabulary.quantities import Length, Model, PositiveLength, SignedLength, Units, number_of
from headbench.api.vocabulary.targets import OffTarget, by_default
from headbench.calc.intake.fit import FaceLimits, FaceReadings
from headbench.calc.judging import limits as known
from headbench.calc.judging.limits import Limit


class FaceEnd(Model, kw_only=True, frozen=True):
    """The gaps at one end of a face, by feeler gauge."""

    top: Annotated[Length | None, Meta(description="Gap at the top edge; null = not measured.", examples=[0.006])] = (
        None
    )
    bottom: Annotated[
        Length | None, Meta(description="Gap at the bottom edge; null = not measured.", examples=[0.002])
    ] = None


_END: Final = {"top": 0.006, "bottom": 0.002}


class Face(Model, kw_only=True, frozen=True):
    """One bank's intake face, measured with the manifold in place and no gaskets at the faces."""

    front: Annotated[FaceEnd, Meta(description="Front end of the face.", examples=[_END])] = FaceEnd()
    rear: Annotated[FaceEnd, Meta(description="Rear end of the face.", examples=[_END])] = FaceEnd()
    misalignment: Annotated[
        SignedLength | None,
        Meta(
            description="How far the head's bolt holes sit below (+) the manifold's, along the face; null = not "
            "measured.",
            examples=[0.029],
        ),
    ] = None
    milling: Annotated[
        Moved | None,
        Meta(
            description="What was cut, by which this head should have dropped; null = not given.",
            examples=[{"cut": {"kind": "flat", "depth": 0.030}}],
        ),
    ] = None


class IntakeFitLimits(Model, kw_only=True, frozen=True):
    """How well a manifold has to sit."""

    face_gap_tolerance: Annotated[
        Length | None,
        by_default(known.FACE_GAP_TOLERANCE, "Most that may stay open at the middle of a face, gasket taken off."),
    ] = None
    face_taper_tolerance: Annotated[
        Length | None, by_default(known.FACE_TAPER_TOLERANCE, "Largest difference of gap, top to bottom, either way.")
    ] = None
    face_twist_tolerance: Annotated[
        Length | None, by_default(known.FACE_TWIST_TOLERANCE, "Largest difference of gap, front to rear, either way.")
    ] = None
    face_warp_tolerance: Annotated[
        Length | None, by_default(known.FACE_WARP_TOLERANCE, "Farthest a corner may lie off the face's plane.")
    ] = None
    misalignment_tolerance: Annotated[
        Length | None,
        by_default(known.MISALIGNMENT_TOLERANCE, "Largest misalignment of bolt holes and ports, either way."),
    ] = None
    bolt_entry_tolerance: Annotated[
        Length | None, by_default(known.BOLT_ENTRY_TOLERANCE, "Largest misalignment at which the bolts still enter.")
    ] = None
    off_target: OffTarget = "borderline"


_FACE: Final = {"front": {"top": 0.006, "bottom": 0.002}, "rear": {"top": 0.005, "bottom": 0.002}}


class IntakeFitRequest(Model, kw_only=True, frozen=True):
    """What was measured at both faces; left and right as you stand at the front of the engine."""

    units: Units = Units()
    limits: Annotated[
        IntakeFitLimits, Meta(description="How well the manifold has to sit.", examples=[{"face_gap_tolerance": 0.005}])
    ] = IntakeFitLimits()
    bank_angle: BankAngle
    face_tilt: FaceTilt = None
    gauge_step: Annotated[
        PositiveLength | None, by_default(known.GAUGE_STEP, "Smallest difference of gap that your feeler gauges show.")
    ] = None
    misalignment_step: Annotated[
        PositiveLength | None,
        by_default(known.MISALIGNMENT_STEP, "Smallest difference you can measure at the bolt holes."),
    ] = None
    intake_gasket_thickness: Annotated[
        Length | None,
        Meta(
            description="Compressed thickness of the intake gasket that goes between face and manifold; 0 for metal to "
            "metal. The gaps are measured without it. Null = not given.",
            examples=[0.060],
        ),
    ] = None
    rail_room: Annotated[
        Length | None,
        Meta(
            description="Gap between the manifold and the block's end rails as it sat when the faces were measured, "
            "less the compressed end seal; 0 where it rested on them. Null = not measured.",
            examples=[0.0],
        ),
    ] = None
    left: Annotated[Face, Meta(description="The left bank's face.", examples=[_FACE])] = Face()
    right: Annotated[Face, Meta(description="The right bank's face.", examples=[_FACE])] = Face()


Pair = tuple[Face, Face]
"""The left face, then the right one."""


def readings_of(request: IntakeFitRequest) -> FaceReadings:
    """What was read at both faces."""
    pair = request.left, request.right
    left, right = (None if face.milling is None else movement_of(face.milling) for face in pair)
    return FaceReadings(
        bank_angle=request.bank_angle,
        gap=np.array(
            [[[number_of(end.top), number_of(end.bottom)] for end in (face.front, face.rear)] for face in pair]
        ),
        misalignment=np.array([number_of(face.misalignment) for face in pair]),
        face_tilt=number_of(request.face_tilt),
        intake_gasket_thickness=number_of(request.intake_gasket_thickness),
        rail_room=number_of(request.rail_room),
        gauge_step=_given_or(request.gauge_step, known.GAUGE_STEP),
        misalignment_step=_given_or(request.misalignment_step, known.MISALIGNMENT_STEP),
        milling=(left, right),
    )


def cut_at_an_angle(face: Face) -> bool:
    """Whether this face's head is known to have been cut at an angle, which turns the face."""
    return face.milling is not None and not movement_of(face.milling).flat


def limits_of(limits: IntakeFitLimits) -> FaceLimits:
    """The job's limits, or their defaults."""
    return FaceLimits(
        gap=_given_or(limits.face_gap_tolerance, known.FACE_GAP_TOLERANCE),
        taper=_given_or(limits.face_taper_tolerance, known.FACE_TAPER_TOLERANCE),
        twist=_given_or(limits.face_twist_tolerance, known.FACE_TWIST_TOLERANCE),
        warp=_given_or(limits.face_warp_tolerance, known.FACE_WARP_TOLERANCE),
        misalignment=_given_or(limits.misalignment_tolerance, known.MISALIGNMENT_TOLERANCE),
        bolt_entry=_given_or(limits.bolt_entry_tolerance, known.BOLT_ENTRY_TOLERANCE),
        misses_reject=limits.off_target == "reject",
    )


def _given_or(given: float | None, default: Limit) -> float:
    return default.value if given is None else given
