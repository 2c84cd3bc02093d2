"""Milled chambers: what a cut does to every chamber and to the head beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.chambers import MilledChamber
from headbench.api.movement.moved import Movement, run_out
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_checks
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Answer, Columns, LengthOut, VolumeOut
from headbench.api.vocabulary.saying import least_shown, say, say_at_most, shows
from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape, from_area
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.movement.movement import ChamberCut, cut_chambers, find_cut_faults, head_thickness_after
from headbench.errors import Pointed

NOT_MEASURED: Final = "null = not measured"


class MilledChamberNumbers(Answer, kw_only=True, frozen=True):
    """What comes off at one chamber, and what that leaves."""

    id: Annotated[str, Meta(description="The chamber.")]
    depth: Annotated[
        LengthOut | None, Meta(description=f"What comes off the deck at the chamber's middle; {NOT_MEASURED}.")
    ]
    head_drop: Annotated[
        LengthOut | None,
        Meta(description=f"How far the head drops toward the crank there: depth + block - gasket; {NOT_MEASURED}."),
    ]
    chamber_volume_before: Annotated[VolumeOut | None, Meta(description=f"The chamber as it was cc'd; {NOT_MEASURED}.")]
    removed_volume: Annotated[VolumeOut | None, Meta(description=f"What the cut takes from it; {NOT_MEASURED}.")]
    sunk_volume: Annotated[
        VolumeOut | None,
        Meta(
            description="What its sunk valves add to the reading, negative where they stand prouder; 0 if it was cc'd "
            f"after the seats were cut; {NOT_MEASURED}."
        ),
    ]
    chamber_volume_after: Annotated[
        VolumeOut | None, Meta(description=f"The chamber after the cut, to the new deck; {NOT_MEASURED}.")
    ]
    beyond_pours: Annotated[
        LengthOut | None, Meta(description=f"How much deeper the cut goes than the chamber was cc'd; {NOT_MEASURED}.")
    ]
    head_thickness_after: Annotated[
        LengthOut | None, Meta(description=f"Head thickness after the cut, deck to cover rail; {NOT_MEASURED}.")
    ]


class MilledChamberLine(MilledChamberNumbers, kw_only=True, frozen=True):
    """One chamber after the cut."""

    head_thickness_check: Annotated[
        LengthCheck | None,
        Meta(
            description="Thickness left against head_thickness_minimum. A head of which nothing is left is rejected "
            "whatever the minimum, and shown against 0 where none was given; null = no minimum given and some is left."
        ),
    ]


@dataclass(frozen=True, slots=True)
class MilledChambers:
    """All chambers before and after: arrays (C,).

    depth, drop, thickness_left : [m]
    chamber_volume_before, sunk_volume : [m3]
    cut : ChamberCut
    shape : ChamberShape or None, None where nobody gave it
    """

    depth: FloatArray
    drop: FloatArray
    thickness_left: FloatArray
    chamber_volume_before: FloatArray
    sunk_volume: FloatArray
    cut: ChamberCut
    shape: ChamberShape | None


_CHAMBER = Columns(MilledChamber)
_NUMBERS = Columns(MilledChamberNumbers)


def mill_chambers(
    chambers: Sequence[MilledChamber],
    shape: ChamberShape | None,
    movement: Movement,
    sunk_volume: FloatArray,
) -> MilledChambers:
    """What the cut does to every chamber; `sunk_volume` is what each one's valves add [m3]."""
    columns = _CHAMBER.of(chambers)
    depth = movement.depth_at(columns["distance_across"])
    # with nothing cut no shape is needed to know what is left
    used = shape or from_area(0.0 if movement.nothing_cut else math.nan)
    return MilledChambers(
        depth=depth,
        drop=movement.drop_at(columns["distance_across"]),
        thickness_left=head_thickness_after(columns["head_thickness"], depth),
        chamber_volume_before=columns["chamber_volume"],
        sunk_volume=sunk_volume,
        cut=cut_chambers(columns["chamber_volume"], depth, used, sunk_volume),
        shape=shape,
    )


