"""POST /v1/compression-ratio: what the pistons sweep against what is left over them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.cylinders.chambers import MOST_CHAMBERS, Chamber, chambers_of, open_chambers
from headbench.api.cylinders.cylinder import (
    Cylinder,
    cylinder_faults,
    cylinder_notes,
    cylinder_of,
    open_cylinder,
    room_faults,
)
from headbench.api.cylinders.quench import quench_notes
from headbench.api.cylinders.ratio_notes import ratio_notes
from headbench.api.cylinders.wanted import (
    RatioTargetLine,
    RatioTargets,
    ratio_lines,
    ratio_target_notes,
    ratio_targets,
    wanted_faults,
)
from headbench.api.exchange.resource import Resource
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import raise_if_any, repeated_ids
from headbench.api.vocabulary.quantities import (
    Answer,
    Length,
    LengthOut,
    Model,
    RatioOut,
    Units,
    UnitsUsed,
    VolumeOut,
    units_used,
)
from headbench.calc.cylinders import cylinder as calc
from headbench.calc.cylinders.wanted import for_targets
from headbench.calc.judging.touching import is_closed
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

    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName | None, Meta(description="The worst quench check; null = none.")]
    for_targets: Annotated[
        list[RatioTargetLine] | None, Meta(description="What each cylinder needs; null = not asked.")
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def compression_answer(
    cylinder: Cylinder,
    chambers: Sequence[Chamber],
    bank: calc.Compression,
    quench_minimum: float | None,
    *,
    counts: bool = True,
) -> Compression:
    """What the cylinders come to, as it is answered.

    With `counts` false their quench is told and decides nothing: they will be worked on.
    """
    return Compression(
        swept_volume=bank.swept_volume,
        gasket_volume=bank.gasket_volume,
        crevice_volume=bank.crevice_volume,
        intake_closing_lift=cylinder.intake_closing_lift,
        chambers=[
            RatioLine(
                id=chamber.id,
                chamber_volume=over.chamber_volume,
                deck_clearance=over.deck_clearance,
                deck_volume=over.deck_volume,
                clearance_volume=over.clearance_volume,
                quench=over.quench,
                static_ratio=over.static_ratio,
                effective_ratio=over.effective_ratio,
                quench_check=_quench_check(over, quench_minimum, counts=counts),
            )
            for chamber, over in zip(chambers, bank.pistons, strict=True)
        ],
    )


def _quench_check(over: calc.OverPiston, minimum: float | None, *, counts: bool) -> LengthCheck | None:
    # a piston that touches the head is refused though nobody named a limit
    if minimum is None and not is_closed(over.quench):
        return None
    limit = minimum or 0.0
    return length_check(over.quench, limit, "at_least", over.quench_verdict, check_class="damage", counts=counts)


def quench_verdicts(lines: Sequence[RatioLine]) -> list[VerdictName]:
    """The verdicts on the quench, where a limit was named."""
    return [line.quench_check.verdict for line in lines if line.quench_check is not None]


def answer(request: CompressionRatioRequest) -> CompressionRatioAnswer:
    """Answer one request; raises Contradiction."""
    cylinder, chambers, minimum = request.cylinder, request.chambers, request.limits.quench_minimum
    bank = calc.compression(cylinder_of(cylinder), chambers_of(chambers), quench_minimum=minimum or 0.0)

    def faults() -> Iterator[Pointed]:
        yield from repeated_ids([chamber.id for chamber in chambers], "/chambers", "chamber")
        yield from cylinder_faults(cylinder)
        yield from room_faults({"as measured": bank})
        yield from wanted_faults(request.targets)

    raise_if_any(faults())
    found = compression_answer(cylinder, chambers, bank, minimum)
    lines: list[RatioTargetLine] | None = None
    notes: list[Note] = []
    if request.targets is not None:
        needed = for_targets(ratio_targets(request.targets), bank, minimum or 0.0)
        lines = ratio_lines(request.targets, chambers, needed)
        notes = list(ratio_target_notes(request.targets, chambers, needed, minimum))
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
            *ratio_notes(
                cylinder, [(one.id, over.static_ratio) for one, over in zip(chambers, bank.pistons, strict=True)]
            ),
            *quench_notes(bank, cylinder, chambers, minimum),
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
