"""POST /v1/intake-fit: what feeler gauge and bolt holes say about the intake faces of a V."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.findings import CAUTIONS, PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.intake_v import FaceTilt, HalfAngle, v_faults
from headbench.api.milled import FlatCut, Moved, movement_faults, movement_to_si
from headbench.api.milling_notes import order_of_work
from headbench.api.positions import raise_if_any
from headbench.api.quantities import (
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    SignedLength,
    Units,
    UnitsUsed,
    say,
    units_used,
)
from headbench.api.wanted import as_written
from headbench.calc import FloatArray
from headbench.calc.intake_gaps import (
    AgainstMilling,
    FaceGaps,
    MeasuredCuts,
    against_milling,
    cuts_from_readings,
    face_gaps,
)
from headbench.calc.verdicts import within
from headbench.errors import Pointed
from headbench.units import Scales


class FaceEnd(Model, kw_only=True, frozen=True):
    """The gaps at one end of a face."""

    top: Annotated[Length | None, Meta(description="At the top edge; null: not read.")] = None
    bottom: Annotated[Length | None, Meta(description="At the bottom edge; null: not read.")] = None


class Face(Model, kw_only=True, frozen=True):
    """One bank's intake face, the manifold set in place without gaskets."""

    front: FaceEnd = FaceEnd()
    rear: FaceEnd = FaceEnd()
    misalignment: Annotated[
        SignedLength | None,
        Meta(description="Bolt holes of the head below (+) the manifold's, along the face; null: not measured."),
    ] = None
    milling: Annotated[
        Moved | None, Meta(description="What has brought this head nearer; null: not known, nothing to check against.")
    ] = None


class IntakeFitRequest(Model, kw_only=True, frozen=True):
    """What was felt at both faces, as seen from the front of the engine with the cylinders up."""

    units: Units = Units()
    bank_half_angle: HalfAngle
    face_tilt: FaceTilt = None
    gauge_step: Annotated[
        PositiveLength | None,
        Meta(description="Smallest difference the feeler gauge tells; null: 0.001 in (0.0254 mm)."),
    ] = None
    left: Face = Face()
    right: Face = Face()


class Corners(Answer, kw_only=True, frozen=True):
    """What to take off at the corners of a face; negative: metal would have to be added."""

    front_top: LengthOut | None
    front_bottom: LengthOut | None
    rear_top: LengthOut | None
    rear_bottom: LengthOut | None


class FaceNumbers(Answer, kw_only=True, frozen=True):
    """What one face's gaps amount to."""

    gap: Annotated[LengthOut | None, Meta(description="At the middle of the face.")]
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
    unexplained: Annotated[LengthOut | None, Meta(description="What stays square to the bore: no milling makes that.")]
    missing: Annotated[
        LengthOut | None, Meta(description="The most that face_cut would have to add: no cut mends that.")
    ]


class MillingNumbers(Answer, kw_only=True, frozen=True):
    """What was read against what flat milling does, the manifold where it always sat."""

    net_approach: Annotated[LengthOut | None, Meta(description="By the milling that is known; null for a wedge.")]
    expected_gap: Annotated[LengthOut | None, Meta(description="What that opens; negative: the faces meet early.")]
    expected_misalignment: Annotated[LengthOut | None, Meta(description="What it puts the bolt holes out by.")]
    misalignment_excess: Annotated[LengthOut | None, Meta(description="Read less expected.")]


class AgainstKnownMilling(MillingNumbers, kw_only=True, frozen=True):
    """One face against its head's milling."""

    gap_excess: Annotated[LengthCheck, Meta(description="Gap read less expected, against the gauge's step.")]


class FaceAnswer(FaceNumbers, kw_only=True, frozen=True):
    """One face, and what to cut from it."""

    out_of_true: Annotated[bool | None, Meta(description="Whether it tapers or twists by more than the gauge's step.")]
    cut_to_parallel: Annotated[
        Corners, Meta(description="The wedge that makes it parallel to the manifold's, 0 where it is widest open.")
    ]
    face_cut: Annotated[Corners, Meta(description="Off this face, so that holes and ports come in line and it closes.")]
    against_milling: Annotated[AgainstKnownMilling | None, Meta(description="Null: no milling was given.")]


