"""Moving mass: the parts of every valve as they were weighed, and what each counts at the valve."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Annotated, Final, Literal, NamedTuple

from msgspec import Meta

from headbench.api.gauges.scale import Scale, calibration_of, corrected_mass
from headbench.api.masses.drives import NOT_THERE, OVER_LOBE
from headbench.api.springs.spring import is_even, share_uncertainty
from headbench.api.train.rockers import Rocker, rocker_mass
from headbench.api.train.valvetrain import Train, TrainParts, ValvetrainParts, WholeValvetrain, full_lift_ratio
from headbench.api.vocabulary.findings import NOTE_CODES, Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import PositionModel
from headbench.api.vocabulary.quantities import Answer, Mass, MassOut, Model, PositiveMass, number_of
from headbench.api.vocabulary.saying import as_entered, say, scales_said
from headbench.calc.coils.motion import SPRING_SHARE
from headbench.calc.gauges.repeats import RepeatReadings, average_readings
from headbench.calc.gauges.tester import Calibration
from headbench.calc.masses.valve_mass import MovingMass, WeighedParts, moved_by_springs, spring_share
from headbench.calc.springs.spring_set import SpringSet

SpringShare = Annotated[
    Literal["third", "exact"],
    Meta(
        description="What part of the springs' working coils moves. third: by Rayleigh, good while they weigh at most "
        "half of what they move. exact: for an even spring of any weight, by x tan x = spring mass over the rest.",
        examples=["third"],
    ),
]


class Reweighed(Model, kw_only=True, frozen=True):
    """The parts of one valve on the scale once more."""

    valve: Annotated[
        PositiveMass | None, Meta(description="The valve; null = not weighed again.", examples=[104.7])
    ] = None
    retainer: Annotated[
        PositiveMass | None, Meta(description="The retainer; null = not weighed again.", examples=[19.8])
    ] = None
    locks: Annotated[
        PositiveMass | None, Meta(description="Both locks together; null = not weighed again.", examples=[5.1])
    ] = None


class Masses(Model, kw_only=True, frozen=True):
    """What the scale shows for the parts of one valve."""

    valve: Annotated[PositiveMass | None, Meta(description="The valve; null = not weighed.", examples=[104.5])] = None
    retainer: Annotated[PositiveMass | None, Meta(description="The retainer; null = not weighed.", examples=[19.8])] = (
        None
    )
    locks: Annotated[
        PositiveMass | None, Meta(description="Both locks together; null = not weighed.", examples=[5.1])
    ] = None
    lash_cap: Annotated[Mass, Meta(description="The lash cap; 0 if there is none.", examples=[1.6])] = 0.0
    rocker: Annotated[
        Rocker | None, Meta(description="This valve's own rocker or finger; null = as the valve train has it.")
    ] = None
    pushrod: Annotated[
        Mass | None,
        Meta(
            description="This valve's own pushrod; 0 if there is none; null = as the valve train has it.",
            examples=[45.6],
        ),
    ] = None
    lifter: Annotated[
        Mass | None,
        Meta(
            description="This valve's own lifter or bucket; 0 if there is none; null = as the valve train has it.",
            examples=[91.5],
        ),
    ] = None
    repeats: Annotated[
        list[Reweighed], Meta(max_length=20, description="Further weighings; the mean of all counts.")
    ] = []


class MovingMassByPart(Answer, kw_only=True, frozen=True):
    """What every part adds to the moving mass, at the valve; 0 where none is given."""

    valve: Annotated[MassOut | None, Meta(description="The valve, whole; null = not weighed.")]
    retainer: Annotated[MassOut | None, Meta(description="The retainer, whole; null = not weighed.")]
    locks: Annotated[MassOut | None, Meta(description="Both locks, whole; null = not weighed.")]
    lash_cap: Annotated[
        MassOut | None, Meta(description="The lash cap, whole; 0 if there is none; null = correction leaves nothing.")
    ]
    springs: Annotated[
        MassOut | None,
        Meta(
            description="Springs: their share of the working coils, dead ones at the retainer whole; null = not "
            "weighed."
        ),
    ]
    dampers: Annotated[
        MassOut | None, Meta(description="A third of the damper, as of springs; null = spring not named.")
    ]
    rocker: Annotated[
        MassOut | None,
        Meta(description="Rocker, reduced to where it touches the valve; null = rocker ratio not given."),
    ]
    pushrod: Annotated[
        MassOut | None, Meta(description="Divided by the rocker ratio squared; null = rocker ratio not given.")
    ]
    lifter: Annotated[
        MassOut | None, Meta(description="Divided by the rocker ratio squared; null = rocker ratio not given.")
    ]


class Weighed(NamedTuple):
    """The parts of one position.

    parts : WeighedParts
    repeats : what repeated weighings of valve, retainer and locks came to, by the part
    uncertainty : of the moving mass from how repeats scatter and an estimated share, 0 without [kg]
    ratio_known : whether the rocker ratio is [-]
    not_given : rocker, pushrod and lifter where they are neither weighed nor known not to be there
    """

    parts: WeighedParts
    repeats: Mapping[Part, RepeatReadings]
    uncertainty: float
    ratio_known: bool
    not_given: Collection[str]

    @property
    def complete(self) -> bool:
        """Whether no part is missing between the lobe and the valve."""
        return not self.not_given


Part = Literal["valve", "retainer", "locks"]

PARTS: Final[Mapping[Part, str]] = {"valve": "valve", "retainer": "retainer", "locks": "pair of locks"}
"""The parts that every valve has."""

_NOTHING_LEFT_OUT: Final[frozenset[str]] = frozenset()
_APART: Final = 0.5e-3
_APART_SHARE: Final = 0.01
"""Weighings of one part that are further apart than this disagree, in kilograms and as a share of their mean; common
practice, no source: a bench scale repeats to a tenth of a gram or so."""
_HEAVY: Final = 0.5
"""Spring mass over what it moves above which a third is more than 0.4 % out [-]."""


def weigh(
    positions: Sequence[Masses],
    valves: Sequence[ValveKind],
    valvetrain: ValvetrainParts | WholeValvetrain,
    sets: Sequence[SpringSet],
    scale: Scale | None,
    share: Literal["third", "exact"],
) -> list[Weighed]:
    """Everything that was weighed at every position, with the springs `sets` has there."""
    trains: dict[ValveKind, TrainParts | Train] = {kind: getattr(valvetrain, kind) or TrainParts() for kind in KINDS}
    known = calibration_of(scale)
    ratios = {kind: full_lift_ratio(train) for kind, train in trains.items()}
    return [
        _weigh(masses, trains[kind], ratios[kind], springs, known, share)
        for masses, kind, springs in zip(positions, valves, sets, strict=True)
    ]


def _weigh(
    masses: Masses, train: TrainParts | Train, ratio: float, springs: SpringSet, scale: Calibration | None, share: str
) -> Weighed:
    repeats: dict[Part, RepeatReadings] = {}
    for part in PARTS if masses.repeats else ():
        read = [corrected_mass(number_of(getattr(one, part)), scale) for one in (masses, *masses.repeats)]
        if not all(map(math.isnan, read)):
            repeats[part] = average_readings(read)
    valve, retainer, locks = (
        repeats[part].mean if part in repeats else corrected_mass(number_of(getattr(masses, part)), scale)
        for part in PARTS
    )
    rocker = masses.rocker or train.rocker
    pushrod = corrected_mass(number_of(train.pushrod_mass if masses.pushrod is None else masses.pushrod), scale)
    lifter = corrected_mass(number_of(train.lifter_mass if masses.lifter is None else masses.lifter), scale)
    there = {"rocker": rocker is not None, "pushrod": pushrod >= 0.0, "lifter": lifter >= 0.0}
    absent = NOT_THERE[train.drive]
    not_given = [part for part, given in there.items() if not given and part not in absent]
    pushrod, lifter = pushrod if there["pushrod"] else 0.0, lifter if there["lifter"] else 0.0
    # where nothing on the lifter's side counts the ratio need not be known
    unneeded = math.isnan(ratio) and not pushrod + lifter > 0.0
    # a finger pivots at its end: its other arm is none
    other_arm = 0.0 if train.drive == "finger" else 1.0 / ratio
    shared = springs.moving_share
    parts = WeighedParts(
        valve=valve,
        retainer=retainer,
        locks=locks,
        lash_cap=corrected_mass(masses.lash_cap, scale),
        springs=springs.mass,
        spring_share=SPRING_SHARE if math.isnan(shared) else shared,
        retainer_coils=sum(one.retainer_coils for one in springs.each),
        seat_coils=sum(one.seat_coils for one in springs.each),
        dampers=springs.damper_mass,
        damper_share=SPRING_SHARE,
        rocker=rocker_mass(rocker, other_arm, scale),
        pushrod=pushrod,
        lifter=lifter,
        rocker_ratio=1.0 if unneeded else ratio,
    )
    # the exact share is that of a spring alike all along; one of another shape keeps its own
    if share == "exact" and is_even(springs):
        parts = parts._replace(spring_share=exact_share(parts))
    scatter = [one.standard_uncertainty for one in repeats.values() if one.count > 1]
    uncertainty = math.hypot(share_uncertainty(springs), *scatter)
    return Weighed(parts, repeats, uncertainty, not math.isnan(ratio), not_given or _NOTHING_LEFT_OUT)


def step_of(part: str, positions: Sequence[Masses]) -> float:
    """The last place that any reading of a part is given to: what the scale shows of equal parts [kg]."""
    read = [getattr(masses, part) for masses in positions]
    if part in PARTS:
        read += [getattr(again, part) for masses in positions for again in masses.repeats]
    entered = [repr(as_entered(value, "mass")) for value in read if value is not None]
    places = [Decimal(text).normalize().as_tuple().exponent for text in entered]
    return scales_said()["mass"].factor * 10.0 ** min([0, *(place for place in places if isinstance(place, int))])


def exact_share(parts: WeighedParts) -> float:
    """The exact share of a position's springs [-]."""
    return spring_share(parts.active_coils, moved_by_springs(parts))


