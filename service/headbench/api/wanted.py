"""What is wanted: inverse questions, answered with what is needed, or with how near one can come."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from msgspec import Meta

from headbench.api.chambers import Chamber
from headbench.api.cylinder import Clearances
from headbench.api.findings import Note, note
from headbench.api.quantities import Answer, CompressionRatio, Length, LengthOut, Model, VolumeOut, say, written
from headbench.calc.compression_ratio import chamber_for_ratio, find_ratio_faults, gasket_for_quench, gasket_for_ratio
from headbench.errors import NotReachable, Pointed
from headbench.units import Scales

NEAREST = Meta(
    description="The nearest that can be had: what is wanted if it can be reached; null while a reading is missing."
)


class RatioWanted(Model, kw_only=True, frozen=True):
    """What the cylinders should come to; each null: not asked."""

    static_ratio: Annotated[CompressionRatio | None, Meta(description="Static compression ratio wanted.")] = None
    quench: Annotated[Length | None, Meta(description="Distance wanted between the flats of crown and head.")] = None
    thinnest_gasket: Annotated[
        Length, Meta(description="The thinnest gasket to be had, compressed; 0 for no limit.")
    ] = 0.0


class ChamberForRatio(Answer, kw_only=True, frozen=True):
    """The chamber that gives a ratio, all else as it is."""

    wanted: Annotated[float, Meta(description="The ratio asked for.")]
    chamber_volume: Annotated[VolumeOut | None, Meta(description="Needed; null if it cannot be had or said.")]
    nearest: Annotated[float | None, NEAREST]


class GasketForRatio(Answer, kw_only=True, frozen=True):
    """The gasket that gives a ratio, all else as it is."""

    wanted: Annotated[float, Meta(description="The ratio asked for.")]
    compressed_thickness: Annotated[LengthOut | None, Meta(description="Needed; null if it cannot be had or said.")]
    nearest: Annotated[float | None, NEAREST]


class GasketForQuench(Answer, kw_only=True, frozen=True):
    """The gasket that gives a quench, all else as it is."""

    wanted: Annotated[LengthOut, Meta(description="The quench asked for.")]
    compressed_thickness: Annotated[LengthOut | None, Meta(description="Needed; null if it cannot be had or said.")]
    nearest: Annotated[LengthOut | None, NEAREST]


class RatioWantedLine(Answer, kw_only=True, frozen=True):
    """What one cylinder needs; each null where it was not asked."""

    id: Annotated[str, Meta(description="The chamber.")]
    chamber_for_ratio: ChamberForRatio | None
    gasket_for_ratio: GasketForRatio | None
    gasket_for_quench: GasketForQuench | None


@dataclass(frozen=True, slots=True)
class Reached:
    """An inverse question's answer, in SI.

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


def as_written(value: float, quantity: str | None, scales: Scales) -> float | None:
    """An SI number as it is answered, null for NaN; a plain ratio has no quantity."""
    shown: float | None = written(np.array([value if quantity is None else scales[quantity].from_si(value)]))[0]
    return shown


def unreachable(reached: Reached, chamber: str, what: str, nearest: str, pointer: str) -> Iterator[Note]:
    """The note on what cannot be reached."""
    if reached.why:
        detail = f"Chamber {chamber}: {what} cannot be had: {reached.why}. The nearest is {nearest}."
        yield note("not_reachable", pointer, detail)


def wanted_faults(wanted: RatioWanted | None) -> Iterator[Pointed]:
    """Ratios that no engine has."""
    if wanted is not None and wanted.static_ratio is not None:
        for _ in find_ratio_faults(np.array([wanted.static_ratio]), np.full(1, np.nan)):
            detail = f"a compression ratio of {wanted.static_ratio:g} is none; it must be above 1"
            yield Pointed("/wanted/static_ratio", detail)


def ratio_wanted(
    wanted: RatioWanted, chambers: Sequence[Chamber], swept_volume: float, clearances: Clearances, scales: Scales
) -> tuple[list[RatioWantedLine], list[Note]]:
    """What every cylinder needs, and what to say where it cannot be had."""
    lines: list[RatioWantedLine] = []
    notes: list[Note] = []
    thinnest = wanted.thinnest_gasket * scales["length"].factor
    area = float(clearances.opening_area[0])

    def for_ratio(chamber: str, by: str, quantity: str, found: Reached) -> dict[str, float | None]:
        what = f"a ratio of {wanted.static_ratio:g} by {by}"
        notes.extend(unreachable(found, chamber, what, f"{found.nearest:.2f}", "/wanted/static_ratio"))
        field = "chamber_volume" if quantity == "volume" else "compressed_thickness"
        return {
            field: as_written(found.needed, quantity, scales),
            "nearest": as_written(found.nearest, None, scales),
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
            by_chamber = ChamberForRatio(wanted=ratio, **for_ratio(chamber.id, "the chamber", "volume", found))
            found = reach(gasket_for_ratio, ratio, swept_volume, without_gasket, area, thinnest)
            by_gasket = GasketForRatio(wanted=ratio, **for_ratio(chamber.id, "the gasket", "length", found))
        if wanted.quench is not None:
            by_quench, more = _gasket_for_quench(wanted.quench, chamber.id, deck_clearance, thinnest, scales)
            notes += more
        lines.append(
            RatioWantedLine(
                id=chamber.id, chamber_for_ratio=by_chamber, gasket_for_ratio=by_gasket, gasket_for_quench=by_quench
            )
        )
    return lines, notes


def _gasket_for_quench(
    wanted: float, chamber: str, deck_clearance: float, thinnest: float, scales: Scales
) -> tuple[GasketForQuench, Iterator[Note]]:
    found = reach(gasket_for_quench, scales["length"].to_si(wanted), deck_clearance, thinnest)
    answered = GasketForQuench(
        wanted=wanted,
        compressed_thickness=as_written(found.needed, "length", scales),
        nearest=as_written(found.nearest, "length", scales),
    )
    what = f"a quench of {wanted:g} {scales['length'].unit}"
    return answered, unreachable(found, chamber, what, say(found.nearest, "length", scales), "/wanted/quench")
