"""POST /v1/milling: what comes off, and everything that moves with it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.cylinders.compression_ratio import Compression, compression_answer, quench_verdicts
from headbench.api.cylinders.cylinder import cylinder_notes
from headbench.api.cylinders.quench import quench_notes
from headbench.api.cylinders.ratio_notes import ratio_notes
from headbench.api.exchange.resource import Resource
from headbench.api.intake.manifold import IntakeSection, intake_section
from headbench.api.intake.notes import intake_notes
from headbench.api.milling.cam_drive import CamDriveAnswer, cam_drive_answer, cam_drive_notes
from headbench.api.milling.chambers import (
    MilledChamberLine,
    chamber_lines,
    chamber_notes,
    thickness_verdicts,
)
from headbench.api.milling.notes import dome_notes, milling_notes, thickness_elsewhere
from headbench.api.milling.open_items import open_milling, unjudged_limits
from headbench.api.milling.request import Milled, MillingRequest, followed
from headbench.api.milling.seats import SeatLine, seat_lines, seat_notes
from headbench.api.milling.wanted import MillingForTargets, wanted_answer, wanted_notes
from headbench.api.pistons.lines import ClearanceSection, clearance_notes, clearance_section
from headbench.api.pushrods.findings import pushrod_notes
from headbench.api.pushrods.lines import PushrodSection, pushrod_section
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged
from headbench.api.vocabulary.quantities import AngleOut, Answer, LengthOut, UnitsUsed, units_used
from headbench.calc.milling.milling import MilledHead


class CompressionChange(Answer, kw_only=True, frozen=True):
    """Compression ratios and quench before and after the work."""

    before: Annotated[Compression, Meta(description="As measured, with the old gasket; for information only.")]
    after: Annotated[Compression, Meta(description="With the chambers cut, the block decked and the new gasket.")]


class MillingAnswer(Answer, kw_only=True, frozen=True):
    """Every dimension that changed. A section is null where nothing was given for it."""

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
    milled = followed(request)
    done, movement, chambers = milled.done, milled.movement, request.chambers
    lines = chamber_lines(done.chambers, chambers, request.limits.head_thickness_minimum)
    change = _compression(request, done)
    pushrods = pushrod_section(milled.pushrods, milled.head.pushrods, done.pushrods) if milled.pushrods else None
    clearances = clearance_section(milled.clearances, done.valves, movement) if milled.clearances else None
    intake = request.intake_side
    return MillingAnswer(
        units=units_used(),
        verdict=_verdict(request, milled, lines, change, pushrods, clearances),
        head_drop=movement.drop_at(math.nan),
        tilt=movement.tilt,
        chambers=lines,
        compression=change,
        for_targets=None
        if request.targets is None or done.wanted is None
        else wanted_answer(request.targets, chambers, done.wanted),
        seats=seat_lines(request.positions, done.seats),
        pushrods=pushrods,
        piston_to_valve=clearances,
        cam_drive=None if done.cam is None else cam_drive_answer(done.cam),
        intake_side=None if intake is None else intake_section(intake, done.intake),
        open_items=merged(open_milling(request, milled, pushrods)),
        notes=_once(_notes(request, milled, pushrods)),
        cautions=cautions_for("milling", "seats", "lifting", "engine"),
    )


def _once(notes: Iterable[Note]) -> list[Note]:
    """Every sentence once: several cuts ask for the same order of work."""
    first: dict[str, Note] = {}
    for note in notes:
        first.setdefault(note.detail, note)
    return list(first.values())


def _verdict(
    request: MillingRequest,
    milled: Milled,
    lines: list[MilledChamberLine],
    change: CompressionChange | None,
    pushrods: PushrodSection | None,
    clearances: ClearanceSection | None,
) -> VerdictName | None:
    verdicts = thickness_verdicts(lines)
    if change is not None:
        verdicts += quench_verdicts(change.after.chambers)
    # a limit that nothing can be held against was named for a reason
    verdicts += ["not_measured" for _ in unjudged_limits(request, milled)]
    verdicts += [part.verdict for part in (pushrods, clearances) if part is not None and part.verdict is not None]
    return worst_of(verdicts) if verdicts else None


def _compression(request: MillingRequest, done: MilledHead) -> CompressionChange | None:
    if request.cylinder is None or done.before is None or done.after is None:
        return None
    cylinder, chambers, minimum = request.cylinder, request.chambers, request.limits.quench_minimum
    return CompressionChange(
        before=compression_answer(cylinder, chambers, done.before, minimum, counts=False),
        after=compression_answer(cylinder, chambers, done.after, minimum),
    )


def _notes(request: MillingRequest, milled: Milled, pushrods: PushrodSection | None) -> Iterator[Note]:
    movement, done, after = milled.movement, milled.done, milled.done.after
    yield PLAIN_COMPARISON
    limits = request.limits
    yield from chamber_notes(done.chambers, request.chambers, limits.head_thickness_minimum)
    if limits.head_thickness_minimum is not None:
        yield from thickness_elsewhere(movement, request.chambers, [one.depth for one in done.chambers])
    yield from milling_notes(movement, [] if after is None else [over.quench for over in after.pistons])
    if request.cylinder is not None:
        yield from cylinder_notes(request.cylinder)
        pistons = [] if after is None else after.pistons
        ratios = [(one.id, over.static_ratio) for one, over in zip(request.chambers, pistons, strict=True)]
        yield from ratio_notes(request.cylinder, ratios)
        yield from dome_notes(movement, request.cylinder)
        if after is not None:
            yield from quench_notes(after, request.cylinder, request.chambers, limits.quench_minimum)
    yield from seat_notes(request.positions, done.seats)
    if pushrods is not None:
        lifters, adjuster = request.lifters, request.adjuster
        yield from pushrod_notes(pushrods, milled.pushrods, done.pushrods, lifters, adjuster, movement)
    yield from clearance_notes(milled.clearances, done.valves, movement)
    if done.cam is not None:
        yield from cam_drive_notes(done.cam, movement)
    if request.intake_side is not None:
        yield from intake_notes(request.intake_side, done.intake)
    if request.targets is not None and done.wanted is not None:
        yield from wanted_notes(request.targets, request.chambers, done.wanted, limits.quench_minimum)


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