def by_part(mass: MovingMass) -> MovingMassByPart:
    """What every part of a position adds."""
    return MovingMassByPart(
        valve=mass.valve,
        retainer=mass.retainer,
        locks=mass.locks,
        lash_cap=mass.lash_cap,
        springs=mass.springs,
        dampers=mass.dampers,
        rocker=mass.rocker,
        pushrod=mass.pushrod,
        lifter=mass.lifter,
    )


def open_masses(
    positions: Sequence[PositionModel], masses: Sequence[Masses], needed_for: list[str]
) -> Iterator[OpenItem]:
    """An open item for every part that was not weighed."""
    for place, (position, weighed) in enumerate(zip(positions, masses, strict=True)):
        lacking = [
            part
            for part in PARTS
            if getattr(weighed, part) is None and not any(getattr(again, part) for again in weighed.repeats)
        ]
        open_parts: Mapping[str, str] = {part: PARTS[part] for part in lacking}
        if len(lacking) == len(PARTS):
            open_parts = {"": "valve, retainer and locks"}
        for part, name in open_parts.items():
            yield OpenItem(
                pointer=f"/positions/{place}/masses/{part}".rstrip("/"),
                position=position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"{position.id}: weigh the {name}.",
            )


def open_ratios(weighed: Sequence[Weighed], valves: Sequence[ValveKind], needed_for: list[str]) -> Iterator[OpenItem]:
    """The rocker ratios that masses on the other side of the rocker wait for."""
    waits = {
        kind for one, kind in zip(weighed, valves, strict=True) if math.isnan(one.parts.rocker + one.parts.rocker_ratio)
    }
    for kind in KINDS:
        if kind in waits:
            yield OpenItem(
                pointer=f"/valvetrain/{kind}/rocker_ratio",
                position=None,
                spring=None,
                needed_for=needed_for,
                detail=f"Enter the {kind} rocker ratio; lifter-side mass is divided by the ratio squared.",
            )


