"""POST /v1/intake-fit: what feeler gauge and bolt holes say about the intake faces of a V."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.checks import VerdictName, worst_of
from headbench.api.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.intake_faces import (
    Face,
    FaceAnswer,
    Steps,
    approaches,
    face_answers,
    gaps_to_si,
    misalignments,
    out_of_true,
)
from headbench.api.intake_v import FaceTilt, HalfAngle, v_faults
from headbench.api.milled import movement_faults, movement_to_si
from headbench.api.milling_notes import order_of_work
from headbench.api.positions import raise_if_any
from headbench.api.quantities import (
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    Units,
    UnitsUsed,
    say,
    shows,
    units_used,
)
from headbench.api.rounding import rounded
from headbench.api.wanted import as_written
from headbench.calc import FloatArray
from headbench.calc.intake_gaps import (
    FaceGaps,
    MeasuredCuts,
    against_milling,
    cuts_from_readings,
    face_gaps,
    told_apart,
)
from headbench.calc.limits import GAUGE_STEP, MISALIGNMENT_STEP
from headbench.errors import Pointed
from headbench.units import Scales


class IntakeFitRequest(Model, kw_only=True, frozen=True):
    """What was felt at both faces, as seen from the front of the engine with the cylinders up."""

    units: Units = Units()
    bank_half_angle: HalfAngle
    face_tilt: FaceTilt = None
    gauge_step: Annotated[
        PositiveLength | None,
        Meta(description="Smallest difference the feeler gauge tells; null: 0.001 in (0.0254 mm)."),
    ] = None
    misalignment_step: Annotated[
        PositiveLength | None,
        Meta(description="Smallest difference that can be told at the bolt holes; null: 0.010 in (0.254 mm)."),
    ] = None
    intake_gasket: Annotated[
        Length,
        Meta(
            description="Compressed thickness of the gasket that goes between face and manifold, felt without it: "
            "taken off every gap. 0 for a manifold that sits metal to metal."
        ),
    ] = 0.0
    left: Face = Face()
    right: Face = Face()


class IntakeFitAnswer(Answer, kw_only=True, frozen=True):
    """Both faces, and the manifold between them."""

    units: UnitsUsed
    verdict: Annotated[
        VerdictName | None, Meta(description="The worst face against its milling; null: no milling was given.")
    ]
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


_REQUEST = Columns(IntakeFitRequest)
_SAME: Final = 1e-12


EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in"},
    "bank_half_angle": 36,
    "face_tilt": 7,
    "gauge_step": 0.001,
    "misalignment_step": 0.005,
    "left": {
        "front": {"top": 0.006, "bottom": 0.002},
        "rear": {"top": 0.005, "bottom": 0.002},
        "misalignment": 0.029,
        "milling": {"cut": {"kind": "flat", "depth": 0.030}, "block_decked": 0.004, "gasket_change": 0.004},
    },
    "right": {
        "front": {"top": 0.005, "bottom": 0.005},
        "rear": {"top": 0.005, "bottom": 0.006},
        "misalignment": 0.030,
    },
}


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
    return rounded(answer(data), data.units)


def answer(request: IntakeFitRequest) -> IntakeFitAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    pair = request.left, request.right

    def faults() -> Iterator[Pointed]:
        yield from v_faults(request.bank_half_angle, request.face_tilt, "", scales)
        for side, face in zip(("left", "right"), pair, strict=True):
            if face.milling is not None:
                yield from movement_faults(face.milling, scales, f"/{side}/milling")

    raise_if_any(faults())
    row = {name: float(column[0]) for name, column in _REQUEST.to_si([request], scales).items()}
    steps = Steps(
        gauge=GAUGE_STEP.value if request.gauge_step is None else row["gauge_step"],
        misalignment=MISALIGNMENT_STEP.value if request.misalignment_step is None else row["misalignment_step"],
    )
    angles = row["bank_half_angle"], row["face_tilt"]
    readings = gaps_to_si(pair, row["intake_gasket"], scales)
    misalignment = misalignments(pair, scales)
    gaps = face_gaps(readings, steps.gauge)
    cuts = cuts_from_readings(readings, misalignment, *angles)
    against = against_milling(gaps.gap, misalignment, approaches(pair, scales), *angles)
    out = out_of_true(gaps)
    faces = face_answers(pair, gaps, cuts, against, out, steps, scales)
    checks = [face.against_milling.verdict for face in faces if face.against_milling is not None]
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
        notes=[
            PLAIN_COMPARISON,
            *_milling_notes(faces, against.implied_approach, scales),
            *_notes(request, gaps, cuts, steps.gauge, scales),
        ],
        cautions=cautions_for("lifting", "milling"),
    )


_WHICH: Final[dict[tuple[bool | None, bool | None], Literal["neither", "left", "right", "both"]]] = {
    (False, False): "neither",
    (True, False): "left",
    (False, True): "right",
    (True, True): "both",
}


def _open_items(request: IntakeFitRequest) -> Iterator[OpenItem]:
    def item(pointer: str, needed_for: list[str], detail: str) -> OpenItem:
        return OpenItem(pointer=pointer, position=None, spring=None, needed_for=needed_for, detail=detail)

    if request.face_tilt is None:
        detail = "Measure how far the intake face is from square to the deck."
        yield item(
            "/face_tilt",
            ["face_cut", "rail_cut", "sideways", "implied_approach", "gap_excess", "misalignment_excess"],
            detail,
        )
    for side, face in zip(("left", "right"), (request.left, request.right), strict=True):
        for name, end in (("front", face.front), ("rear", face.rear)):
            for edge in ("top", "bottom"):
                if getattr(end, edge) is None:
                    detail = f"Feel the gap at the {name} end of the {side} face, {edge} edge."
                    held = ["gap", "taper", "twist", "warp", "cut_to_parallel", "parallel_gap", "face_cut", "missing"]
                    held += ["implied_approach", "gap_excess"]
                    yield item(f"/{side}/{name}/{edge}", held, detail)
        if face.misalignment is None:
            held = ["face_cut", "rail_cut", "sideways", "implied_approach", "misalignment_excess"]
            detail = f"Measure how far the bolt holes of the {side} head are below the manifold's, along the face."
            yield item(f"/{side}/misalignment", held, detail)


def _milling_notes(faces: list[FaceAnswer], implied_approach: FloatArray, scales: Scales) -> Iterator[Note]:
    for side, face, implied in zip(("left", "right"), faces, implied_approach.tolist(), strict=True):
        if face.against_milling is None or face.against_milling.verdict != "reject":
            continue
        known = face.against_milling.net_approach
        told = "Look at gasket, manifold and dowels."
        if not np.isnan(implied) and known is not None:
            by = say(abs(implied), "length", scales)
            told = f"Gap and holes tell of {by} {'nearer' if implied >= 0.0 else 'further away'}, "
            excess = implied - scales["length"].to_si(known)
            if not shows(abs(excess), "length", scales):
                told += "as is known: look at manifold and dowels."
            elif excess > 0.0:
                told += "which is more than is known: was the head or the block milled before? Else look at the dowels."
            else:
                told += "which is less than is known: is the gasket thicker, or was face or manifold cut before?"
        detail = f"The {side} face does not stand as its milling would leave it. {told}"
        yield note("milling_disagrees", f"/{side}/milling", detail)


def _notes(
    request: IntakeFitRequest, gaps: FaceGaps, cuts: MeasuredCuts, step: float, scales: Scales
) -> Iterator[Note]:
    wedges = [
        side
        for side, face in zip(("left", "right"), (request.left, request.right), strict=True)
        if face.milling is not None and not movement_to_si(face.milling, scales).flat
    ]
    for side in wedges:
        detail = (
            f"The {side} head was cut at an angle, which turns its face: hold the gaps against uncut_in_place in the "
            "answer of /v1/milling, which knows the face's sizes."
        )
        yield note("wedge_turns_face", f"/{side}/milling/cut", detail)
    left, right = gaps.taper.tolist()
    if (
        left * right < 0.0
        and bool(told_apart(min(abs(left), abs(right)), step))
        and shows(abs(gaps.manifold_tilt), "length", scales)
    ):
        by = say(abs(gaps.manifold_tilt), "length", scales)
        detail = (
            f"One face is open at the top and the other at the bottom: a manifold that sits askew makes {by} of that. "
            "Set it level on its end rails and feel again before anything is cut."
        )
        yield note("manifold_askew", "", detail)
    warped = float(np.fmax.reduce(np.abs(gaps.warp)))
    if bool(told_apart(warped, step)) and shows(warped, "length", scales):
        detail = f"Corners stand up to {say(warped, 'length', scales)} off the plane: no flat cut removes that warp."
        yield note("face_warped", "", detail)
    missing = float(np.fmax.reduce(cuts.missing))
    if shows(missing, "length", scales):
        # where both faces lack metal there is no head that came down too little
        both = bool((cuts.missing > _SAME).all())
        other = ", or fit thinner head gaskets" if both else ", or bring the other head down as much"
        detail = (
            f"Up to {say(missing, 'length', scales)} would have to be added to a face: no cut mends that. Space the "
            f"manifold with a thicker intake gasket{other}."
        )
        yield note("metal_missing", "", detail)
    if np.fmax.reduce([gaps.cut_to_parallel, cuts.face_cut], axis=None) > _SAME:
        yield order_of_work("")