def chamber_cut_faults(milled: MilledChambers, chambers: Sequence[MilledChamber]) -> Iterator[Pointed]:
    """Cuts that leave no chamber or no head, or pass a chamber by."""
    thickness = _CHAMBER.of(chambers)["head_thickness"]
    shape = milled.shape or from_area(math.nan)
    # what nobody knows of the seats makes no chamber smaller
    uncut = milled.chamber_volume_before + np.nan_to_num(milled.sunk_volume)
    filled = uncut <= 0.0
    for place in np.flatnonzero(filled).tolist():
        detail = f"valves that stand prouder fill all of chamber {chambers[place].id}; check their sink and its volume"
        yield Pointed(f"/chambers/{place}/chamber_volume", detail)
    for fault, place in find_cut_faults(milled.depth, np.where(filled, np.nan, uncut), shape, thickness):
        which, pointer = f"chamber {chambers[place].id}", f"/chambers/{place}"
        depth = say(float(milled.depth[place]), "length")
        match fault:
            case "deeper_than_chamber":
                volume = say(float(uncut[place]), "volume")
                detail = f"a cut of {depth} takes all of {which}, {volume}; check depth and volume"
                yield Pointed(f"{pointer}/chamber_volume", detail)
            case "deeper_than_head":
                left = say(float(thickness[place]), "length")
                detail = f"a cut of {depth} leaves nothing of the {left} of head at {which}; check both"
                yield Pointed(f"{pointer}/head_thickness", detail)
            case "misses_chamber":
                detail = run_out(f"the middle of {which}", float(milled.depth[place]))
                yield Pointed(f"{pointer}/distance_across", detail)


def chamber_lines(
    milled: MilledChambers, chambers: Sequence[MilledChamber], thickness_minimum: float | None
) -> list[MilledChamberLine]:
    """Every chamber as it is answered."""
    left, least = milled.thickness_left, (thickness_minimum or 0.0)
    judged = clearance_verdict(left, least)
    # a head that is used up needs no limit to be rejected
    shown = is_closed(left) | (thickness_minimum is not None)
    made = length_checks(left, least, "at_least", judged, check_class="damage")
    checks = [check if show else None for check, show in zip(made, shown.tolist(), strict=True)]
    rows = _NUMBERS.rows(
        {
            "depth": milled.depth,
            "head_drop": milled.drop,
            "chamber_volume_before": milled.chamber_volume_before,
            "removed_volume": milled.cut.removed,
            "sunk_volume": milled.sunk_volume,
            "chamber_volume_after": milled.cut.chamber_volume,
            "beyond_pours": milled.cut.beyond_pours,
            "head_thickness_after": milled.thickness_left,
        },
    )
    return [
        MilledChamberLine(id=chamber.id, head_thickness_check=check, **row)
        for chamber, check, row in zip(chambers, checks, rows, strict=True)
    ]


def thickness_verdicts(lines: Sequence[MilledChamberLine]) -> list[VerdictName]:
    """The verdicts on the head's thickness, where a limit was named or nothing is left."""
    return [line.head_thickness_check.verdict for line in lines if line.head_thickness_check is not None]


def chamber_notes(
    milled: MilledChambers, chambers: Sequence[MilledChamber], thickness_minimum: float | None
) -> Iterator[Note]:
    """Cuts that go deeper than was cc'd, or leave too little head."""
    for place, beyond in enumerate(milled.cut.beyond_pours.tolist()):
        if not shows(beyond, "length"):
            continue
        by = say(beyond, "length")
        detail = (
            f"Chamber {chambers[place].id}: the cut goes {by} deeper than the lowest level it was cc'd to; its volume "
            "after the cut is extrapolated. cc it deeper before cutting."
        )
        yield note("beyond_pours", "/chamber_shape", detail)
    least = thickness_minimum or 0.0
    closed = is_closed(milled.thickness_left)
    thin = (clearance_verdict(milled.thickness_left, least) == Verdict.REJECT) & (closed | (least > 0.0))
    for place in np.flatnonzero(thin).tolist():
        left, short = float(milled.thickness_left[place]), least - float(milled.thickness_left[place])
        allowed = float(milled.depth[place]) - short
        if closed[place] and least < GRID:
            instead = "Cut less: enter what its maker wants left as head_thickness_minimum"
        elif allowed > least_shown("length"):
            instead = f"Cut {say_at_most(allowed, 'length')} at most there"
        else:
            instead = "This head is too thin already: replace it"
        what = (
            "leaves nothing of the head there"
            if closed[place]
            else f"leaves {say(left, 'length')} of head, {say(short, 'length')} under the "
            f"{say(least, 'length')} minimum"
        )
        detail = f"Chamber {chambers[place].id}: the cut {what}. {instead}."
        yield note("head_too_thin", f"/chambers/{place}/head_thickness", detail)


def deepest_cut(chambers: Sequence[MilledChamber], thickness_minimum: float | None) -> float:
    """The most that may come off, by the thinnest place that was measured [m]; infinite if none was."""
    thickness = _CHAMBER.of(chambers)["head_thickness"]
    known = thickness[~np.isnan(thickness)]
    least = thickness_minimum or 0.0
    return max(float(known.min()) - least, 0.0) if len(known) else math.inf
