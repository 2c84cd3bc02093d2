"""Mass answers: what everything that moves with the valves weighs, as it is answered."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.masses.moving_mass import MovingMassByPart
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, MassOut, UnitsUsed
from headbench.api.vocabulary.spreads import MassSpread

_NO_SUCH: Final = Meta(description="Of this kind of valve; null = none.")


class MassNumbers(PositionAnswer, kw_only=True, frozen=True):
    """The masses of one valve's parts."""

    valve_mass: Annotated[MassOut | None, Meta(description="The valve, as weighed; null = not weighed.")]
    retainer_mass: Annotated[MassOut | None, Meta(description="The retainer, as weighed; null = not weighed.")]
    locks_mass: Annotated[MassOut | None, Meta(description="Both locks, as weighed; null = not weighed.")]
    lash_cap_mass: Annotated[MassOut | None, Meta(description="The lash cap; 0 if there is none.")]
    pushrod_mass: Annotated[MassOut, Meta(description="The pushrod, as weighed; 0 if none is given.")]
    lifter_mass: Annotated[MassOut, Meta(description="The lifter or bucket, as weighed; 0 if none is given.")]
    spring_mass: Annotated[
        MassOut | None, Meta(description="All springs on this valve and their damper, whole; null = not weighed.")
    ]
    moving_mass: Annotated[
        MassOut | None,
        Meta(
            description="Everything that was weighed, reduced to the valve: of the springs a third (Rayleigh), or the "
            "exact share; null = a part of the valve, its spring or the rocker ratio is missing."
        ),
    ]
    lifter_side_mass: Annotated[
        MassOut | None, Meta(description="Moving mass as the lifter feels it; null = rocker ratio not given.")
    ]


class MassToRemove(Answer, kw_only=True, frozen=True):
    """What to take off to match the lightest of its kind; 0 for the lightest."""

    valve: Annotated[MassOut | None, Meta(description="What comes off the valve; null = not weighed.")]
    retainer: Annotated[MassOut | None, Meta(description="What comes off the retainer; null = not weighed.")]
    locks: Annotated[MassOut | None, Meta(description="What comes off both locks; null = not weighed.")]
    moving_mass: Annotated[
        MassOut | None, Meta(description="What comes off the whole, at the valve; null = not known.")
    ]


class RepeatNumbers(Answer, kw_only=True, frozen=True):
    """What repeated weighings of one part came to."""

    mean: Annotated[MassOut, Meta(description="Mean of all weighings.")]
    standard_deviation: Annotated[MassOut, Meta(description="Standard deviation of one weighing.")]
    standard_uncertainty: Annotated[
        MassOut, Meta(description="Standard uncertainty of the mean, from the scatter alone.")
    ]


class RepeatLine(RepeatNumbers, kw_only=True, frozen=True):
    """One part that was weighed more than once."""

    weighed_part: Annotated[Literal["valve", "retainer", "locks"], Meta(description="Which part.")]
    count: Annotated[int, Meta(description="How often it was weighed.")]


class MassLine(MassNumbers, kw_only=True, frozen=True):
    """What moves with one valve."""

    moving_mass_by_part: Annotated[MovingMassByPart, Meta(description="What each part counts at the valve.")]
    to_remove: Annotated[MassToRemove, Meta(description="What to take off to match the lightest of its kind.")]
    repeat_statistics: Annotated[list[RepeatLine], Meta(description="The parts that were weighed more than once.")]


class MassTotal(Answer, kw_only=True, frozen=True):
    """The parts of all valves of one kind, together."""

    position_count: Annotated[int, Meta(description="How many valves of this kind there are.")]
    weighed_count: Annotated[int, Meta(description="How many have valve, retainer and locks all weighed.")]
    valve: Annotated[MassOut, Meta(description="All valves weighed.")]
    retainer: Annotated[MassOut, Meta(description="All retainers weighed.")]
    locks: Annotated[MassOut, Meta(description="All locks weighed.")]
    lash_cap: Annotated[MassOut, Meta(description="All lash caps.")]
    pushrod: Annotated[MassOut, Meta(description="All pushrods given.")]
    lifter: Annotated[MassOut, Meta(description="All lifters given.")]
    springs: Annotated[MassOut, Meta(description="All springs weighed, with their dampers.")]


class MassTotals(Answer, kw_only=True, frozen=True):
    """Totals of the intake and of the exhaust valves."""

    intake: Annotated[MassTotal | None, _NO_SUCH]
    exhaust: Annotated[MassTotal | None, _NO_SUCH]


class MassSpreads(Answer, kw_only=True, frozen=True):
    """Spread of the masses of one kind of valve."""

    valve_mass: Annotated[MassSpread, Meta(description="Spread of the valves.")]
    retainer_mass: Annotated[MassSpread, Meta(description="Spread of the retainers.")]
    locks_mass: Annotated[MassSpread, Meta(description="Spread of the pairs of locks.")]
    pushrod_mass: Annotated[MassSpread, Meta(description="Spread of the pushrods.")]
    lifter_mass: Annotated[MassSpread, Meta(description="Spread of the lifters or buckets.")]
    spring_mass: Annotated[MassSpread, Meta(description="Spread of the springs with their dampers.")]
    moving_mass: Annotated[MassSpread, Meta(description="Spread of the moving mass.")]


class MassSpreadsByKind(Answer, kw_only=True, frozen=True):
    """Spreads of the intake and of the exhaust valves."""

    intake: Annotated[MassSpreads | None, _NO_SUCH]
    exhaust: Annotated[MassSpreads | None, _NO_SUCH]


class ValveMassAnswer(Answer, kw_only=True, frozen=True):
    """Every position's parts, their totals and spreads."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    positions: Annotated[list[MassLine], Meta(description="A line per position, in the order of the request.")]
    mass_totals: Annotated[MassTotals, Meta(description="Totals by kind of valve.")]
    spreads: Annotated[MassSpreadsByKind, Meta(description="Spreads by kind of valve.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]
