"""Moving mass: the parts of every valve as they were weighed, and what each counts at the valve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.gauges.scale import Scale, corrected_mass
from headbench.api.masses.drives import NOT_THERE
from headbench.api.springs.spring import SpringTable
from headbench.api.train.rockers import Rocker, rocker_masses
from headbench.api.train.valvetrain import TrainParts, ValvetrainParts, WholeValvetrain, full_lift_ratio
from headbench.api.vocabulary.findings import NOTE_CODES, Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import PositionModel
from headbench.api.vocabulary.quantities import Answer, Columns, Mass, MassOut, Model, PositiveMass
from headbench.api.vocabulary.saying import as_entered, say, scales_said
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.gauges.repeats import RepeatReadings, average_readings
from headbench.calc.masses.valve_mass import SPRING_SHARE, MovingMass, WeighedParts, spring_share

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


@dataclass(frozen=True, slots=True)
class Weighed:
    """The parts of all positions.

    parts : WeighedParts
    repeats : what repeated weighings of valve, retainer and locks came to; empty without any
    uncertainty : array (P,), of the moving mass from how repeats scatter and an estimated share, 0 without [kg]
    ratio_known : array (P,), whether the rocker ratio is [-]
    not_given : rocker, pushrod and lifter: array (P,), whether it is neither weighed nor known not to be there [-]
    steps : smallest difference the scale showed of each part, by the places it was read to [kg]
    """

    parts: WeighedParts
    repeats: dict[str, RepeatReadings]
    uncertainty: FloatArray
    ratio_known: BoolArray
    not_given: dict[str, BoolArray]
    steps: dict[str, float]

    @property
    def complete(self) -> BoolArray:
        """Whether no part is missing between the lobe and each valve."""
        return np.asarray(~np.any(list(self.not_given.values()), axis=0), dtype=np.bool_)


PARTS: Final = {"valve": "valve", "retainer": "retainer", "locks": "pair of locks"}
"""The parts that every valve has."""

_MASSES = Columns(Masses)
_REWEIGHED = Columns(Reweighed)
_BY_PART = Columns(MovingMassByPart)
_APART: Final = 0.5e-3
_APART_SHARE: Final = 0.01
"""Weighings of one part that are further apart than this disagree, in kilograms and as a share of their mean; common
practice, no source: a bench scale repeats to a tenth of a gram or so."""
_HEAVY: Final = 0.5
"""Spring mass over what it moves above which a third is more than 0.4 % out [-]."""


def weighed_parts(
    positions: Sequence[Masses],
    valves: Sequence[ValveKind],
    valvetrain: ValvetrainParts | WholeValvetrain,
    table: SpringTable,
    rows: IntArray,
    scale: Scale | None,
    share: Literal["third", "exact"],
) -> Weighed:
    """Everything that was weighed, as columns over the positions."""
    columns = {name: corrected_mass(column, scale) for name, column in _MASSES.of(positions).items()}
    repeats = _repeated(positions, columns, scale)
    columns |= {part: averaged.mean for part, averaged in repeats.items()}
    trains = {kind: getattr(valvetrain, kind) or TrainParts() for kind in KINDS}
    kind = np.array([KINDS.index(valve) for valve in valves])
    ratio = np.array([full_lift_ratio(train) for train in trains.values()])[kind]
    drives = [trains[valve].drive for valve in valves]
    rockers = [masses.rocker or trains[valve].rocker for masses, valve in zip(positions, valves, strict=True)]
    not_given = {"rocker": np.array([rocker is None for rocker in rockers])}
    for part in ("pushrod", "lifter"):
        common = np.array([getattr(train, f"{part}_mass") for train in trains.values()], dtype=np.float64)
        common = corrected_mass(common, scale)[kind]
        columns[part] = np.where(np.isnan(columns[part]), common, columns[part])
        not_given[part] = np.isnan(columns[part])
        columns[part] = np.where(not_given[part], 0.0, columns[part])
    for part, none in not_given.items():
        not_given[part] = none & np.array([part not in NOT_THERE[drive] for drive in drives])
    # a finger pivots at its end: its other arm is none
    finger = np.array([drive == "finger" for drive in drives])
    other_arm = np.where(finger, 0.0, 1.0 / ratio)
    # where nothing on the lifter's side counts the ratio need not be known
    needs_ratio = columns["pushrod"] + columns["lifter"] > 0.0
    springs = table.mass[rows].sum(axis=1)
    third = np.full(len(positions), SPRING_SHARE)
    springs_share = table.share_at(rows)
    parts = WeighedParts(
        **columns,
        springs=springs,
        spring_share=np.where(np.isnan(springs_share), third, springs_share),
        retainer_coils=table.retainer_coils[rows].sum(axis=1),
        seat_coils=table.seat_coils[rows].sum(axis=1),
        dampers=table.damper_mass[rows],
        damper_share=third,
        rocker=rocker_masses(rockers, other_arm, scale),
        rocker_ratio=np.where(np.isnan(ratio) & ~needs_ratio, 1.0, ratio),
    )
    if share == "exact":
        # the exact share is that of a spring alike all along; one of another shape keeps its own
        parts = replace(parts, spring_share=np.where(table.is_even_at(rows), exact_share(parts), parts.spring_share))
    scatter = [np.nan_to_num(averaged.standard_uncertainty) for averaged in repeats.values()]
    uncertainty = np.sqrt(np.sum(np.square([table.share_uncertainty_at(rows), *scatter]), axis=0))
    return Weighed(parts, repeats, uncertainty, ~np.isnan(ratio), not_given, _steps(positions))


def _steps(positions: Sequence[Masses]) -> dict[str, float]:
    """The last place that any reading of a part is given to: what the scale shows of equal parts [kg]."""
    unit, steps = scales_said()["mass"].factor, {}
    for part in (*PARTS, "pushrod", "lifter"):
        read = [getattr(masses, part) for masses in positions]
        if part in PARTS:
            read += [getattr(again, part) for masses in positions for again in masses.repeats]
        entered = [repr(as_entered(value, "mass")) for value in read if value is not None]
        places = [Decimal(text).normalize().as_tuple().exponent for text in entered]
        steps[part] = unit * 10.0 ** min([0, *(place for place in places if isinstance(place, int))])
    return steps


def _repeated(
    positions: Sequence[Masses], columns: Mapping[str, FloatArray], scale: Scale | None
) -> dict[str, RepeatReadings]:
    """First and further weighings averaged, part by part; nothing where no position has further ones."""
    most = max(len(masses.repeats) for masses in positions)
    if most == 0:
        return {}
    further = [
        again for masses in positions for again in (*masses.repeats, *[Reweighed()] * (most - len(masses.repeats)))
    ]
    again = _REWEIGHED.of(further)
    return {
        part: average_readings(
            np.column_stack([columns[part], corrected_mass(again[part], scale).reshape(len(positions), most)])
        )
        for part in PARTS
    }


def exact_share(parts: WeighedParts) -> FloatArray:
    """The exact share of every position's springs [-]."""
    active = parts.springs - parts.retainer_coils - parts.seat_coils
    return spring_share(active, _moved_by_springs(parts))


