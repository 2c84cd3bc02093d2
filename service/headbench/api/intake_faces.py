"""Intake faces: what was felt at each, and what that comes to, as /v1/intake-fit takes and answers it."""

from __future__ import annotations

from typing import Annotated, NamedTuple

import numpy as np
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.milled import Moved, movement_to_si
from headbench.api.quantities import (
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    SignedLength,
)
from headbench.calc import FloatArray
from headbench.calc.intake_gaps import (
    AgainstMilling,
    FaceGaps,
    MeasuredCuts,
)
from headbench.calc.verdicts import within
from headbench.units import Scales


class FaceEnd(Model, kw_only=True, frozen=True):
    """The gaps at one end of a face."""

    top: Annotated[Length | None, Meta(description="At the top edge; null: not read.")] = None
    bottom: Annotated[Length | None, Meta(description="At the bottom edge; null: not read.")] = None


class Face(Model, kw_only=True, frozen=True):
    """One bank's intake face, felt with the manifold set down on its end rails, no gasket at the faces."""

    front: FaceEnd = FaceEnd()
    rear: FaceEnd = FaceEnd()
    misalignment: Annotated[
        SignedLength | None,
        Meta(description="Bolt holes of the head below (+) the manifold's, along the face; null: not measured."),
    ] = None
    milling: Annotated[
        Moved | None, Meta(description="What has brought this head nearer; null: not known, nothing to check against.")
    ] = None


class Corners(Answer, kw_only=True, frozen=True):
    """What to take off at the corners of a face; negative: metal would have to be added."""

    front_top: LengthOut | None
    front_bottom: LengthOut | None
    rear_top: LengthOut | None
    rear_bottom: LengthOut | None


class FaceNumbers(Answer, kw_only=True, frozen=True):
    """What one face's gaps amount to."""

    gap: Annotated[LengthOut | None, Meta(description="At the middle of the face, intake_gasket taken off.")]
    taper: Annotated[LengthOut | None, Meta(description="How much more is open at the top than at the bottom.")]
    twist: Annotated[LengthOut | None, Meta(description="How much more is open at the front than at the rear.")]
    warp: Annotated[
        LengthOut | None, Meta(description="What no flat cut removes: each corner's distance from the plane.")
    ]
    parallel_gap: Annotated[
        LengthOut | None, Meta(description="What remains open everywhere once cut_to_parallel is taken.")
    ]
    implied_approach: Annotated[
        LengthOut | None,
        Meta(description="Net approach that gap and holes tell of; more than is known: milled before."),
    ]
    unexplained: Annotated[
        LengthOut | None,
        Meta(
            description="What stays square to the bore: no milling makes that; null where the manifold rides on the "
            "faces, which moves it."
        ),
    ]
    missing: Annotated[
        LengthOut | None, Meta(description="The most that face_cut would have to add: no cut mends that.")
    ]


class MillingNumbers(Answer, kw_only=True, frozen=True):
    """What was read against what flat milling does, the manifold on its rails, or on the faces if they meet first."""

    net_approach: Annotated[LengthOut | None, Meta(description="By the milling that is known; null for a wedge.")]
    expected_gap: Annotated[LengthOut | None, Meta(description="What that opens; 0 where the faces meet early.")]
    expected_misalignment: Annotated[LengthOut | None, Meta(description="What it puts the bolt holes out by.")]


class AgainstKnownMilling(MillingNumbers, kw_only=True, frozen=True):
    """One face against its head's milling."""

    gap_excess: Annotated[LengthCheck, Meta(description="Gap read less expected, against the gauge's step.")]
    misalignment_excess: Annotated[
        LengthCheck, Meta(description="Misalignment read less expected, against misalignment_step.")
    ]
    verdict: VerdictName


class FaceAnswer(FaceNumbers, kw_only=True, frozen=True):
    """One face, and what to cut from it."""

    out_of_true: Annotated[bool | None, Meta(description="Whether it tapers or twists by more than the gauge's step.")]
    cut_to_parallel: Annotated[
        Corners, Meta(description="The wedge that makes it parallel to the manifold's, 0 where it is widest open.")
    ]
    face_cut: Annotated[Corners, Meta(description="Off this face, so that holes and ports come in line and it closes.")]
    against_milling: Annotated[AgainstKnownMilling | None, Meta(description="Null: no milling was given.")]


