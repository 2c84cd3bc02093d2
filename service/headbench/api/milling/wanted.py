"""What is wanted of a milled head: how deep to cut for it, or how near one can come."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

from msgspec import Meta

from headbench.api.cylinders.chambers import MilledChamber
from headbench.api.cylinders.wanted import (
    NEAREST,
    NEEDED,
    RatioTargetLine,
    RatioTargets,
    ratio_lines,
    ratio_target_notes,
    ratio_targets,
    unreachable,
)
from headbench.api.movement.moved import order_of_work
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Answer, LengthOut, PositiveVolume, RatioOut, VolumeOut, number_of
from headbench.api.vocabulary.saying import say, say_ratios, shows
from headbench.calc.milling import wanted as calc


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


def milling_targets(wanted: MillingTargets) -> calc.MillingTargets:
    """What is wanted of the head."""
    return calc.MillingTargets(ratio_targets(wanted), number_of(wanted.chamber_volume), wanted.equal_chambers)


def wanted_answer(
    wanted: MillingTargets, chambers: Sequence[MilledChamber], found: calc.WantedOfHead
) -> MillingForTargets:
    """What gives what is wanted, as it is answered."""
    nothing: list[calc.DepthWanted | None] = [None for _ in chambers]
    by_volume, by_ratio = found.for_volume or nothing, found.for_ratio or nothing
    return MillingForTargets(
        depths=[
            DepthLine(
                id=chamber.id,
                depth_for_volume=None
                if volume is None
                else DepthForVolume(
                    target=number_of(wanted.chamber_volume), depth=volume.reached.needed, nearest=volume.reached.nearest
                ),
                depth_for_ratio=None
                if ratio is None
                else DepthForRatio(
                    target=number_of(wanted.static_ratio), depth=ratio.reached.needed, nearest=ratio.reached.nearest
                ),
            )
            for chamber, volume, ratio in zip(chambers, by_volume, by_ratio, strict=True)
        ],
        chambers=None if found.cylinders is None else ratio_lines(wanted, chambers, found.cylinders),
        equal_chambers=None if found.equal is None else _equal_answer(chambers, found.equal),
    )


def _equal_answer(chambers: Sequence[MilledChamber], equal: calc.EqualWanted) -> EqualAnswer:
    found = equal.found
    rows = zip(chambers, found.cut_each, found.chamber_volume, found.volume_to_open, strict=True)
    return EqualAnswer(
        target=equal.aim,
        common_cut=found.common_cut,
        nearest=equal.nearest,
        spread=found.spread,
        complete=found.complete,
        chambers=[
            EqualNumbers(id=chamber.id, depth=depth, chamber_volume=volume, volume_to_open=to_open)
            for chamber, depth, volume, to_open in rows
        ],
    )


def wanted_notes(
    wanted: MillingTargets,
    chambers: Sequence[MilledChamber],
    found: calc.WantedOfHead,
    quench_minimum: float | None,
) -> Iterator[Note]:
    """What to say about what gives what is wanted."""
    volume, ratio = number_of(wanted.chamber_volume), number_of(wanted.static_ratio)
    depths: list[calc.DepthWanted] = []
    for place, chamber in enumerate(chambers):
        for lines, pointer in (
            (found.for_volume, "/targets/chamber_volume"),
            (found.for_ratio, "/targets/static_ratio"),
        ):
            if lines is None:
                continue
            one = lines[place]
            depths.append(one)
            if not one.reached.why and not shows(one.beyond_pours, "length"):
                continue
            asked, nearest = say(volume, "volume"), say(one.reached.nearest, "volume")
            if lines is found.for_ratio:
                asked, nearest = say_ratios(ratio, one.reached.nearest)
            yield from unreachable(one.reached, chamber.id, asked, "milling", nearest, pointer)
            yield from _beyond_pours(one.beyond_pours, f"Chamber {chamber.id}: the depth for {asked}")
    if found.cylinders is not None:
        yield from ratio_target_notes(wanted, chambers, found.cylinders, quench_minimum)
    cuts = [one.reached.needed for one in depths]
    if found.equal is not None:
        yield from _equal_notes(found.equal)
        yield from _beyond_pours(found.equal.beyond_pours, "The cut for equal chambers")
        cuts.append(found.equal.found.common_cut)
    if any(depth > 0.0 for depth in cuts):
        yield order_of_work("/targets")


def _beyond_pours(beyond: float, which: str) -> Iterator[Note]:
    """That a depth asked for is extrapolated."""
    if shows(beyond, "length"):
        detail = (
            f"{which} goes {say(beyond, 'length')} deeper than the lowest level cc'd; it is extrapolated. cc "
            "the chamber deeper before cutting."
        )
        yield note("beyond_pours", "/chamber_shape", detail)


def _equal_notes(equal: calc.EqualWanted) -> Iterator[Note]:
    if equal.why:
        nearest = say(equal.nearest, "volume")
        detail = f"Equal chambers can't be reached by milling: {equal.why}. The largest can come to {nearest}."
        yield note("not_reachable", "/targets/equal_chambers", detail)
    elif shows(equal.found.spread, "volume"):
        detail = (
            f"One cut takes the same from every chamber, so they stay {say(equal.found.spread, 'volume')} apart: "
            "open up the small chambers first, then mill."
        )
        yield note("stays_unequal", "/targets/equal_chambers", detail)