class IntakeFitAnswer(Answer, kw_only=True, frozen=True):
    """Both faces, and the manifold between them."""

    units: UnitsUsed
    verdict: Annotated[VerdictName | None, Meta(description="The worst gap_excess; null: no milling was given.")]
    which_face: Annotated[
        Literal["neither", "left", "right", "both"] | None,
        Meta(description="Which is out of true; null: not all read."),
    ]
    manifold_askew: Annotated[
        LengthOut | None,
        Meta(description="The part of the right face's taper, taken from the left's, that a tilted manifold makes."),
    ]
    rail_cut: Annotated[LengthOut | None, Meta(description="Off the end rails, once the faces are cut by face_cut.")]
    sideways: Annotated[LengthOut | None, Meta(description="How far the manifold then moves to the right.")]
    left: FaceAnswer
    right: FaceAnswer
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


_END = Columns(FaceEnd)
_FACE = Columns(Face)
_REQUEST = Columns(IntakeFitRequest)
_NUMBERS = Columns(FaceNumbers)
_CORNERS = Columns(Corners)
_MILLING = Columns(MillingNumbers)
_GAUGE_STEP: Final = 0.001 * 0.0254
"""What a feeler gauge tells apart where nobody says otherwise [m]; common practice, no source."""
_SAME: Final = 1e-12

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in"},
    "bank_half_angle": 45,
    "face_tilt": 10,
    "gauge_step": 0.001,
    "left": {
        "front": {"top": 0.009, "bottom": 0.004},
        "rear": {"top": 0.008, "bottom": 0.004},
        "misalignment": 0.029,
        "milling": {"cut": {"kind": "flat", "depth": 0.030}, "block_decked": 0.004, "gasket_change": 0.004},
    },
    "right": {
        "front": {"top": 0.005, "bottom": 0.005},
        "rear": {"top": 0.005, "bottom": 0.006},
        "misalignment": 0.030,
    },
}


def _gaps_to_si(request: IntakeFitRequest, scales: Scales) -> FloatArray:
    """Gaps by bank, end and edge."""
    ends = [end for face in (request.left, request.right) for end in (face.front, face.rear)]
    columns = _END.to_si(ends, scales)
    return np.stack([columns["top"], columns["bottom"]], axis=-1).reshape(2, 2, 2)


def _approaches(request: IntakeFitRequest, scales: Scales) -> FloatArray:
    """What flat milling brought each head nearer; NaN where it is not known, or a wedge."""
    movements = [None if face.milling is None else movement_to_si(face.milling, scales) for face in _faces(request)]
    nowhere = np.full(1, np.nan)
    return np.array([np.nan if one is None else float(one.approach_at(nowhere)[0]) for one in movements])


def _faces(request: IntakeFitRequest) -> tuple[Face, Face]:
    return request.left, request.right


