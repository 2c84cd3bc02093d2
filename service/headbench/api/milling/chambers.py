"""Milled chambers: what a cut does to every chamber and to the head beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.cylinders.chambers import MilledChamber
from headbench.api.movement.moved import run_out
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Answer, LengthOut, VolumeOut, number_of
from headbench.api.vocabulary.saying import least_shown, say, say_at_most, shows
from headbench.calc.cylinders.chamber_shape import ChamberShape, from_area
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.milling import milling as calc
from headbench.calc.movement.cuts import find_cut_faults
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


def chamber_cut_faults(
    milled: Sequence[calc.MilledChamber], shape: ChamberShape | None, chambers: Sequence[MilledChamber]
) -> Iterator[Pointed]:
    """Cuts that leave no chamber or no head, or pass a chamber by."""
    thickness = [number_of(chamber.head_thickness) for chamber in chambers]
    depths = [one.depth for one in milled]
    # what nobody knows of the seats makes no chamber smaller
    uncut = [one.volume_before + (0.0 if math.isnan(one.sunk_volume) else one.sunk_volume) for one in milled]
    for place, volume in enumerate(uncut):
        if volume <= 0.0:
            which = f"chamber {chambers[place].id}"
            detail = f"valves that stand prouder fill all of {which}; check their sink and its volume"
            yield Pointed(f"/chambers/{place}/chamber_volume", detail)
    left = [math.nan if volume <= 0.0 else volume for volume in uncut]
    for fault, place in find_cut_faults(depths, left, shape or from_area(math.nan), thickness):
        which, pointer = f"chamber {chambers[place].id}", f"/chambers/{place}"
        depth = say(depths[place], "length")
        match fault:
            case "deeper_than_chamber":
                detail = f"a cut of {depth} takes all of {which}, {say(uncut[place], 'volume')}; check depth and volume"
                yield Pointed(f"{pointer}/chamber_volume", detail)
            case "deeper_than_head":
                there = say(thickness[place], "length")
                detail = f"a cut of {depth} leaves nothing of the {there} of head at {which}; check both"
                yield Pointed(f"{pointer}/head_thickness", detail)
            case "misses_chamber":
                detail = run_out(f"the middle of {which}", depths[place])
                yield Pointed(f"{pointer}/distance_across", detail)


def chamber_lines(
    milled: Sequence[calc.MilledChamber], chambers: Sequence[MilledChamber], thickness_minimum: float | None
) -> list[MilledChamberLine]:
    """Every chamber as it is answered."""
    return [
        MilledChamberLine(
            id=chamber.id,
            depth=one.depth,
            head_drop=one.head_drop,
            chamber_volume_before=one.volume_before,
            removed_volume=one.removed,
            sunk_volume=one.sunk_volume,
            chamber_volume_after=one.volume_after,
            beyond_pours=one.beyond_pours,
            head_thickness_after=one.thickness_left,
            head_thickness_check=_thickness_check(one, thickness_minimum),
        )
        for chamber, one in zip(chambers, milled, strict=True)
    ]


def _thickness_check(one: calc.MilledChamber, minimum: float | None) -> LengthCheck | None:
    # a head that is used up needs no limit to be rejected
    if minimum is None and not is_closed(one.thickness_left):
        return None
    return length_check(one.thickness_left, minimum or 0.0, "at_least", one.thickness_verdict, check_class="damage")


def thickness_verdicts(lines: Sequence[MilledChamberLine]) -> list[VerdictName]:
    """The verdicts on the head's thickness, where a limit was named or nothing is left."""
    return [line.head_thickness_check.verdict for line in lines if line.head_thickness_check is not None]


def chamber_notes(
    milled: Sequence[calc.MilledChamber], chambers: Sequence[MilledChamber], thickness_minimum: float | None
) -> Iterator[Note]:
    """Cuts that go deeper than was cc'd, or leave too little head."""
    for chamber, one in zip(chambers, milled, strict=True):
        if shows(one.beyond_pours, "length"):
            by = say(one.beyond_pours, "length")
            detail = (
                f"Chamber {chamber.id}: the cut goes {by} deeper than the lowest level it was cc'd to; its volume "
                "after the cut is extrapolated. cc it deeper before cutting."
            )
            yield note("beyond_pours", "/chamber_shape", detail)
    for place, (chamber, one) in enumerate(zip(chambers, milled, strict=True)):
        if one.thickness_verdict == Verdict.REJECT:
            detail = f"Chamber {chamber.id}: {_too_thin(one, thickness_minimum or 0.0)}"
            yield note("head_too_thin", f"/chambers/{place}/head_thickness", detail)


def _too_thin(one: calc.MilledChamber, least: float) -> str:
    """How little head a cut leaves, and what to do instead."""
    left, closed = one.thickness_left, is_closed(one.thickness_left)
    short = least - left
    allowed = one.depth - short
    if closed and least < GRID:
        instead = "Cut less: enter what its maker wants left as head_thickness_minimum"
    elif allowed > least_shown("length"):
        instead = f"Cut {say_at_most(allowed, 'length')} at most there"
    else:
        instead = "This head is too thin already: replace it"
    under = f"leaves {say(left, 'length')} of head, {say(short, 'length')} under the {say(least, 'length')} minimum"
    return f"the cut {'leaves nothing of the head there' if closed else under}. {instead}."
