"""Milled chambers: what a cut does to every chamber and to the head beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.chambers import MilledChamber
from headbench.api.checks import LengthCheck, VerdictName, length_checks
from headbench.api.findings import Note, note
from headbench.api.milled import Movement
from headbench.api.quantities import Answer, Columns, LengthOut, VolumeOut, say, shows
from headbench.calc import FloatArray
from headbench.calc.chamber_shape import ChamberShape, from_area
from headbench.calc.milling import ChamberCut, cut_chambers, find_cut_faults, head_thickness_left
from headbench.calc.touching import clearance_verdict
from headbench.errors import Pointed
from headbench.units import Scales


class MilledChamberNumbers(Answer, kw_only=True, frozen=True):
    """What comes off at one chamber, and what that leaves."""

    id: Annotated[str, Meta(description="The chamber.")]
    depth: Annotated[LengthOut | None, Meta(description="What comes off the head's deck at the chamber's middle.")]
    net_approach: Annotated[
        LengthOut | None, Meta(description="How much nearer the head comes to the crank there: depth + block - gasket.")
    ]
    volume_before: Annotated[VolumeOut | None, Meta(description="The chamber as poured.")]
    removed_volume: Annotated[VolumeOut | None, Meta(description="What the cut takes from it.")]
    sunk_volume: Annotated[VolumeOut | None, Meta(description="What its sunk valves add.")]
    chamber_volume: Annotated[VolumeOut | None, Meta(description="The chamber after the cut, to the new deck.")]
    beyond_pours: Annotated[LengthOut | None, Meta(description="How far the cut goes deeper than was poured.")]
    head_thickness_left: Annotated[LengthOut | None, Meta(description="Deck to cover rail, after the cut.")]


class MilledChamberLine(MilledChamberNumbers, kw_only=True, frozen=True):
    """One chamber after the cut."""

    head_thickness_check: Annotated[LengthCheck | None, Meta(description="Null: no least thickness was named.")]


@dataclass(frozen=True, slots=True)
class MilledChambers:
    """All chambers before and after, in SI: arrays (C,).

    depth, approach, thickness_left : [m]
    volume_before, sunk_volume : [m3]
    cut : ChamberCut
    shape : ChamberShape or None, None where nobody gave it
    """

    depth: FloatArray
    approach: FloatArray
    thickness_left: FloatArray
    volume_before: FloatArray
    sunk_volume: FloatArray
    cut: ChamberCut
    shape: ChamberShape | None


_CHAMBER = Columns(MilledChamber)
_NUMBERS = Columns(MilledChamberNumbers)
# With nothing cut no shape is needed to know what is left.
_ANY_SHAPE = from_area(0.0)
_NO_SHAPE = from_area(math.nan)


def mill_chambers(
    chambers: Sequence[MilledChamber],
    shape: ChamberShape | None,
    movement: Movement,
    sunk_volume: FloatArray,
    scales: Scales,
) -> MilledChambers:
    """What the cut does to every chamber; `sunk_volume` is what each one's valves add [m3]."""
    columns = _CHAMBER.to_si(chambers, scales)
    depth = movement.depth_at(columns["distance_across"])
    used = shape or (_ANY_SHAPE if movement.nothing_cut else _NO_SHAPE)
    return MilledChambers(
        depth=depth,
        approach=movement.approach_at(columns["distance_across"]),
        thickness_left=head_thickness_left(columns["head_thickness"], depth),
        volume_before=columns["chamber_volume"],
        sunk_volume=sunk_volume,
        cut=cut_chambers(columns["chamber_volume"], depth, used, sunk_volume),
        shape=shape,
    )


def chamber_cut_faults(milled: MilledChambers, chambers: Sequence[MilledChamber], scales: Scales) -> Iterator[Pointed]:
    """Cuts that leave no chamber or no head, or pass a chamber by."""
    thickness = _CHAMBER.to_si(chambers, scales)["head_thickness"]
    shape = milled.shape or _NO_SHAPE
    for fault, place in find_cut_faults(milled.depth, milled.volume_before, shape, thickness):
        which, pointer = f"chamber {chambers[place].id}", f"/chambers/{place}"
        depth = say(float(milled.depth[place]), "length", scales)
        match fault:
            case "deeper_than_chamber":
                volume = say(float(milled.volume_before[place]), "volume", scales)
                detail = f"a cut of {depth} takes all of {which}, which holds {volume}"
                yield Pointed(f"{pointer}/chamber_volume", detail)
            case "deeper_than_head":
                left = say(float(thickness[place]), "length", scales)
                yield Pointed(f"{pointer}/head_thickness", f"a cut of {depth} leaves nothing of the {left} at {which}")
            case "misses_chamber":
                detail = (
                    f"the wedge has run out before it reaches the middle of {which}: the depth there comes to {depth}"
                )
                yield Pointed(f"{pointer}/distance_across", detail)


def chamber_lines(
    milled: MilledChambers, chambers: Sequence[MilledChamber], least_thickness: float | None, scales: Scales
) -> list[MilledChamberLine]:
    """Every chamber as it is answered; `least_thickness` as the caller wrote it."""
    checks: list[LengthCheck | None] = [None] * len(chambers)
    if least_thickness is not None:
        left, least = milled.thickness_left, scales["length"].to_si(least_thickness)
        checks = [*length_checks(left, least, "at_least", clearance_verdict(left, least), scales, check_class="damage")]
    rows = _NUMBERS.from_si(
        {
            "depth": milled.depth,
            "net_approach": milled.approach,
            "volume_before": milled.volume_before,
            "removed_volume": milled.cut.removed,
            "sunk_volume": milled.sunk_volume,
            "chamber_volume": milled.cut.chamber_volume,
            "beyond_pours": milled.cut.beyond_pours,
            "head_thickness_left": milled.thickness_left,
        },
        scales,
    )
    return [
        MilledChamberLine(id=chamber.id, head_thickness_check=check, **row)
        for chamber, check, row in zip(chambers, checks, rows, strict=True)
    ]


def thickness_verdicts(lines: Sequence[MilledChamberLine]) -> list[VerdictName]:
    """The verdicts on the head's thickness, where a limit was named."""
    return [line.head_thickness_check.verdict for line in lines if line.head_thickness_check is not None]


def chamber_notes(milled: MilledChambers, chambers: Sequence[MilledChamber], scales: Scales) -> Iterator[Note]:
    """Cuts that go deeper than was poured."""
    for place, beyond in enumerate(milled.cut.beyond_pours.tolist()):
        if not shows(beyond, "length", scales):
            continue
        by = say(beyond, "length", scales)
        detail = (
            f"Chamber {chambers[place].id}: the cut goes {by} deeper than the deepest pour; the volume there is "
            "extrapolated. Pour it deeper."
        )
        yield note("beyond_pours", "/chamber_shape", detail)


def deepest_cut(chambers: Sequence[MilledChamber], least_thickness: float | None, scales: Scales) -> float:
    """The most that may come off, by the thinnest place that was measured [m]; infinite if none was."""
    thickness = _CHAMBER.to_si(chambers, scales)["head_thickness"]
    known = thickness[~np.isnan(thickness)]
    least = scales["length"].to_si(least_thickness or 0.0)
    return max(float(known.min()) - least, 0.0) if len(known) else math.inf
