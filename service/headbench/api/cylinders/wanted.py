"""What is wanted: inverse questions, answered with what is needed, or with how near one can come."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.chambers import Chamber
from headbench.api.cylinders.cylinder import Clearances
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import (
    Answer,
    CompressionRatio,
    Length,
    LengthOut,
    Model,
    RatioOut,
    VolumeOut,
    as_written,
)
from headbench.api.vocabulary.saying import say, say_ratios
from headbench.calc import FloatArray
from headbench.calc.cylinders.compression_ratio import (
    chamber_for_ratio,
    find_ratio_faults,
    gasket_for_quench,
    gasket_for_ratio,
    quench,
)
from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.errors import NotReachable, Pointed

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


@dataclass(frozen=True, slots=True)
class Reached:
    """An inverse question's answer.

    needed : float, NaN if it cannot be had, or a reading is missing
    nearest : float, NaN if a reading is missing
    why : what is in the way, "" for nothing
    """

    needed: float
    nearest: float
    why: str


def reach(question: Callable[..., float], wanted: float, *known: Any) -> Reached:
    """Ask an inverse question, whose first parameter is what is wanted; what cannot be reached is an answer too."""
    try:
        needed = question(wanted, *known)
    except NotReachable as short:
        return Reached(needed=math.nan, nearest=short.nearest, why=str(short))
    return Reached(needed=needed, nearest=math.nan if math.isnan(needed) else wanted, why="")


def unreachable(reached: Reached, chamber: str, what: str, by: str, nearest: str, pointer: str) -> Iterator[Note]:
    """The note on what can't be reached by one way."""
    if reached.why:
        detail = f"Chamber {chamber}: {what} can't be reached by {by}: {reached.why}. Closest is {nearest}."
        yield note("not_reachable", pointer, detail)


def wanted_faults(wanted: RatioTargets | None) -> Iterator[Pointed]:
    """Ratios that no engine has."""
    if wanted is not None and wanted.static_ratio is not None:
        for _ in find_ratio_faults(np.array([wanted.static_ratio]), np.full(1, np.nan)):
            detail = (
                f"a static ratio of {say_ratios(wanted.static_ratio)[0]} is none: it must be above 1:1; enter 10 for "
                "10:1"
            )
            yield Pointed("/targets/static_ratio", detail)


def ratio_wanted(
    wanted: RatioTargets,
    chambers: Sequence[Chamber],
    swept_volume: float,
    clearances: Clearances,
    quench_minimum: float | None,
) -> tuple[list[RatioTargetLine], list[Note]]:
    """What every cylinder needs, and what to say where it can't be reached; `quench_minimum` as it was written."""
    lines: list[RatioTargetLine] = []
    notes: list[Note] = []
    gaskets: list[float] = []
    thinnest = wanted.thinnest_gasket
    area = float(clearances.opening_area[0])

    def for_ratio(chamber: str, by: str, quantity: str, found: Reached) -> dict[str, float | None]:
        ratio, nearest = say_ratios(wanted.static_ratio or math.nan, found.nearest)
        notes.extend(unreachable(found, chamber, ratio, by, nearest, "/targets/static_ratio"))
        field = "chamber_volume" if quantity == "volume" else "compressed_thickness"
        return {
            field: as_written(found.needed),
            "nearest": as_written(found.nearest),
        }

    rows = zip(
        chambers,
        clearances.without_chamber.tolist(),
        clearances.without_gasket.tolist(),
        clearances.deck_clearance.tolist(),
        strict=True,
    )
    for chamber, without_chamber, without_gasket, deck_clearance in rows:
        by_chamber = by_gasket = by_quench = None
        ratio = wanted.static_ratio
        if ratio is not None:
            found = reach(chamber_for_ratio, ratio, swept_volume, without_chamber)
            by_chamber = ChamberForRatio(target=ratio, **for_ratio(chamber.id, "the chamber", "volume", found))
            found = reach(gasket_for_ratio, ratio, swept_volume, without_gasket, area, thinnest)
            gaskets.append(found.needed)
            by_gasket = GasketForRatio(
                target=ratio,
                quench=as_written(float(quench(deck_clearance, found.needed))),
                **for_ratio(chamber.id, "the gasket", "length", found),
            )
        if wanted.quench is not None:
            by_quench, more = _gasket_for_quench(wanted.quench, chamber.id, deck_clearance, thinnest)
            notes += more
        lines.append(
            RatioTargetLine(
                id=chamber.id, chamber_for_ratio=by_chamber, gasket_for_ratio=by_gasket, gasket_for_quench=by_quench
            )
        )
    if wanted.static_ratio is not None:
        left = quench(clearances.deck_clearance, np.array(gaskets))
        notes += _gaskets_too_thin(wanted.static_ratio, chambers, gaskets, left, quench_minimum)
    return lines, notes


def _gaskets_too_thin(
    ratio: float,
    chambers: Sequence[Chamber],
    gaskets: Sequence[float],
    left: FloatArray,
    quench_minimum: float | None,
) -> Iterator[Note]:
    """That the gasket a ratio needs brings the piston to the head, or nearer than the job allows."""

    def length(value: float) -> str:
        return say(value, "length")

    minimum = quench_minimum or 0.0
    closed = is_closed(left)
    for place in np.flatnonzero(clearance_verdict(left, minimum) == Verdict.REJECT).tolist():
        quenches = float(left[place])
        leaves = (
            f"Chamber {chambers[place].id}: the {length(gaskets[place])} gasket that gives {say_ratios(ratio)[0]} "
            f"leaves {length(quenches)} of quench"
        )
        if closed[place]:
            detail = f"{leaves}: the piston hits the head. Get the ratio by the chamber instead."
            yield note("piston_meets_head", "/targets/static_ratio", detail)
        else:
            detail = f"{leaves}, {length(minimum - quenches)} under the minimum. Get the ratio by the chamber instead."
            yield note("quench_too_small", "/targets/static_ratio", detail)


def _gasket_for_quench(
    wanted: float, chamber: str, deck_clearance: float, thinnest: float
) -> tuple[GasketForQuench, Iterator[Note]]:
    found = reach(gasket_for_quench, wanted, deck_clearance, thinnest)
    answered = GasketForQuench(
        target=wanted,
        compressed_thickness=as_written(found.needed),
        nearest=as_written(found.nearest),
    )
    what = f"{say(wanted, 'length')} of quench"
    nearest = say(found.nearest, "length")
    return answered, unreachable(found, chamber, what, "the gasket", nearest, "/targets/quench")
