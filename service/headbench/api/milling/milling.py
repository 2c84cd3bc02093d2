"""POST /v1/milling: what comes off, and everything that moves with it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.compression_ratio import Compression, compression, quench_verdicts
from headbench.api.cylinders.cylinder import cylinder_notes, swept_by
from headbench.api.cylinders.quench import quench_notes
from headbench.api.cylinders.ratio_notes import ratio_notes
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.intake.manifold import IntakeSection, intake_section
from headbench.api.intake.notes import intake_notes
from headbench.api.milling.cam_drive import CamDriveAnswer, cam_drive_answer, cam_drive_notes
from headbench.api.milling.chambers import (
    MilledChamberLine,
    chamber_lines,
    chamber_notes,
    deepest_cut,
    thickness_verdicts,
)
from headbench.api.milling.notes import dome_notes, milling_notes, thickness_elsewhere
from headbench.api.milling.open_items import open_milling, unjudged_limits
from headbench.api.milling.request import MilledHead, MillingRequest, mill
from headbench.api.milling.seats import SeatLine, seat_lines, seat_notes
from headbench.api.milling.wanted import MillingForTargets, Ratios, milling_wanted
from headbench.api.pistons.lines import ClearanceSection, clearance_notes, clearance_section
from headbench.api.pushrods.findings import pushrod_notes
from headbench.api.pushrods.lines import PushrodSection, pushrod_section
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged
from headbench.api.vocabulary.quantities import AngleOut, Answer, LengthOut, UnitsUsed, as_written, units_used, written


class CompressionChange(Answer, kw_only=True, frozen=True):
    """Compression ratios and quench before and after the work."""

    before: Annotated[Compression, Meta(description="As measured, with the old gasket; for information only.")]
    after: Annotated[Compression, Meta(description="With the chambers cut, the block decked and the new gasket.")]


class MillingAnswer(Answer, kw_only=True, frozen=True):
    """Every dimension that changed. A section is null where nothing was given for it."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[
        VerdictName | None, Meta(description="The worst of all checks; null = nothing here has a limit.")
    ]
    head_drop: Annotated[
        LengthOut | None,
        Meta(
            description="How far the whole head drops toward the crank: cut + block - gasket; negative: it rises. "
            "Null = an angle cut, see each place."
        ),
    ]
    tilt: Annotated[
        AngleOut,
        Meta(
            description="Lean of the new deck; positive with more off toward the intake face, negative with more off "
            "toward the other edge, 0 for a flat cut."
        ),
    ]
    chambers: Annotated[list[MilledChamberLine], Meta(description="Every chamber after the cut.")]
    compression: Annotated[CompressionChange | None, Meta(description="Ratio and quench; null = no cylinder given.")]
    for_targets: Annotated[MillingForTargets | None, Meta(description="What gives the targets; null = not asked.")]
    seats: Annotated[list[SeatLine], Meta(description="The valves whose seats were cut.")]
    pushrods: Annotated[PushrodSection | None, Meta(description="Pushrods after the work; null = not given.")]
    piston_to_valve: Annotated[
        ClearanceSection | None, Meta(description="Clearances after the work; null = not given.")
    ]
    cam_drive: Annotated[CamDriveAnswer | None, Meta(description="Cam timing after the work; null = no drive given.")]
    intake_side: Annotated[IntakeSection | None, Meta(description="Intake side of a V; null = not given.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def answer(request: MillingRequest) -> MillingAnswer:
    """Answer one request; raises Contradiction."""
    head = mill(request)
    lines = chamber_lines(head.chambers, request.chambers, request.limits.head_thickness_minimum)
    change = _compression(request, head)
    off_target = request.limits.off_target
    pushrods = pushrod_section(head.pushrods, head.pushrod_fit, request.adjuster, off_target) if head.pushrods else None
    clearances = clearance_section(head.clearances, head.clearance_fit) if head.clearances else None
    for_targets, wanted_notes = _for_wanted(request, head)
    drive = request.cam_drive
    return MillingAnswer(
        units=units_used(),
        verdict=_verdict(request, head, lines, change, pushrods, clearances),
        head_drop=as_written(float(head.movement.drop_at(np.full(1, np.nan))[0])),
        tilt=written(np.array(head.movement.tilt)),
        chambers=lines,
        compression=change,
        for_targets=for_targets,
        seats=seat_lines(request.positions, head.sunk),
        pushrods=pushrods,
        piston_to_valve=clearances,
        cam_drive=None if drive is None else cam_drive_answer(drive, head.movement),
        intake_side=None if request.intake_side is None else intake_section(request.intake_side, head.intake),
        open_items=merged(open_milling(request, head, pushrods)),
        notes=_once([*_notes(request, head, change, pushrods), *wanted_notes]),
        cautions=cautions_for("milling", "seats", "lifting", "engine"),
    )


def _once(notes: list[Note]) -> list[Note]:
    """Every sentence once: several cuts ask for the same order of work."""
    first: dict[str, Note] = {}
    for note in notes:
        first.setdefault(note.detail, note)
    return list(first.values())


def _verdict(
    request: MillingRequest,
    head: MilledHead,
    lines: list[MilledChamberLine],
    change: CompressionChange | None,
    pushrods: PushrodSection | None,
    clearances: ClearanceSection | None,
) -> VerdictName | None:
    verdicts = thickness_verdicts(lines)
    if change is not None:
        verdicts += quench_verdicts(change.after.chambers)
    # a limit that nothing can be held against was named for a reason
    verdicts += ["not_measured" for _ in unjudged_limits(request, head)]
    verdicts += [part.verdict for part in (pushrods, clearances) if part is not None and part.verdict is not None]
    return worst_of(verdicts) if verdicts else None


def _compression(request: MillingRequest, head: MilledHead) -> CompressionChange | None:
    if request.cylinder is None or head.before is None or head.after is None:
        return None
    before, after = (
        compression(
            request.cylinder,
            request.chambers,
            volume,
            clearances,
            request.limits.quench_minimum,
            counts=clearances is head.after,
        )
        for volume, clearances in (
            (head.chambers.chamber_volume_before, head.before),
            (head.chambers.cut.chamber_volume, head.after),
        )
    )
    return CompressionChange(before=before, after=after)


def _for_wanted(request: MillingRequest, head: MilledHead) -> tuple[MillingForTargets | None, list[Note]]:
    if request.targets is None:
        return None, []
    ratios = None
    if request.cylinder is not None and head.after is not None:
        ratios = Ratios(float(swept_by(request.cylinder)[0]), head.after)
    deepest = deepest_cut(request.chambers, request.limits.head_thickness_minimum)
    quench_minimum = request.limits.quench_minimum
    return milling_wanted(request.targets, request.chambers, head.chambers, ratios, deepest, quench_minimum)


def _notes(
    request: MillingRequest,
    head: MilledHead,
    change: CompressionChange | None,
    pushrods: PushrodSection | None,
) -> Iterator[Note]:
    movement = head.movement
    yield PLAIN_COMPARISON
    limits = request.limits
    yield from chamber_notes(head.chambers, request.chambers, limits.head_thickness_minimum)
    if limits.head_thickness_minimum is not None:
        yield from thickness_elsewhere(movement, request.chambers, head.chambers.depth)
    quench = np.empty(0) if head.after is None else head.after.quench
    yield from milling_notes(movement, quench)
    if request.cylinder is not None:
        yield from cylinder_notes(request.cylinder)
        ratios = [] if change is None else [(line.id, line.static_ratio) for line in change.after.chambers]
        yield from ratio_notes(request.cylinder, ratios)
        yield from dome_notes(movement, request.cylinder)
        yield from quench_notes(quench, request.cylinder, request.chambers, limits.quench_minimum)
    yield from seat_notes(request.positions, head.sunk)
    if pushrods is not None:
        yield from pushrod_notes(pushrods, head.pushrods, head.pushrod_fit, request.lifters, request.adjuster, movement)
    yield from clearance_notes(head.clearances, head.clearance_fit, movement)
    if request.cam_drive is not None:
        yield from cam_drive_notes(request.cam_drive, movement)
    if request.intake_side is not None:
        yield from intake_notes(request.intake_side, head.intake)


RESOURCE: Final = Resource(
    kind="milling",
    operation_id="millHead",
    summary="Every dimension that milling changes",
    description="Enter the cut; get every dimension it changes, what is still safe, and what needs a cut elsewhere.",
    tag="Milling",
    request=MillingRequest,
    answer=MillingAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("milling.json"),
)
