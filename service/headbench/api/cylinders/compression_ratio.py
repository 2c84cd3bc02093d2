"""POST /v1/compression-ratio: what the pistons sweep against what is left over them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.chambers import MOST_CHAMBERS, Chamber, open_chambers
from headbench.api.cylinders.cylinder import (
    Clearances,
    Cylinder,
    clearances_over_pistons,
    cylinder_faults,
    cylinder_notes,
    effective_ratios,
    open_cylinder,
    room_faults,
    swept_by,
)
from headbench.api.cylinders.quench import quench_notes
from headbench.api.cylinders.ratio_notes import ratio_notes
from headbench.api.cylinders.wanted import RatioTargetLine, RatioTargets, ratio_wanted, wanted_faults
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import raise_if_any, repeated_ids
from headbench.api.vocabulary.quantities import (
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    RatioOut,
    Units,
    UnitsUsed,
    VolumeOut,
    units_used,
    written,
)
from headbench.calc import FloatArray
from headbench.calc.cylinders.compression_ratio import static_ratio
from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.errors import Pointed

QuenchMinimum = Annotated[
    Length | None,
    Meta(
        description="Minimum quench the engine's maker or builder allows; null = not given (only touching is "
        "rejected).",
        examples=[0.035],
    ),
]


class QuenchLimits(Model, kw_only=True, frozen=True):
    """How near the piston may come to the head."""

    quench_minimum: QuenchMinimum = None


class CompressionRatioRequest(Model, kw_only=True, frozen=True):
    """The cylinders of one bank as they are, and what is wanted of them."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        QuenchLimits, Meta(description="Limits for what is left.", examples=[{"quench_minimum": 0.035}])
    ] = QuenchLimits()
    cylinder: Annotated[
        Cylinder, Meta(description="Bore, stroke, piston and gasket.", examples=[{"bore": 3.84, "stroke": 3.26}])
    ] = Cylinder()
    chambers: Annotated[
        list[Chamber],
        Meta(
            min_length=1,
            max_length=MOST_CHAMBERS,
            description="The bank's chambers.",
            examples=[[{"id": "1", "chamber_volume": 57.3}]],
        ),
    ]
    targets: Annotated[
        RatioTargets | None,
        Meta(description="Ratio or quench wanted; null = not asked.", examples=[{"static_ratio": 10.0}]),
    ] = None


class RatioNumbers(Answer, kw_only=True, frozen=True):
    """What one cylinder's ratio is made of."""

    id: Annotated[str, Meta(description="The chamber.")]
    chamber_volume: Annotated[
        VolumeOut | None, Meta(description="Chamber in the head, to its deck; null = not measured.")
    ]
    deck_clearance: Annotated[
        LengthOut | None, Meta(description="Piston below (+) or above (-) the block deck; null = not measured.")
    ]
    deck_volume: Annotated[
        VolumeOut | None, Meta(description="Cylinder between piston and block deck; null = not measured.")
    ]
    clearance_volume: Annotated[
        VolumeOut | None,
        Meta(description="Clearance volume: all that is left over the piston at TDC; null = not measured."),
    ]
    quench: Annotated[
        LengthOut | None, Meta(description="Flat of the piston to flat of the head at TDC; null = not measured.")
    ]


class RatioLine(RatioNumbers, kw_only=True, frozen=True):
    """One cylinder's ratio."""

    static_ratio: Annotated[
        RatioOut | None, Meta(description="Static compression ratio, BDC to TDC; null = not measured.")
    ]
    effective_ratio: Annotated[
        RatioOut | None,
        Meta(
            description="Effective ratio, from where the intake valve closes at intake_closing_lift; null = "
            "intake_closing or its lift not given."
        ),
    ]
    quench_check: Annotated[
        LengthCheck | None,
        Meta(
            description="Quench against quench_minimum. Touching is rejected whatever the minimum, and shown against 0 "
            "where none was given; null = no minimum given and nothing touches."
        ),
    ]


class Compression(Answer, kw_only=True, frozen=True):
    """Compression ratios and quench of a bank."""

    swept_volume: Annotated[VolumeOut | None, Meta(description="Swept volume of one cylinder; null = not measured.")]
    gasket_volume: Annotated[
        VolumeOut | None, Meta(description="Volume inside the gasket's opening; null = not measured.")
    ]
    crevice_volume: Annotated[
        VolumeOut | None,
        Meta(description="Crevice around the piston above its top ring; 0 if left out, null = not measured."),
    ]
    intake_closing_lift: Annotated[
        LengthOut | None,
        Meta(description="Lift from which the effective ratios count: 0 on the seat; null = not given."),
    ]
    chambers: Annotated[list[RatioLine], Meta(description="Every cylinder.")]