def _moved_by_springs(parts: WeighedParts) -> FloatArray:
    on_valve = parts.valve + parts.retainer + parts.locks + parts.lash_cap + parts.rocker
    beyond = (parts.pushrod + parts.lifter) / parts.rocker_ratio**2
    return on_valve + beyond + parts.retainer_coils + parts.damper_share * parts.dampers


def by_part(mass: MovingMass) -> list[MovingMassByPart]:
    """What every part of every position adds."""
    columns = {name: getattr(mass, name) for name in _BY_PART.names}
    return [MovingMassByPart(**row) for row in _BY_PART.rows(columns)]


def open_masses(
    positions: Sequence[PositionModel], masses: Sequence[Masses], needed_for: list[str]
) -> Iterator[OpenItem]:
    """An open item for every part that was not weighed."""
    for place, (position, weighed) in enumerate(zip(positions, masses, strict=True)):
        open_parts = {
            part: name
            for part, name in PARTS.items()
            if getattr(weighed, part) is None and not any(getattr(again, part) for again in weighed.repeats)
        }
        if len(open_parts) == len(PARTS):
            open_parts = {"": "valve, retainer and locks"}
        for part, name in open_parts.items():
            yield OpenItem(
                pointer=f"/positions/{place}/masses/{part}".rstrip("/"),
                position=position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"{position.id}: weigh the {name}.",
            )


