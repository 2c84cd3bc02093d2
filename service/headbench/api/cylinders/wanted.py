"""What is wanted: inverse questions, answered with what is needed, or with how near one can come."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.cylinders.chambers import Chamber
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import (
    Answer,
    CompressionRatio,
    Length,
    LengthOut,
    Model,
    RatioOut,
    VolumeOut,
    number_of,
)
from headbench.api.vocabulary.saying import say, say_ratios
from headbench.calc.cylinders import wanted as calc
from headbench.calc.cylinders.compression_ratio import find_ratio_faults
from headbench.calc.cylinders.wanted import ForTargets, Reached
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.errors import Pointed

NEAREST = Meta(description="The closest that can be reached: what is wanted if it can; null = a reading is missing.")
NEEDED: Final = "null = it can't be reached, or a reading is missing."


class RatioTargets(Model, kw_only=True, frozen=True):
    """Ratio and quench wanted."""

    static_ratio: Annotated[
        CompressionRatio | None,
        Meta(description="Static compression ratio wanted; null = not asked.", examples=[10.0]),
    ] = None
    quench: Annotated[
        Length | None,
        Meta(description="Quench wanted, flat of the piston to flat of the head; null = not asked.", examples=[0.040]),
    ] = None
    thinnest_gasket: Annotated[
        Length,
        Meta(description="Thinnest gasket you can get, compressed; 0 for no limit.", examples=[0.015]),
    ] = 0.0


class ChamberForRatio(Answer, kw_only=True, frozen=True):
    """The chamber that gives a ratio, all else as it is."""

    target: Annotated[RatioOut, Meta(description="Ratio wanted.")]
    chamber_volume: Annotated[VolumeOut | None, Meta(description=f"Chamber volume needed; {NEEDED}")]
    nearest: Annotated[RatioOut | None, NEAREST]


class GasketForRatio(Answer, kw_only=True, frozen=True):
    """The gasket that gives a ratio, all else as it is."""

    target: Annotated[RatioOut, Meta(description="Ratio wanted.")]
    compressed_thickness: Annotated[LengthOut | None, Meta(description=f"Compressed thickness needed; {NEEDED}")]
    quench: Annotated[
        LengthOut | None, Meta(description="Quench with that gasket; 0 or less and the piston hits the head.")
    ]
    nearest: Annotated[RatioOut | None, NEAREST]


class GasketForQuench(Answer, kw_only=True, frozen=True):
    """The gasket that gives a quench, all else as it is."""

    target: Annotated[LengthOut, Meta(description="Quench wanted.")]
    compressed_thickness: Annotated[LengthOut | None, Meta(description=f"Compressed thickness needed; {NEEDED}")]
    nearest: Annotated[LengthOut | None, NEAREST]


class RatioTargetLine(Answer, kw_only=True, frozen=True):
    """What one cylinder needs."""

    id: Annotated[str, Meta(description="The chamber.")]
    chamber_for_ratio: Annotated[
        ChamberForRatio | None, Meta(description="Chamber that gives the ratio wanted; null = not asked.")
    ]
    gasket_for_ratio: Annotated[
        GasketForRatio | None, Meta(description="Gasket that gives the ratio wanted; null = not asked.")
    ]
    gasket_for_quench: Annotated[
        GasketForQuench | None, Meta(description="Gasket that gives the quench wanted; null = not asked.")
    ]


def unreachable(reached: Reached, chamber: str, what: str, by: str, nearest: str, pointer: str) -> Iterator[Note]:
    """The note on what can't be reached by one way."""
    if reached.why:
        detail = f"Chamber {chamber}: {what} can't be reached by {by}: {reached.why}. Closest is {nearest}."
        yield note("not_reachable", pointer, detail)


def wanted_faults(wanted: RatioTargets | None) -> Iterator[Pointed]:
    """Ratios that no engine has."""
    if wanted is not None and wanted.static_ratio is not None:
        for _ in find_ratio_faults([wanted.static_ratio], []):
            detail = (
                f"a static ratio of {say_ratios(wanted.static_ratio)[0]} is none: it must be above 1:1; enter 10 for "
                "10:1"
            )
            yield Pointed("/targets/static_ratio", detail)


def ratio_targets(wanted: RatioTargets) -> calc.RatioTargets:
    """What is wanted of the bank."""
    return calc.RatioTargets(number_of(wanted.static_ratio), number_of(wanted.quench), wanted.thinnest_gasket)


def ratio_lines(
    wanted: RatioTargets, chambers: Sequence[Chamber], found: Sequence[ForTargets]
) -> list[RatioTargetLine]:
    """What every cylinder needs, as it is answered."""
    return [
        RatioTargetLine(
            id=chamber.id,
            chamber_for_ratio=None
            if one.chamber is None
            else ChamberForRatio(
                target=number_of(wanted.static_ratio), chamber_volume=one.chamber.needed, nearest=one.chamber.nearest
            ),
            gasket_for_ratio=None
            if one.gasket is None
            else GasketForRatio(
                target=number_of(wanted.static_ratio),
                compressed_thickness=one.gasket.needed,
                quench=one.quench_with_gasket,
                nearest=one.gasket.nearest,
            ),
            gasket_for_quench=None
            if one.gasket_for_quench is None
            else GasketForQuench(
                target=number_of(wanted.quench),
                compressed_thickness=one.gasket_for_quench.needed,
                nearest=one.gasket_for_quench.nearest,
            ),
        )
        for chamber, one in zip(chambers, found, strict=True)
    ]


def ratio_target_notes(
    wanted: RatioTargets, chambers: Sequence[Chamber], found: Sequence[ForTargets], quench_minimum: float | None
) -> Iterator[Note]:
    """What to say where what is wanted can't be reached, or a gasket brings the piston too near."""
    ratio = number_of(wanted.static_ratio)
    for chamber, one in zip(chambers, found, strict=True):
        for by, reached in (("the chamber", one.chamber), ("the gasket", one.gasket)):
            if reached is not None and reached.why:
                told, nearest = say_ratios(ratio, reached.nearest)
                yield from unreachable(reached, chamber.id, told, by, nearest, "/targets/static_ratio")
        if one.gasket_for_quench is not None and one.gasket_for_quench.why:
            what = f"{say(number_of(wanted.quench), 'length')} of quench"
            nearest = say(one.gasket_for_quench.nearest, "length")
            yield from unreachable(one.gasket_for_quench, chamber.id, what, "the gasket", nearest, "/targets/quench")
    minimum = quench_minimum or 0.0
    for chamber, one in zip(chambers, found, strict=True):
        if one.gasket is not None and one.quench_verdict == Verdict.REJECT:
            yield _gasket_too_thin(chamber, ratio, one.gasket.needed, one.quench_with_gasket, minimum)


def _gasket_too_thin(chamber: Chamber, ratio: float, gasket: float, quench: float, minimum: float) -> Note:
    """That the gasket a ratio needs brings the piston to the head, or nearer than the job allows."""

    def length(value: float) -> str:
        return say(value, "length")

    leaves = (
        f"Chamber {chamber.id}: the {length(gasket)} gasket that gives {say_ratios(ratio)[0]} "
        f"leaves {length(quench)} of quench"
    )
    if is_closed(quench):
        detail = f"{leaves}: the piston hits the head. Get the ratio by the chamber instead."
        return note("piston_meets_head", "/targets/static_ratio", detail)
    detail = f"{leaves}, {length(minimum - quench)} under the minimum. Get the ratio by the chamber instead."
    return note("quench_too_small", "/targets/static_ratio", detail)
