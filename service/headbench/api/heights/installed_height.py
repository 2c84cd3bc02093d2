"""POST /v1/installed-height: which shims, and the height every spring then stands at."""

from __future__ import annotations

import math
from itertools import chain
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.heights.doubts import height_doubts, open_doubts, proven_heights, read_back_doubts, sure_bare
from headbench.api.heights.notes import height_notes, slip_notes
from headbench.api.heights.readings import (
    MEASURE_HEIGHT,
    STACK_HELD,
    HeightCorrections,
    HeightReadings,
    corrected_heights,
    height_faults,
    reading_notes,
)
from headbench.api.heights.shims import (
    Shims,
    ShimTotal,
    assumed_shims,
    shim_faults,
    shim_totals,
    shims_at_hand,
    sizes_of,
)
from headbench.api.heights.suspects import find_suspects
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionAnswer, open_readings, raise_if_any
from headbench.api.vocabulary.quantities import Answer, LengthOut, Model, Units, UnitsUsed, number_of, units_used
from headbench.api.vocabulary.targets import HeightLimits, HeightTarget, HeightTargets, limit_of, open_targets
from headbench.api.vocabulary.unplaced_limits import unplaced_limits, worst_with
from headbench.calc.heights.installed_height import Height, ShimsAtHand, set_heights, within_height
from headbench.calc.heights.pockets import Suits
from headbench.calc.judging.verdicts import accepted_if_proven, setting_verdict, within


class InstalledHeightRequest(Model, kw_only=True, frozen=True):
    """The heights of some positions as the height micrometer shows them."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        HeightLimits,
        Meta(description="Tolerance of the installed heights.", examples=[{"installed_height_tolerance": 0.010}]),
    ] = HeightLimits()
    shims: Annotated[
        Shims | None,
        Meta(
            description="The shims at hand; null = the usual sizes, noted.",
            examples=[{"thicknesses": [0.015, 0.030, 0.060]}],
        ),
    ] = None
    height_corrections: Annotated[
        HeightCorrections,
        Meta(description="Deduction and locator of each kind of valve.", examples=[{"intake": {"deduction": 0.062}}]),
    ] = HeightCorrections()
    targets: Annotated[
        HeightTargets,
        Meta(description="Installed heights wanted.", examples=[{"intake": {"installed_height": 1.75}}]),
    ] = HeightTargets()
    positions: Annotated[
        list[HeightReadings],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "measured_height": 1.885}]],
        ),
    ]


class HeightNumbers(PositionAnswer, kw_only=True, frozen=True):
    """How one position comes to its height."""

    measured_height: Annotated[
        LengthOut | None, Meta(description="Height measured with no shims; the mean of repeats; null = not measured.")
    ]
    deduction: Annotated[LengthOut, Meta(description="Deducted from measured_height because of the retainer's step.")]
    locator_thickness: Annotated[
        LengthOut, Meta(description="Deducted from measured_height for a locator that was not in place; 0 if it was.")
    ]
    bare_height: Annotated[
        LengthOut | None,
        Meta(
            description="Height with no shims: measured_height - deduction - locator_thickness; where a head was only "
            "measured with the shims in, height_with_shims + shims_fitted."
        ),
    ]
    target_height: Annotated[LengthOut | None, Meta(description="Target height; null = not given.")]
    shim_needed: Annotated[
        LengthOut | None, Meta(description="Shim that would meet the target exactly; negative: too short already.")
    ]
    shim_stack: Annotated[LengthOut | None, Meta(description="Total thickness of the shims.")]
    figured_height: Annotated[LengthOut | None, Meta(description="bare_height - shim_stack.")]
    height_with_shims: Annotated[
        LengthOut | None, Meta(description="Height measured after assembly, less the deduction; null = not measured.")
    ]
    installed_height: Annotated[
        LengthOut | None,
        Meta(
            description="Height with the shims, valve closed: height_with_shims if it was measured, else "
            "figured_height; null = not measured."
        ),
    ]
    short_by: Annotated[LengthOut | None, Meta(description="How much too short with no shims at all; 0 if it is not.")]


class HeightRunnerUp(Answer, kw_only=True, frozen=True):
    """The next best stack, and what it would give."""

    shims: Annotated[list[LengthOut], Meta(description="Its shims, thickest first.")]
    installed_height: Annotated[LengthOut | None, Meta(description="The height it would give.")]


class HeightLine(HeightNumbers, kw_only=True, frozen=True):
    """One position's height."""

    shims: Annotated[list[LengthOut], Meta(description="The shims to lay, thickest first.")]
    runner_up: Annotated[HeightRunnerUp | None, Meta(description="The next best stack; null = none.")]
    installed_height_check: Annotated[LengthCheck, Meta(description="installed_height less its target.")]
    verdict: Annotated[VerdictName, Meta(description="The verdict of its check.")]