_END = Columns(FaceEnd)
_FACE = Columns(Face)
_NUMBERS = Columns(FaceNumbers)
_CORNERS = Columns(Corners)
_MILLING = Columns(MillingNumbers)


Pair = tuple[Face, Face]
"""The left face, then the right one."""


class Steps(NamedTuple):
    """What the readings tell apart [m]."""

    gauge: float
    misalignment: float


def gaps_to_si(faces: Pair, intake_gasket: float, scales: Scales) -> FloatArray:
    """Gaps by bank, end and edge, that a gasket [m] leaves of what was felt."""
    ends = [end for face in faces for end in (face.front, face.rear)]
    columns = _END.to_si(ends, scales)
    return np.stack([columns["top"], columns["bottom"]], axis=-1).reshape(2, 2, 2) - intake_gasket


def misalignments(faces: Pair, scales: Scales) -> FloatArray:
    """How far the bolt holes of each head are below the manifold's [m]."""
    return _FACE.to_si(faces, scales)["misalignment"]


def approaches(faces: Pair, scales: Scales) -> FloatArray:
    """What flat milling brought each head nearer; NaN where it is not known, or a wedge."""
    movements = [None if face.milling is None else movement_to_si(face.milling, scales) for face in faces]
    nowhere = np.full(1, np.nan)
    return np.array([np.nan if one is None else float(one.approach_at(nowhere)[0]) for one in movements])


def out_of_true(gaps: FaceGaps) -> list[bool | None]:
    """Whether each face is out; None where what was read shows nothing and not all was read."""
    unread = np.isnan(gaps.gap)
    return [
        True if out else None if some else False
        for out, some in zip(gaps.out_of_true.tolist(), unread.tolist(), strict=True)
    ]


def _corners(values: FloatArray, scales: Scales) -> list[Corners]:
    names = ("front_top", "front_bottom", "rear_top", "rear_bottom")
    columns = dict(zip(names, values.reshape(2, 4).T, strict=True))
    return [Corners(**row) for row in _CORNERS.from_si(columns, scales)]


def face_answers(
    faces: Pair,
    gaps: FaceGaps,
    cuts: MeasuredCuts,
    against: AgainstMilling,
    out: list[bool | None],
    steps: Steps,
    scales: Scales,
) -> list[FaceAnswer]:
    """Both faces as they are answered."""
    numbers = _NUMBERS.from_si(
        {
            "gap": gaps.gap,
            "taper": gaps.taper,
            "twist": gaps.twist,
            "warp": gaps.warp,
            "parallel_gap": gaps.parallel_gap,
            "implied_approach": against.implied_approach,
            "unexplained": against.unexplained,
            "missing": cuts.missing,
        },
        scales,
    )
    milling = _MILLING.from_si(
        {
            "net_approach": approaches(faces, scales),
            "expected_gap": against.expected_gap,
            "expected_misalignment": against.expected_misalignment,
        },
        scales,
    )
    gap_checks, hole_checks = (
        length_checks(excess, limit, "within", within(excess, limit), scales, check_class="setting")
        for excess, limit in ((against.gap_excess, steps.gauge), (against.misalignment_excess, steps.misalignment))
    )
    known = [
        None
        if face.milling is None
        else AgainstKnownMilling(
            gap_excess=gap, misalignment_excess=holes, verdict=worst_of([gap.verdict, holes.verdict]), **row
        )
        for face, gap, holes, row in zip(faces, gap_checks, hole_checks, milling, strict=True)
    ]
    parallel, face_cut = _corners(gaps.cut_to_parallel, scales), _corners(cuts.face_cut, scales)
    return [
        FaceAnswer(
            out_of_true=out[side],
            cut_to_parallel=parallel[side],
            face_cut=face_cut[side],
            against_milling=known[side],
            **numbers[side],
        )
        for side in (0, 1)
    ]