class CompressionRatioAnswer(Compression, kw_only=True, frozen=True):
    """Every cylinder's ratio, and what it takes to change it."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName | None, Meta(description="The worst quench check; null = none.")]
    for_targets: Annotated[
        list[RatioTargetLine] | None, Meta(description="What each cylinder needs; null = not asked.")
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_NUMBERS = Columns(RatioNumbers)
_SET = Columns(Compression)
_CHAMBER = Columns(Chamber)


def compression(
    cylinder: Cylinder,
    chambers: Sequence[Chamber],
    chamber_volume: FloatArray,
    clearances: Clearances,
    quench_minimum: float | None,
    *,
    counts: bool = True,
) -> Compression:
    """What the cylinders come to with these clearances.

    With `counts` false their quench is told and decides nothing: they will be worked on.
    """
    swept = swept_by(cylinder)
    ratios = zip(
        written(static_ratio(swept, clearances.clearance_volume)),
        written(effective_ratios(cylinder, clearances.clearance_volume)),
        strict=True,
    )
    numbers = _NUMBERS.rows(
        {
            "chamber_volume": chamber_volume,
            "deck_clearance": clearances.deck_clearance,
            "deck_volume": clearances.deck_volume,
            "clearance_volume": clearances.clearance_volume,
            "quench": clearances.quench,
        },
    )
    one = {
        "swept_volume": swept,
        "gasket_volume": clearances.gasket_volume,
        "crevice_volume": clearances.crevice_volume,
        "intake_closing_lift": np.array(
            [np.nan if cylinder.intake_closing_lift is None else cylinder.intake_closing_lift]
        ),
    }
    return Compression(
        chambers=[
            RatioLine(id=chamber.id, static_ratio=static, effective_ratio=effective, quench_check=check, **row)
            for chamber, row, (static, effective), check in zip(
                chambers,
                numbers,
                ratios,
                _quench_checks(clearances.quench, quench_minimum, counts=counts),
                strict=True,
            )
        ],
        **_SET.rows(one)[0],
    )


def _quench_checks(quench: FloatArray, minimum: float | None, *, counts: bool) -> list[LengthCheck | None]:
    limit = minimum or 0.0
    judged = clearance_verdict(quench, limit)
    deciding = np.full(quench.shape, counts)
    checks = length_checks(quench, limit, "at_least", judged, check_class="damage", counts=deciding)
    # a piston that touches the head is refused though nobody named a limit
    closed = is_closed(quench).tolist()
    return [check if minimum is not None or touches else None for check, touches in zip(checks, closed, strict=True)]


def quench_verdicts(lines: Sequence[RatioLine]) -> list[VerdictName]:
    """The verdicts on the quench, where a limit was named."""
    return [line.quench_check.verdict for line in lines if line.quench_check is not None]


def answer(request: CompressionRatioRequest) -> CompressionRatioAnswer:
    """Answer one request; raises Contradiction."""
    cylinder, chambers = request.cylinder, request.chambers
    volumes = _CHAMBER.of(chambers)["chamber_volume"]
    clearances = clearances_over_pistons(cylinder, chambers, volumes)

    def faults() -> Iterator[Pointed]:
        yield from repeated_ids([chamber.id for chamber in chambers], "/chambers", "chamber")
        yield from cylinder_faults(cylinder)
        yield from room_faults({"as measured": clearances})
        yield from wanted_faults(request.targets)

    raise_if_any(faults())
    found = compression(cylinder, chambers, volumes, clearances, request.limits.quench_minimum)
    lines: list[RatioTargetLine] | None = None
    notes: list[Note] = []
    if request.targets is not None:
        swept = float(swept_by(cylinder)[0])
        lines, notes = ratio_wanted(request.targets, chambers, swept, clearances, request.limits.quench_minimum)
    verdicts = quench_verdicts(found.chambers)
    return CompressionRatioAnswer(
        units=units_used(),
        verdict=worst_of(verdicts) if verdicts else None,
        swept_volume=found.swept_volume,
        gasket_volume=found.gasket_volume,
        crevice_volume=found.crevice_volume,
        intake_closing_lift=found.intake_closing_lift,
        chambers=found.chambers,
        for_targets=lines,
        open_items=[*open_cylinder(cylinder, chambers), *open_chambers(chambers)],
        notes=[
            PLAIN_COMPARISON,
            *cylinder_notes(cylinder),
            *ratio_notes(cylinder, [(line.id, line.static_ratio) for line in found.chambers]),
            *quench_notes(clearances.quench, cylinder, chambers, request.limits.quench_minimum),
            *notes,
        ],
        cautions=cautions_for(),
    )


RESOURCE: Final = Resource(
    kind="compression-ratio",
    operation_id="findCompressionRatio",
    summary="Static and effective compression ratio of every cylinder",
    description="Enter the cylinders; get every ratio and quench, and the chamber or gasket that gives the ones "
    "wanted.",
    tag="Milling",
    request=CompressionRatioRequest,
    answer=CompressionRatioAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("compression_ratio.json"),
)