def coverage_notes(weighed: Sequence[Weighed], valves: Sequence[ValveKind], ids: Sequence[str]) -> Iterator[Note]:
    """What the moving mass leaves out."""
    if all(len(one.not_given) == len(OVER_LOBE) for one in weighed):
        yield note("valve_side_only", "", NOTE_CODES["valve_side_only"])
        return
    for kind in KINDS:
        own = [(name, one) for name, one, valve in zip(ids, weighed, valves, strict=True) if valve == kind]
        everywhere = [part for part in OVER_LOBE if own and all(part in one.not_given for _, one in own)]
        missing = [", ".join(everywhere)] if everywhere else []
        for part in OVER_LOBE:
            at = [name for name, one in own if part in one.not_given]
            if at and part not in everywhere:
                missing.append(f"{part} at {', '.join(at)}")
        if missing:
            detail = f"{kind.capitalize()} valves: moving mass leaves out what was not weighed: {'; '.join(missing)}."
            yield note("train_partly_counted", f"/valvetrain/{kind}", detail)


def repeat_notes(weighed: Sequence[Weighed], ids: Sequence[str]) -> Iterator[Note]:
    """Weighings of one part that cannot both be right."""
    for part, name in PARTS.items():
        for place, one in enumerate(weighed):
            again = one.repeats.get(part)
            if again is None or again.largest - again.smallest <= max(_APART_SHARE * again.mean, _APART):
                continue
            low, high = say(again.smallest, "mass"), say(again.largest, "mass")
            lower, higher = again.smallest_at, again.largest_at
            detail = (
                f"{ids[place]}: weighing {lower + 1} of the {name} is {low}, weighing {higher + 1} is {high}. "
                f"The mean of all is used; one may be a slip, weigh it again."
            )
            yield note("repeats_disagree", f"/positions/{place}/masses/repeats/{max(lower, higher) - 1}/{part}", detail)


def heavy_spring_notes(weighed: Sequence[Weighed], ids: Sequence[str], share: str) -> Iterator[Note]:
    """Springs too heavy for a third to be exact."""
    if share == "exact":
        return
    heavy = [(name, one.parts) for name, one in zip(ids, weighed, strict=True) if _is_heavy(one.parts)]
    if not heavy:
        return
    exact, worst = max(((exact_share(parts), parts) for _, parts in heavy), key=lambda both: both[0])
    more = say((exact - SPRING_SHARE) * worst.active_coils, "mass")
    detail = (
        f"{', '.join(name for name, _ in heavy)}: the springs weigh more than half of what they move. A third of them "
        f"is counted; the exact share is up to {exact:.3f}, {more} more. Set spring_share to exact to count it."
    )
    yield note("spring_heavy", "/spring_share", detail)


def _is_heavy(parts: WeighedParts) -> bool:
    return parts.active_coils > _HEAVY * moved_by_springs(parts)
