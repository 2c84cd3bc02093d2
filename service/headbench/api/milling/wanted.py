"""What is wanted of a milled head: how deep to cut for it, or how near one can come."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.chambers import MilledChamber
from headbench.api.cylinders.cylinder import Clearances
from headbench.api.cylinders.wanted import (
    NEAREST,
    NEEDED,
    RatioTargetLine,
    RatioTargets,
    Reached,
    ratio_wanted,
    reach,
    unreachable,
)
from headbench.api.milling.chambers import MilledChambers
from headbench.api.movement.moved import order_of_work
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import (
    Answer,
    Columns,
    LengthOut,
    PositiveVolume,
    RatioOut,
    VolumeOut,
    as_written,
)
from headbench.api.vocabulary.saying import say, say_ratios, shows
from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape
from headbench.calc.milling.equal_chambers import EqualChambers, equal_chambers
from headbench.calc.movement.movement import cut_for_ratio, cut_for_volume
from headbench.errors import NotReachable


class MillingTargets(RatioTargets, kw_only=True, frozen=True):
    """What is wanted of the head. Depths are of one flat cut from the head as it was measured."""

    chamber_volume: Annotated[
        PositiveVolume | None,
        Meta(
            description="Chamber volume wanted, to the new deck, sunk valves included; null = not asked.",
            examples=[54.5],
        ),
    ] = None
    equal_chambers: Annotated[
        bool,
        Meta(
            description="True brings all chambers to chamber_volume, or to the smallest one if that is not given.",
            examples=[True],
        ),
    ] = False

    @property
    def depth_fields(self) -> list[str]:
        """The fields of the answer that say how deep to cut."""
        asked = {
            "depth_for_volume": self.chamber_volume is not None,
            "depth_for_ratio": self.static_ratio is not None,
            "equal_chambers": self.equal_chambers,
        }
        return [field for field, wanted in asked.items() if wanted]


class DepthForVolume(Answer, kw_only=True, frozen=True):
    """The cut that leaves a chamber volume."""

    target: Annotated[VolumeOut, Meta(description="Volume wanted.")]
    depth: Annotated[LengthOut | None, Meta(description=f"Depth of cut needed; {NEEDED}")]
    nearest: Annotated[VolumeOut | None, NEAREST]


class DepthForRatio(Answer, kw_only=True, frozen=True):
    """The cut that gives a ratio, with the block and the gasket as they will be."""

    target: Annotated[RatioOut, Meta(description="Ratio wanted.")]
    depth: Annotated[LengthOut | None, Meta(description=f"Depth of cut needed; {NEEDED}")]
    nearest: Annotated[RatioOut | None, NEAREST]


class DepthLine(Answer, kw_only=True, frozen=True):
    """How deep to cut for one chamber."""

    id: Annotated[str, Meta(description="The chamber.")]
    depth_for_volume: Annotated[DepthForVolume | None, Meta(description="Cut for the volume wanted; null = not asked.")]
    depth_for_ratio: Annotated[
        DepthForRatio | None,
        Meta(description="Cut for the ratio wanted; null = not asked, or no cylinder given."),
    ]


class EqualNumbers(Answer, kw_only=True, frozen=True):
    """One chamber of a bank that is made equal."""

    id: Annotated[str, Meta(description="The chamber.")]
    depth: Annotated[
        LengthOut | None,
        Meta(description="Cut for this chamber alone, 0 if none; null = not measured."),
    ]
    chamber_volume: Annotated[
        VolumeOut | None,
        Meta(description="Chamber volume after the common cut; null = not measured, or it can't be reached."),
    ]
    volume_to_open: Annotated[
        VolumeOut | None,
        Meta(description="Volume still to be opened up; null = not measured, or it can't be reached."),
    ]


class EqualAnswer(Answer, kw_only=True, frozen=True):
    """How the chambers of the bank become equal: the least cut, and what a cut cannot do."""

    target: Annotated[VolumeOut | None, Meta(description="The volume all are brought to; null = not measured.")]
    common_cut: Annotated[LengthOut | None, Meta(description=f"Shallowest single cut; {NEEDED}")]
    nearest: Annotated[VolumeOut | None, NEAREST]
    spread: Annotated[
        VolumeOut | None, Meta(description=f"Largest less smallest chamber after the common cut; {NEEDED}")
    ]
    complete: Annotated[
        bool, Meta(description="False while a chamber is not measured: it may be larger than those that are.")
    ]
    chambers: Annotated[list[EqualNumbers], Meta(description="Every chamber.")]


class MillingForTargets(Answer, kw_only=True, frozen=True):
    """What it takes to get there: cut, chamber or gasket."""

    depths: Annotated[list[DepthLine], Meta(description="How deep to cut; one depth serves the whole head.")]
    chambers: Annotated[
        list[RatioTargetLine] | None,
        Meta(description="Chamber or gasket instead, with this cut taken; null = no cylinder given."),
    ]
    equal_chambers: Annotated[EqualAnswer | None, Meta(description="Cut for equal chambers; null = not asked.")]


_EQUAL = Columns(EqualNumbers)
_UNKNOWN: Final = Reached(needed=math.nan, nearest=math.nan, why="")


@dataclass(frozen=True, slots=True)
class Ratios:
    """What a ratio needs beside the chamber: swept volume [m3], and the clearances after the work."""

    swept_volume: float
    clearances: Clearances


def milling_wanted(
    wanted: MillingTargets,
    chambers: Sequence[MilledChamber],
    milled: MilledChambers,
    ratios: Ratios | None,
    deepest: float,
    quench_minimum: float | None,
) -> tuple[MillingForTargets, list[Note]]:
    """What gives what is wanted, and what to say about it.

    `deepest` is the most that may come off [m].
    """
    notes: list[Note] = []
    uncut = milled.chamber_volume_before + milled.sunk_volume
    depths = []
    for place, (chamber, volume) in enumerate(zip(chambers, uncut.tolist(), strict=True)):
        for_volume = for_ratio = None
        if wanted.chamber_volume is not None:
            for_volume, more = _depth_for_volume(wanted.chamber_volume, chamber, volume, milled, deepest)
            notes += more
        if wanted.static_ratio is not None and ratios is not None:
            known = ratios.swept_volume, float(ratios.clearances.without_chamber[place]), volume
            for_ratio, more = _depth_for_ratio(wanted.static_ratio, chamber, known, milled, deepest)
            notes += more
        depths.append(DepthLine(id=chamber.id, depth_for_volume=for_volume, depth_for_ratio=for_ratio))
    cylinders = None
    if ratios is not None:
        cylinders, of_ratio = ratio_wanted(wanted, chambers, ratios.swept_volume, ratios.clearances, quench_minimum)
        notes += of_ratio
    equal = None
    if wanted.equal_chambers:
        equal, more = _equal(wanted, chambers, uncut, milled.shape, deepest)
        notes += more
    if _asks_for_a_cut(depths, equal):
        notes.append(order_of_work("/targets"))
    return MillingForTargets(depths=depths, chambers=cylinders, equal_chambers=equal), notes


def _depth_for_volume(
    wanted: float, chamber: MilledChamber, volume: float, milled: MilledChambers, deepest: float
) -> tuple[DepthForVolume, list[Note]]:
    found = _UNKNOWN
    if milled.shape is not None:
        found = reach(cut_for_volume, wanted, volume, milled.shape, deepest)
    answered = DepthForVolume(
        target=wanted,
        depth=as_written(found.needed),
        nearest=as_written(found.nearest),
    )
    asked = say(wanted, "volume")
    nearest = say(found.nearest, "volume")
    notes = [
        *unreachable(found, chamber.id, asked, "milling", nearest, "/targets/chamber_volume"),
        *_beyond_pours(found.needed, f"Chamber {chamber.id}: the depth for {asked}", milled.shape),
    ]
    return answered, notes


def _depth_for_ratio(
    wanted: float,
    chamber: MilledChamber,
    known: tuple[float, float, float],
    milled: MilledChambers,
    deepest: float,
) -> tuple[DepthForRatio, list[Note]]:
    found = _UNKNOWN if milled.shape is None else reach(cut_for_ratio, wanted, *known, milled.shape, deepest)
    answered = DepthForRatio(
        target=wanted,
        depth=as_written(found.needed),
        nearest=as_written(found.nearest),
    )
    ratio, nearest = say_ratios(wanted, found.nearest)
    notes = [
        *unreachable(found, chamber.id, ratio, "milling", nearest, "/targets/static_ratio"),
        *_beyond_pours(found.needed, f"Chamber {chamber.id}: the depth for {ratio}", milled.shape),
    ]
    return answered, notes


def _beyond_pours(depth: float, which: str, shape: ChamberShape | None) -> Iterator[Note]:
    """That a depth asked for is extrapolated."""
    beyond = math.nan if shape is None else float(shape.beyond_pours(np.array([depth]))[0])
    if shows(beyond, "length"):
        detail = (
            f"{which} goes {say(beyond, 'length')} deeper than the lowest level cc'd; it is extrapolated. cc "
            "the chamber deeper before cutting."
        )
        yield note("beyond_pours", "/chamber_shape", detail)


def _equal(
    wanted: MillingTargets,
    chambers: Sequence[MilledChamber],
    volume: FloatArray,
    shape: ChamberShape | None,
    deepest: float,
) -> tuple[EqualAnswer, list[Note]]:
    """The least cut that leaves no chamber too large, or the nearest volume the largest one can have."""
    asked = None if wanted.chamber_volume is None else wanted.chamber_volume
    measured = ~np.isnan(volume)
    nothing = np.full(len(chambers), np.nan)
    found, nearest, why = (
        EqualChambers(math.nan, nothing, math.nan, nothing, nothing, math.nan, complete=False),
        math.nan,
        "",
    )
    if shape is not None and measured.any():
        try:
            found = equal_chambers(volume, asked, shape, deepest)
            nearest = found.wanted_volume
        except NotReachable as short:
            nearest, why = short.nearest, str(short)
    aim = float(volume[measured].min()) if asked is None and measured.any() else asked
    rows = _EQUAL.rows(
        {"depth": found.cut_each, "chamber_volume": found.chamber_volume, "volume_to_open": found.volume_to_open},
    )
    answered = EqualAnswer(
        target=None if aim is None else as_written(aim),
        common_cut=as_written(found.common_cut),
        nearest=as_written(nearest),
        spread=as_written(found.spread),
        complete=bool(len(chambers) and measured.all()),
        chambers=[EqualNumbers(id=chamber.id, **row) for chamber, row in zip(chambers, rows, strict=True)],
    )
    beyond = _beyond_pours(found.common_cut, "The cut for equal chambers", shape)
    return answered, [*_equal_notes(found, why, nearest), *beyond]


def _equal_notes(found: EqualChambers, why: str, nearest: float) -> Iterator[Note]:
    if why:
        detail = f"Equal chambers can't be reached by milling: {why}. The largest can come to {say(nearest, 'volume')}."
        yield note("not_reachable", "/targets/equal_chambers", detail)
    elif shows(found.spread, "volume"):
        detail = (
            f"One cut takes the same from every chamber, so they stay {say(found.spread, 'volume')} apart: "
            "open up the small chambers first, then mill."
        )
        yield note("stays_unequal", "/targets/equal_chambers", detail)


def _asks_for_a_cut(depths: Sequence[DepthLine], equal: EqualAnswer | None) -> bool:
    asked = [one.depth for line in depths for one in (line.depth_for_volume, line.depth_for_ratio) if one is not None]
    if equal is not None:
        asked.append(equal.common_cut)
    return any(depth is not None and depth > 0.0 for depth in asked)
