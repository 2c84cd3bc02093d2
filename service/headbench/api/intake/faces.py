"""Intake faces: what was measured at both faces of a V, as /v1/intake-fit takes it and as the kernels do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, NamedTuple

import numpy as np
from msgspec import Meta

from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.intake.manifold import BankAngle, FaceTilt
from headbench.api.movement.moved import Moved, movement_of
from headbench.api.vocabulary.quantities import Columns, Length, Model, PositiveLength, SignedLength, Units
from headbench.api.vocabulary.targets import OffTarget, by_default
from headbench.calc import BoolArray, FloatArray
from headbench.calc.intake.banks import BankMisfit
from headbench.calc.intake.gaps import FaceGaps, MeasuredCuts, ReadHeads, Seated, told_apart
from headbench.calc.intake.seat import SealingCuts
from headbench.calc.judging import limits as known
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.limits import Limit
from headbench.calc.judging.rules import USUAL_FACE_GAP


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
    job: JobAsked = Job()
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


REQUEST_COLUMNS: Final = Columns(IntakeFitRequest)
_ENDS = Columns(FaceEnd)
_FACE_COLUMNS = Columns(Face)


Pair = tuple[Face, Face]
"""The left face, then the right one."""


class FaceLimits(NamedTuple):
    """The limits."""

    gap: float
    taper: float
    twist: float
    warp: float
    bolt_hole: float
    bolt_entry: float
    misses_reject: bool


@dataclass(frozen=True, slots=True)
class FaceFindings:
    """What both faces come to.

    gaps : FaceGaps
    seated : Seated
    heads : ReadHeads, NaN where the readings do not tell
    head_drop : array (2,), by the milling that was given; NaN where it does not tell [m]
    expected : BankMisfit
    cuts : MeasuredCuts
    sealing : SealingCuts
    cocked : bool, whether the manifold may sit cocked
    odd_gaps : array (2, 2, 2), gaps that no intake leaves: the reading or the manifold is wrong [-]
    odd_holes : array (2,), the same of the bolt holes [-]
    """

    gaps: FaceGaps
    seated: Seated
    heads: ReadHeads
    head_drop: FloatArray
    expected: BankMisfit
    cuts: MeasuredCuts
    sealing: SealingCuts
    cocked: bool
    odd_gaps: BoolArray
    odd_holes: BoolArray

    @property
    def odd(self) -> bool:
        """Whether any reading is none that cuts may be told from."""
        return bool(self.odd_gaps.any() or self.odd_holes.any())

    @property
    def difference(self) -> FloatArray:
        """Head drop read less known [m]."""
        return np.asarray(self.heads.head_drop - self.head_drop, dtype=np.float64)

    @property
    def unexplained(self) -> BoolArray:
        """Where the readings tell of more or less than the milling."""
        return told_apart(self.difference, self.heads.implied_head_drop_uncertainty)


def unlike_any_intake(reading: FloatArray) -> BoolArray:
    """Gaps, or bolt holes out of line, that are more than any intake leaves [m]; False where none was read."""
    return np.asarray(np.abs(reading) - USUAL_FACE_GAP.values[0] > GRID, dtype=np.bool_)


def gaps_of(faces: Pair, intake_gasket_thickness: float) -> FloatArray:
    """Gaps by bank, end and edge, that a gasket [m] leaves of what was measured."""
    ends = [end for face in faces for end in (face.front, face.rear)]
    columns = _ENDS.of(ends)
    return np.stack([columns["top"], columns["bottom"]], axis=-1).reshape(2, 2, 2) - intake_gasket_thickness


def misalignments(faces: Pair) -> FloatArray:
    """How far the bolt holes of each head are below the manifold's [m]."""
    return _FACE_COLUMNS.of(faces)["misalignment"]


def cut_at_an_angle(face: Face) -> bool:
    """Whether this face's head is known to have been cut at an angle, which turns the face."""
    return face.milling is not None and not movement_of(face.milling).flat


def head_drops(faces: Pair) -> FloatArray:
    """How far flat milling let each head drop [m]; NaN where it is not known, or was cut at an angle."""
    drops = []
    for face in faces:
        if face.milling is None or cut_at_an_angle(face):
            drops.append(np.nan)
            continue
        one = movement_of(face.milling)
        drops.append(float(one.depth_at(np.zeros(1))[0]) + one.block_decked - one.gasket_thickness_change)
    return np.array(drops)


def limits_of(limits: IntakeFitLimits) -> FaceLimits:
    """The job's limits, or their defaults."""

    def limit(default: Limit) -> float:
        given: float | None = getattr(limits, default.name)
        return default.value if given is None else given

    return FaceLimits(
        gap=limit(known.FACE_GAP_TOLERANCE),
        taper=limit(known.FACE_TAPER_TOLERANCE),
        twist=limit(known.FACE_TWIST_TOLERANCE),
        warp=limit(known.FACE_WARP_TOLERANCE),
        bolt_hole=limit(known.MISALIGNMENT_TOLERANCE),
        bolt_entry=limit(known.BOLT_ENTRY_TOLERANCE),
        misses_reject=limits.off_target == "reject",
    )