def open_ratios(
    parts: WeighedParts,
    valves: Sequence[ValveKind],
    needed_for: list[str],
) -> Iterator[OpenItem]:
    """The rocker ratios that masses on the other side of the rocker wait for."""
    waits = np.isnan(parts.rocker) | np.isnan(parts.rocker_ratio)
    for kind in KINDS:
        if any(wait and valve == kind for wait, valve in zip(waits.tolist(), valves, strict=True)):
            yield OpenItem(
                pointer=f"/valvetrain/{kind}/rocker_ratio",
                position=None,
                spring=None,
                needed_for=needed_for,
                detail=f"Enter the {kind} rocker ratio; lifter-side mass is divided by the ratio squared.",
            )


def coverage_notes(weighed: Weighed, valves: Sequence[ValveKind], ids: Sequence[str]) -> Iterator[Note]:
    """What the moving mass leaves out."""
    absent = weighed.not_given
    if all(none.all() for none in absent.values()):
        yield note("valve_side_only", "", NOTE_CODES["valve_side_only"])
        return
    kinds = np.array(valves)
    for kind in KINDS:
        own = np.flatnonzero(kinds == kind)
        everywhere = [part for part, none in absent.items() if len(own) and none[own].all()]
        missing = [", ".join(everywhere)] if everywhere else []
        for part, none in absent.items():
            if part not in everywhere and none[own].any():
                missing.append(f"{part} at {', '.join(ids[place] for place in own[none[own]].tolist())}")
        if missing:
            detail = f"{kind.capitalize()} valves: moving mass leaves out what was not weighed: {'; '.join(missing)}."
            yield note("train_partly_counted", f"/valvetrain/{kind}", detail)


def repeat_notes(weighed: Weighed, ids: Sequence[str]) -> Iterator[Note]:
    """Weighings of one part that cannot both be right."""
    for part, again in weighed.repeats.items():
        with np.errstate(invalid="ignore"):
            apart = again.largest - again.smallest
            odd = (again.count > 1) & (apart > np.maximum(_APART_SHARE * again.mean, _APART))
        for place in np.flatnonzero(odd).tolist():
            low, high = (say(float(values[place]), "mass") for values in (again.smallest, again.largest))
            lower, higher = int(again.smallest_at[place]), int(again.largest_at[place])
            detail = (
                f"{ids[place]}: weighing {lower + 1} of the {PARTS[part]} is {low}, weighing {higher + 1} is {high}. "
                f"The mean of all is used; one may be a slip, weigh it again."
            )
            yield note("repeats_disagree", f"/positions/{place}/masses/repeats/{max(lower, higher) - 1}/{part}", detail)


def heavy_spring_notes(parts: WeighedParts, ids: Sequence[str], share: str) -> Iterator[Note]:
    """Springs too heavy for a third to be exact."""
    active = parts.springs - parts.retainer_coils - parts.seat_coils
    with np.errstate(divide="ignore"):
        heavy = np.flatnonzero(active / _moved_by_springs(parts) > _HEAVY).tolist()
    if share == "exact" or not heavy:
        return
    exact = exact_share(parts)
    worst = max(heavy, key=lambda place: float(exact[place]))
    more = say(float((exact[worst] - SPRING_SHARE) * active[worst]), "mass")
    which = ", ".join(ids[place] for place in heavy)
    detail = (
        f"{which}: the springs weigh more than half of what they move. A third of them is counted; the exact share "
        f"is up to {exact[worst]:.3f}, {more} more. Set spring_share to exact to count it."
    )
    yield note("spring_heavy", "/spring_share", detail)
