"""POST /v1/valve-mass: what everything that moves with the valves weighs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import Annotated, Final, NamedTuple

from msgspec import Meta

from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.exchange.resource import Resource
from headbench.api.gauges.calibrated import scale_notes
from headbench.api.gauges.scale import ScaleUsed, on_scale, open_weighings, scale_faults
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.masses.answers import (
    MassLine,
    MassSpreads,
    MassSpreadsByKind,
    MassToRemove,
    MassTotal,
    MassTotals,
    RepeatLine,
    ValveMassAnswer,
)
from headbench.api.masses.drives import drive_faults
from headbench.api.masses.moving_mass import (
    PARTS,
    Masses,
    SpringShare,
    Weighed,
    by_part,
    coverage_notes,
    heavy_spring_notes,
    open_masses,
    open_ratios,
    repeat_notes,
    step_of,
    weigh,
)
from headbench.api.springs.notes import share_notes
from headbench.api.springs.spring import (
    SpringList,
    open_springs,
    read_runs,
    read_springs,
    spring_faults,
    unknown_springs,
)
from headbench.api.train.valvetrain import ValvetrainParts
from headbench.api.vocabulary.findings import Note, cautions_for, merged, note
from headbench.api.vocabulary.names import KINDS, WHICH_SPRING, SpringName, ValveKind
from headbench.api.vocabulary.positions import (
    MOST_POSITIONS,
    PositionModel,
    open_readings,
    raise_if_any,
    repeated_ids,
    unusual,
)
from headbench.api.vocabulary.quantities import Model, Units, units_used
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.spreads import MassSpread, spread_as
from headbench.calc.judging.spread import odd_beyond, odd_ones_out
from headbench.calc.masses.valve_masses import PartTotals, sum_masses
from headbench.errors import Pointed


class MassReadings(PositionModel, kw_only=True, frozen=True):
    """The parts of one valve on the scale, and the spring over them."""

    masses: Annotated[Masses, Meta(description="What the scale shows for its parts.")] = Masses()
    spring: SpringName = None


class ValveMassRequest(Model, kw_only=True, frozen=True):
    """Everything that was weighed."""

    units: Units = Units()
    job: JobAsked = Job()
    scale: ScaleUsed = None
    valvetrain: Annotated[ValvetrainParts, Meta(description="What moves between lobe and valve, by kind of valve.")] = (
        ValvetrainParts()
    )
    spring_share: SpringShare = "third"
    springs: SpringList = []
    positions: Annotated[list[MassReadings], Meta(min_length=1, max_length=MOST_POSITIONS, description="The valves.")]


_MOVING: Final = ["moving_mass", "lifter_side_mass", "moving_mass_by_part"]
_JUDGED: Final = [*PARTS.items(), ("pushrod", "pushrod"), ("lifter", "lifter")]


def mass_totals(totals: Mapping[str, PartTotals]) -> MassTotals:
    """Totals by kind, over what was weighed."""
    return MassTotals(**{kind: MassTotal(**totals[kind]._asdict()) if kind in totals else None for kind in KINDS})


def mass_notes(
    weighed: Sequence[Weighed], masses: Sequence[Masses], valves: Sequence[ValveKind], ids: Sequence[str]
) -> Iterator[Note]:
    """Parts that do not belong to their set, and masses no bench shows."""
    yield from repeat_notes(weighed, ids)
    for odd in odd_masses(weighed, masses, valves):
        yield note("odd_one_out", f"/positions/{odd.place}/masses/{odd.part}", f"{ids[odd.place]}: {odd_told(odd)}")
    for part in PARTS:
        column = [_of_part(one, part) for one in weighed]
        yield from unusual(part, column, ids, f"/positions/{{}}/masses/{part}")


class OddMass(NamedTuple):
    """A part that does not belong to its set.

    place, valve : the position's, and its kind of valve
    part : its field; name : what it is called
    mass, others : what it weighs, and the middle of its set [kg]
    beyond : how far off that a part of this set may be [kg]
    """

    place: int
    valve: ValveKind
    part: str
    name: str
    mass: float
    others: float
    beyond: float


def odd_masses(weighed: Sequence[Weighed], masses: Sequence[Masses], valves: Sequence[ValveKind]) -> Iterator[OddMass]:
    """The parts that do not belong to their set, each against those of the same kind of valve."""
    for part, name in _JUDGED:
        column = [_of_part(one, part) for one in weighed]
        # what the valve train gives for all alike cannot be odd
        if part not in PARTS and len({mass for mass in column if not math.isnan(mass)}) <= 1:
            continue
        for kind in KINDS:
            own = [place for place, valve in enumerate(valves) if valve == kind]
            values = [column[place] for place in own]
            for odd in odd_ones_out(values, lambda: step_of(part, masses)):  # noqa: B023 - asked at once
                middle = median(value for value in values if not math.isnan(value))
                beyond = odd_beyond(values, step_of(part, masses))
                yield OddMass(own[odd], kind, part, name, values[odd], middle, beyond)


def odd_told(odd: OddMass) -> str:
    """What is to be said of an odd part, behind its position."""
    return odd_words(odd.name, say(odd.mass, "mass"), odd.valve, say(odd.others, "mass"))


def odd_words(name: str, mass: str, valve: ValveKind, others: str) -> str:
    """That sentence, of numbers with their units."""
    weighs = "weigh" if name.endswith("s") else "weighs"
    return f"{name} {weighs} {mass}, the other {valve}s about {others}. Wrong {name}, or misread: check."


def _of_part(one: Weighed, part: str) -> float:
    mass: float = math.nan if part in one.not_given else getattr(one.parts, part)
    return mass


def _spreads(lines: Sequence[MassLine], ids: Sequence[str]) -> MassSpreadsByKind:
    spreads: dict[ValveKind, MassSpreads | None] = {}
    for kind in KINDS:
        own = [(name, line) for name, line in zip(ids, lines, strict=True) if line.valve == kind]
        names = [name for name, _ in own]
        by_field = {
            field: spread_as(MassSpread, [_given(getattr(line, field)) for _, line in own], names)
            for field in MassSpreads.__struct_fields__
        }
        spreads[kind] = MassSpreads(**by_field) if own else None
    return MassSpreadsByKind(**spreads)


def _given(mass: float | None) -> float:
    """What no position has, nothing can be said of."""
    return math.nan if mass is None or mass == 0.0 else mass


def _repeats(weighed: Weighed) -> list[RepeatLine]:
    return [
        RepeatLine(
            weighed_part=part,
            count=again.count,
            mean=again.mean,
            standard_deviation=again.standard_deviation,
            standard_uncertainty=again.standard_uncertainty,
        )
        for part, again in weighed.repeats.items()
        if again.count > 1
    ]


def _faults(request: ValveMassRequest, runs: Mapping[str, RunRead]) -> Iterator[Pointed]:
    valves, masses = [one.valve for one in request.positions], [one.masses for one in request.positions]
    yield from drive_faults(request.valvetrain, valves, masses)
    yield from spring_faults(request.springs, runs)
    yield from repeated_ids([position.id for position in request.positions], "/positions", "position")
    yield from unknown_springs([position.spring for position in request.positions], request.springs)
    yield from scale_faults(request.scale)


def answer(request: ValveMassRequest) -> ValveMassAnswer:
    """Answer one request; raises Contradiction."""
    runs = read_runs(request.springs)
    raise_if_any(_faults(request, runs))
    positions = request.positions
    ids = [position.id for position in positions]
    names = [position.spring for position in positions]
    used = {name for name in names if name}
    valves = [position.valve for position in positions]
    masses = [position.masses for position in positions]
    on_bench = on_scale(request.scale, request.springs, request.valvetrain, positions)
    springs = read_springs(request.springs, runs, request.scale)
    sets = [springs.at(name) for name in names]
    weighed = weigh(masses, valves, request.valvetrain, sets, request.scale, request.spring_share)
    found = sum_masses([one.parts for one in weighed], valves)
    lines = [
        MassLine(
            id=position.id,
            valve=position.valve,
            valve_mass=own.parts.valve,
            retainer_mass=own.parts.retainer,
            locks_mass=own.parts.locks,
            lash_cap_mass=own.parts.lash_cap,
            pushrod_mass=own.parts.pushrod,
            lifter_mass=own.parts.lifter,
            spring_mass=own.parts.springs + own.parts.dampers,
            moving_mass=mass.total,
            lifter_side_mass=mass.lifter_side if own.ratio_known else math.nan,
            moving_mass_by_part=by_part(mass),
            to_remove=MassToRemove(**off._asdict()),
            repeat_statistics=_repeats(own),
        )
        for position, own, mass, off in zip(positions, weighed, found.moving, found.to_remove, strict=True)
    ]
    return ValveMassAnswer(
        units=units_used(),
        positions=lines,
        mass_totals=mass_totals(found.totals),
        spreads=_spreads(lines, ids),
        open_items=merged(
            [
                *open_springs(request.springs, used, {"mass": ["spring_mass", *_MOVING]}),
                *open_masses(positions, masses, _MOVING),
                *open_weighings(on_bench, _MOVING),
                *open_ratios(weighed, valves, _MOVING),
                *open_readings(positions, "spring", ["spring_mass", *_MOVING], WHICH_SPRING),
            ]
        ),
        notes=[
            *scale_notes(on_bench),
            *coverage_notes(weighed, valves, ids),
            *share_notes(request.springs, used),
            *heavy_spring_notes(weighed, ids, request.spring_share),
            *mass_notes(weighed, masses, valves, ids),
        ],
        cautions=cautions_for("springs"),
    )


RESOURCE: Final = Resource(
    kind="valve-mass",
    operation_id="sumValveMass",
    summary="What moves with every valve",
    description="Enter what was weighed; get each valve's moving mass part by part, and the parts that are outliers.",
    tag="Bench",
    request=ValveMassRequest,
    answer=ValveMassAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("valve_mass.json"),
)
