"""POST /v1/intake-fit: whether a V's manifold seats, by feeler gauge and bolt holes, and what to cut if not."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

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
from headbench.api.intake.faces import IntakeFitRequest, limits_of, readings_of
from headbench.api.intake.findings import intake_fit_notes, open_intake_fit
from headbench.api.intake.manifold import v_faults
from headbench.api.movement.moved import movement_faults
from headbench.api.vocabulary.checks import worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, cautions_for
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import number_of, units_used
from headbench.calc.intake.fit import fit_intake
from headbench.errors import Pointed


def answer(request: IntakeFitRequest) -> IntakeFitAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(_faults(request))
    pair = request.left, request.right
    found = fit_intake(readings_of(request), limits_of(request.limits))
    faces = face_answers(pair, found)
    room = number_of(request.rail_room)
    return IntakeFitAnswer(
        units=units_used(),
        verdict=worst_of([face.verdict for face in faces]),
        explained_by_milling=explained_by_milling(pair, found),
        bank_angle=request.bank_angle,
        face_out_of_true=face_out_of_true(found),
        manifold_cocked_by=found.gaps.manifold_tilt,
        implied_head_drop_uncertainty=found.heads.implied_head_drop_uncertainty,
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
