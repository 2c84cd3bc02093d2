"""POST /v1/intake-fit: whether a V's manifold seats, by feeler gauge and bolt holes, and what to cut if not."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np

from headbench.api.exchange.resource import Resource
from headbench.api.intake.answer import (
    IntakeFitAnswer,
    cuts_by_readings,
    explained_by_milling,
    face_answers,
    face_out_of_true,
    manifold_as_measured,
    sealing_by_readings,
    seated_manifold,
)
from headbench.api.intake.faces import (
    REQUEST_COLUMNS,
    FaceFindings,
    IntakeFitRequest,
    cut_at_an_angle,
    gaps_of,
    head_drops,
    limits_of,
    misalignments,
    unlike_any_intake,
)
from headbench.api.intake.findings import cocked, intake_fit_notes, open_intake_fit
from headbench.api.intake.manifold import v_faults
from headbench.api.movement.moved import movement_faults
from headbench.api.vocabulary.checks import worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, cautions_for
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import as_written, units_used
from headbench.calc.intake.gaps import (
    cuts_from_readings,
    expected_readings,
    face_gaps,
    heads_from_readings,
    sealing_from_readings,
    seated,
)
from headbench.calc.judging.limits import GAUGE_STEP, MISALIGNMENT_STEP
from headbench.errors import Pointed


def answer(request: IntakeFitRequest) -> IntakeFitAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(_faults(request))
    row = {name: float(column[0]) for name, column in REQUEST_COLUMNS.of([request]).items()}
    found = _find(request, row)
    limits = limits_of(request.limits)
    faces = face_answers((request.left, request.right), found, limits)
    room = row["rail_room"]
    return IntakeFitAnswer(
        units=units_used(),
        verdict=worst_of([face.verdict for face in faces]),
        explained_by_milling=explained_by_milling(faces),
        bank_angle=request.bank_angle,
        face_out_of_true=face_out_of_true(faces),
        manifold_cocked_by=as_written(found.gaps.manifold_tilt),
        implied_head_drop_uncertainty=as_written(found.heads.implied_head_drop_uncertainty),
        manifold_as_measured=manifold_as_measured(found.heads),
        seated=seated_manifold(found.seated),
        cuts=cuts_by_readings(found.cuts, room),
        sealing_first=sealing_by_readings(found.sealing, room),
        left=faces[0],
        right=faces[1],
        open_items=list(open_intake_fit(request, found)),
        notes=[PLAIN_COMPARISON, *intake_fit_notes(request, found, faces, room)],
        cautions=cautions_for("lifting", "milling"),
    )


def _faults(request: IntakeFitRequest) -> Iterator[Pointed]:
    yield from v_faults(request.bank_angle, request.face_tilt, "")
    for side, face in zip(("left", "right"), (request.left, request.right), strict=True):
        if face.milling is not None:
            yield from movement_faults(face.milling, f"/{side}/milling")


def _find(request: IntakeFitRequest, row: dict[str, float]) -> FaceFindings:
    """What the readings come to."""
    pair = request.left, request.right
    angles = row["bank_angle"], row["face_tilt"]
    readings = gaps_of(pair, row["intake_gasket_thickness"])
    misalignment = misalignments(pair)
    gaps = face_gaps(readings)
    gauge_step = GAUGE_STEP.value if request.gauge_step is None else row["gauge_step"]
    # a manifold that sits cocked, or a head that was turned, passes for heads that dropped by different amounts
    manifold_cocked = cocked(gaps, gauge_step)
    blind = manifold_cocked or any(cut_at_an_angle(face) for face in pair)
    drops = head_drops(pair)
    odd_gaps, odd_holes = unlike_any_intake(readings), unlike_any_intake(misalignment)
    # no cut is told from a reading that cannot be right
    odd = odd_gaps.any() or odd_holes.any()
    told, told_holes = (np.full_like(one, np.nan) if odd else one for one in (readings, misalignment))
    return FaceFindings(
        gaps=gaps,
        seated=seated(readings, misalignment, row["rail_room"], *angles),
        heads=heads_from_readings(
            np.full(2, np.nan) if blind else gaps.gap,
            misalignment,
            *angles,
            gauge_step=gauge_step,
            misalignment_step=(
                MISALIGNMENT_STEP.value if request.misalignment_step is None else row["misalignment_step"]
            ),
        ),
        head_drop=drops,
        expected=expected_readings(drops, row["intake_gasket_thickness"], *angles),
        cuts=cuts_from_readings(told, told_holes, *angles),
        sealing=sealing_from_readings(told, misalignment, *angles),
        cocked=manifold_cocked,
        odd_gaps=odd_gaps,
        odd_holes=odd_holes,
    )


RESOURCE: Final = Resource(
    kind="intake-fit",
    operation_id="fitIntake",
    summary="Intake faces by feeler gauge and bolt holes",
    description="Enter gaps and bolt holes; get whether the manifold seats, what to cut, and whether the milling "
    "explains it.",
    tag="Milling",
    request=IntakeFitRequest,
    answer=IntakeFitAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("intake_fit.json"),
)