class InstalledHeightAnswer(Answer, kw_only=True, frozen=True):
    """Every position's shims and height."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[HeightLine], Meta(description="A line per position, in the order given.")]
    shim_totals: Annotated[list[ShimTotal], Meta(description="The shims to lay out for all positions.")]
    shim_choice_proven: Annotated[
        bool,
        Meta(
            description="True = the stock is enough, or no better sharing of it exists; false = a better one may exist."
        ),
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def height_runner_up(height: Height, at_hand: ShimsAtHand) -> HeightRunnerUp | None:
    """The next best stack; null where there is none."""
    if height.runner_up is None:
        return None
    return HeightRunnerUp(shims=sizes_of(height.runner_up, at_hand), installed_height=height.runner_up_height)


def answer(request: InstalledHeightRequest) -> InstalledHeightAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions
    read = corrected_heights(positions, request.height_corrections)
    raise_if_any(chain(shim_faults(request.shims), height_faults(positions, read)))
    valves, ids = [position.valve for position in positions], [position.id for position in positions]
    at_hand = shims_at_hand(request.shims)
    limits = {kind: limit_of(request.limits, "installed_height_tolerance", kind) for kind in KINDS}
    wanted = {kind: _wanted(request.targets, kind) for kind in KINDS}
    heights = set_heights(
        [own.bare_height for own in read],
        [wanted[kind] for kind in valves],
        at_hand,
        [Suits((within_height(wanted[kind], limits[kind]),)) for kind in valves],
        [own.height_with_shims for own in read],
    )
    unplaced = [*unplaced_limits(request.limits, valves)]
    suspects = find_suspects(positions, read, request.units.length)
    contradict = [
        height.is_contradicted and sure
        for height, sure in zip(heights.each, sure_bare(positions, read, suspects, request.units.length), strict=True)
    ]
    doubts = [
        *height_doubts(positions, read, suspects, request.units.length),
        *read_back_doubts(ids, heights.each, contradict),
    ]
    proven = proven_heights(doubts, len(positions))
    rejects = request.limits.off_target == "reject"
    checks = [
        height_check(height.deviation, limits[kind], rejects=rejects, proven=sure)
        for height, kind, sure in zip(heights.each, valves, proven, strict=True)
    ]
    return InstalledHeightAnswer(
        units=units_used(),
        verdict=worst_with([check.verdict for check in checks], unplaced),
        positions=[
            HeightLine(
                id=position.id,
                valve=position.valve,
                measured_height=own.measured_height,
                deduction=own.deduction,
                locator_thickness=own.locator_thickness,
                bare_height=own.bare_height,
                target_height=wanted[position.valve],
                shim_needed=height.needed,
                shim_stack=height.shim_stack,
                figured_height=height.figured_height,
                height_with_shims=own.height_with_shims,
                installed_height=height.installed_height,
                short_by=height.short_by,
                shims=sizes_of(height.shims, at_hand),
                runner_up=height_runner_up(height, at_hand),
                installed_height_check=check,
                verdict=check.verdict,
            )
            for position, own, height, check in zip(positions, read, heights.each, checks, strict=True)
        ],
        shim_totals=shim_totals(heights.used, at_hand),
        shim_choice_proven=heights.proven,
        open_items=merged(
            [
                *open_targets(request.targets, valves, ["target_height", *STACK_HELD]),
                *open_readings(positions, "measured_height", ["bare_height", *STACK_HELD], MEASURE_HEIGHT),
                *unplaced,
                *open_doubts(doubts, [["installed_height_check"]] * len(positions)),
            ]
        ),
        notes=[
            PLAIN_COMPARISON,
            *assumed_shims(request.shims),
            *reading_notes(positions, read),
            *slip_notes(positions, read, suspects, request.units.length),
            *height_notes(
                heights.each,
                ids,
                checks,
                proven,
                [own.deduction for own in read],
                at_hand,
                [sizes_of(height.shims, at_hand) for height in heights.each],
                shared_best=heights.proven,
            ),
        ],
        cautions=cautions_for("springs"),
    )


def _wanted(targets: HeightTargets, kind: ValveKind) -> float:
    target: HeightTarget | None = getattr(targets, kind)
    return math.nan if target is None else number_of(target.installed_height)


def height_check(deviation: float, tolerance: float, *, rejects: bool, proven: bool) -> LengthCheck:
    """A height's deviation from its target against the tolerance."""
    off_target = setting_verdict(within(deviation, tolerance), misses_reject=rejects)
    return length_check(deviation, tolerance, "within", accepted_if_proven(off_target, proven), "setting")


RESOURCE: Final = Resource(
    kind="installed-height",
    operation_id="setInstalledHeight",
    summary="Shims and installed height of every position",
    description="Enter the heights; get the shims of every position, and how short it is where shims can't help.",
    tag="Bench",
    request=InstalledHeightRequest,
    answer=InstalledHeightAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("installed_height.json"),
)