@post(
    "/v1/intake-fit",
    operation_id="fitIntake",
    summary="Intake faces by feeler gauge and bolt holes",
    tags=["Milling"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def intake_fit(data: JSONBody[IntakeFitRequest]) -> IntakeFitAnswer:
    """Say which face is out, what makes it parallel, what lines up the ports, and whether the milling explains it."""
    return answer(data)


def answer(request: IntakeFitRequest) -> IntakeFitAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()

    def faults() -> Iterator[Pointed]:
        yield from v_faults(request.bank_half_angle, request.face_tilt, "", scales)
        for side, face in zip(("left", "right"), _faces(request), strict=True):
            if face.milling is not None:
                yield from movement_faults(face.milling, scales, f"/{side}/milling")

    raise_if_any(faults())
    row = {name: float(column[0]) for name, column in _REQUEST.to_si([request], scales).items()}
    step = _GAUGE_STEP if request.gauge_step is None else row["gauge_step"]
    angles = row["bank_half_angle"], row["face_tilt"]
    readings = _gaps_to_si(request, scales)
    misalignment = _FACE.to_si(_faces(request), scales)["misalignment"]
    gaps = face_gaps(readings, step)
    cuts = cuts_from_readings(readings, misalignment, *angles)
    against = against_milling(gaps.gap, misalignment, _approaches(request, scales), *angles)
    out = _out_of_true(gaps)
    faces = _face_answers(request, gaps, cuts, against, out, step, scales)
    checks = [face.against_milling.gap_excess.verdict for face in faces if face.against_milling is not None]
    return IntakeFitAnswer(
        units=units_used(scales),
        verdict=worst_of(checks) if checks else None,
        which_face=None if None in out else _WHICH[out[0], out[1]],
        manifold_askew=as_written(gaps.manifold_tilt, "length", scales),
        rail_cut=as_written(cuts.drop, "length", scales),
        sideways=as_written(cuts.sideways, "length", scales),
        left=faces[0],
        right=faces[1],
        open_items=list(_open_items(request)),
        notes=[PLAIN_COMPARISON, *_notes(request, gaps, cuts, step, scales)],
        cautions=list(CAUTIONS),
    )


_WHICH: Final[dict[tuple[bool | None, bool | None], Literal["neither", "left", "right", "both"]]] = {
    (False, False): "neither",
    (True, False): "left",
    (False, True): "right",
    (True, True): "both",
}


def _out_of_true(gaps: FaceGaps) -> list[bool | None]:
    """Whether each face is out; None where what was read shows nothing and not all was read."""
    unread = np.isnan(gaps.taper) | np.isnan(gaps.twist)
    return [
        True if out else None if some else False
        for out, some in zip(gaps.out_of_true.tolist(), unread.tolist(), strict=True)
    ]


def _corners(values: FloatArray, scales: Scales) -> list[Corners]:
    names = ("front_top", "front_bottom", "rear_top", "rear_bottom")
    columns = dict(zip(names, values.reshape(2, 4).T, strict=True))
    return [Corners(**row) for row in _CORNERS.from_si(columns, scales)]


def _face_answers(
    request: IntakeFitRequest,
    gaps: FaceGaps,
    cuts: MeasuredCuts,
    against: AgainstMilling,
    out: list[bool | None],
    step: float,
    scales: Scales,
) -> list[FaceAnswer]:
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
            "net_approach": _approaches(request, scales),
            "expected_gap": against.expected_gap,
            "expected_misalignment": against.expected_misalignment,
            "misalignment_excess": against.misalignment_excess,
        },
        scales,
    )
    checks = length_checks(against.gap_excess, step, "within", within(against.gap_excess, step), scales)
    known = [
        None if face.milling is None else AgainstKnownMilling(gap_excess=check, **row)
        for face, check, row in zip(_faces(request), checks, milling, strict=True)
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


def _open_items(request: IntakeFitRequest) -> Iterator[OpenItem]:
    def item(pointer: str, holds_back: list[str], detail: str) -> OpenItem:
        return OpenItem(pointer=pointer, position=None, spring=None, holds_back=holds_back, detail=detail)

    if request.face_tilt is None:
        detail = "Measure how far the intake face is from square to the deck."
        yield item("/face_tilt", ["face_cut", "rail_cut", "sideways", "implied_approach", "gap_excess"], detail)
    for side, face in zip(("left", "right"), _faces(request), strict=True):
        for name, end in (("front", face.front), ("rear", face.rear)):
            for edge in ("top", "bottom"):
                if getattr(end, edge) is None:
                    detail = f"Feel the gap at the {name} end of the {side} face, {edge} edge."
                    held = ["gap", "taper", "twist", "warp", "cut_to_parallel", "face_cut"]
                    yield item(f"/{side}/{name}/{edge}", held, detail)
        if face.misalignment is None:
            detail = f"Measure how far the bolt holes of the {side} head are below the manifold's, along the face."
            yield item(f"/{side}/misalignment", ["face_cut", "rail_cut", "sideways", "implied_approach"], detail)


def _notes(
    request: IntakeFitRequest, gaps: FaceGaps, cuts: MeasuredCuts, step: float, scales: Scales
) -> Iterator[Note]:
    wedges = [
        side
        for side, face in zip(("left", "right"), _faces(request), strict=True)
        if face.milling is not None and not isinstance(face.milling.cut, FlatCut)
    ]
    for side in wedges:
        detail = (
            f"The {side} head was cut at an angle, which turns its face: hold the gaps against uncut_in_place in the "
            "answer of /v1/milling, which knows the face's sizes."
        )
        yield note("wedge_turns_face", f"/{side}/milling/cut", detail)
    left, right = gaps.taper.tolist()
    if left * right < 0.0 and min(abs(left), abs(right)) > step:
        by = say(abs(gaps.manifold_tilt), "length", scales)
        detail = (
            f"One face is open at the top and the other at the bottom: a manifold that sits askew makes {by} of that. "
            "Set it level on its end rails and feel again before anything is cut."
        )
        yield note("manifold_askew", "", detail)
    warped = float(np.fmax.reduce(np.abs(gaps.warp)))
    if warped > step:
        detail = f"Corners stand up to {say(warped, 'length', scales)} off the plane: no flat cut removes that warp."
        yield note("face_warped", "", detail)
    missing = float(np.fmax.reduce(cuts.missing))
    if missing > _SAME:
        detail = (
            f"Up to {say(missing, 'length', scales)} would have to be added to a face: no cut mends that. Space the "
            "manifold with a thicker intake gasket, or bring the other head down as much."
        )
        yield note("metal_missing", "", detail)
    if max(float(np.fmax.reduce(cut, axis=None)) for cut in (gaps.cut_to_parallel, cuts.face_cut)) > _SAME:
        yield order_of_work("")
