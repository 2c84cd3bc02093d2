"""POST /v1/valve-float: the speed at which each valve floats, and how its springs surge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.clearances.coil_bind import CoilBindReadings
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.gauges.calibrated import scale_notes, tester_notes
from headbench.api.gauges.scale import ScaleUsed, on_scale, open_weighings, scale_faults
from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.masses.drives import drive_faults, open_parts
from headbench.api.masses.moving_mass import (
    Masses,
    SpringShare,
    coverage_notes,
    heavy_spring_notes,
    open_masses,
    open_ratios,
    weigh,
)
from headbench.api.masses.valve_mass import mass_notes
from headbench.api.springs.notes import known_by_notes, open_bind_repeats, share_notes
from headbench.api.springs.spring import (
    SpringList,
    open_springs,
    read_runs,
    read_springs,
    spring_faults,
    unknown_springs,
)
from headbench.api.springs.tested import open_tests, tested_notes, tested_springs
from headbench.api.springs.worked import open_heights
from headbench.api.train.lift_notes import lift_notes, open_lift_slips, valve_lifts
from headbench.api.train.lobe_lines import CheckingLifts, LobeLines, lobe_lines
from headbench.api.train.lobes import Lobes, measured_lifts, motion_notes, open_motions, read_lobes
from headbench.api.train.ratios import ratio_notes
from headbench.api.train.valvetrain import WholeValvetrain, lift_faults, lifts, open_lifts
from headbench.api.valve_float.lines import ValveFloat, float_lines, read_valves
from headbench.api.valve_float.notes import reserve_notes, surge_notes
from headbench.api.valve_float.setting import FLOAT_HELD, SURGE_HELD, IntendedSpeed, float_setting, open_speed
from headbench.api.valve_float.springs import float_worked, spring_notes
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import NOTE_CODES, PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged, note
from headbench.api.vocabulary.names import KINDS, WHICH_SPRING, ValveKind
from headbench.api.vocabulary.positions import (
    MOST_POSITIONS,
    PositionAnswer,
    open_readings,
    raise_if_any,
    repeated_ids,
    unusual,
)
from headbench.api.vocabulary.quantities import (
    Answer,
    Force,
    LengthOut,
    Mass,
    MassOut,
    Model,
    Units,
    UnitsUsed,
    number_of,
    units_used,
)
from headbench.api.vocabulary.spreads import SpeedSpread, spread_as
from headbench.api.vocabulary.targets import FloatLimits
from headbench.calc import FloatArray
from headbench.calc.valve_float.floats import find_floats
from headbench.errors import Pointed


class FloatPosition(CoilBindReadings, kw_only=True, frozen=True):
    """One position's height, its spring, and what moves there."""

    masses: Annotated[Masses, Meta(description="What the scale shows for its parts.")] = Masses()


class ValveFloatRequest(Model, kw_only=True, frozen=True):
    """Lobes, springs and masses, and the intended speed."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[FloatLimits, Meta(description="Minimum float reserve and surge ratio.")] = FloatLimits()
    intended_speed: IntendedSpeed = None
    target_speed: Annotated[
        IntendedSpeed,
        Meta(
            description="Speed to figure the needed load or mass for; null = not given (the intended speed).",
            examples=[7000],
        ),
    ] = None
    valvetrain: Annotated[WholeValvetrain, Meta(description="Lift, lobe and moving parts by kind of valve.")] = (
        WholeValvetrain()
    )
    tester: Annotated[
        Tester | None, Meta(description="The spring tester's calibration; null = loads are taken as they are.")
    ] = None
    scale: ScaleUsed = None
    springs: SpringList = []
    spring_share: SpringShare = "third"
    load_uncertainty: Annotated[
        Force,
        Meta(description="Standard uncertainty of the springs' load; 0 where it is not known.", examples=[1.0]),
    ] = 0.0
    mass_uncertainty: Annotated[
        Mass,
        Meta(
            description="Standard uncertainty of the moving mass, beside what repeats show; 0 where it is not known.",
            examples=[0.5],
        ),
    ] = 0.0
    checking_lifts: CheckingLifts = None
    trace_points: Annotated[
        Annotated[int, Meta(ge=2, le=200)] | None,
        Meta(
            description="Angles over each lobe to answer the forces at, for plotting; null = no trace.", examples=[37]
        ),
    ] = None
    positions: Annotated[list[FloatPosition], Meta(min_length=1, max_length=MOST_POSITIONS, description="The valves.")]


class FloatLine(PositionAnswer, kw_only=True, frozen=True):
    """When one position floats."""

    installed_height: Annotated[
        LengthOut | None, Meta(description="Installed height, as entered; null = not measured.")
    ]
    moving_mass: Annotated[
        MassOut | None,
        Meta(
            description="Everything that was weighed, reduced to the valve, as /v1/valve-mass has it; null = a part of "
            "the valve, its spring or the rocker ratio is missing."
        ),
    ]
    valve_float: Annotated[ValveFloat, Meta(description="Float, reserve and surge.")]
    verdict: Annotated[VerdictName, Meta(description="The verdict of valve_float.")]


class ValveFloatAnswer(Answer, kw_only=True, frozen=True):
    """When every position floats, and the figures of each lobe."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    lobes: Annotated[LobeLines, Meta(description="The figures of each lobe.")]
    positions: Annotated[list[FloatLine], Meta(description="A line per position, in the order of the request.")]
    float_speed_spread: Annotated[SpeedSpread, Meta(description="Spread of float speed; the lowest decides.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_SPRING_HELD: Final = dict.fromkeys(("load_curve", "proof", "coil_bind_height"), FLOAT_HELD) | {
    "each_alone": SURGE_HELD,
    "mass": ["moving_mass", *FLOAT_HELD],
}


def answer(request: ValveFloatRequest) -> ValveFloatAnswer:
    """Answer one request; raises Contradiction."""
    stated = lifts(request.valvetrain)
    lobes = read_lobes(request.valvetrain, stated)
    runs = read_runs(request.springs, request.tester)
    raise_if_any(_faults(request, lobes, runs))
    positions = request.positions
    valves = [position.valve for position in positions]
    ids = [position.id for position in positions]
    masses = [position.masses for position in positions]
    on_bench = on_scale(request.scale, request.springs, request.valvetrain, positions)
    springs = read_springs(request.springs, runs, request.scale)
    names = [position.spring for position in positions]
    sets = [springs.at(name) for name in names]
    weighed = weigh(masses, valves, request.valvetrain, sets, request.scale, request.spring_share)
    height = [number_of(position.installed_height) for position in positions]
    own_lift = [number_of(position.valve_lift) for position in positions]
    by_kind = measured_lifts(stated, lobes)
    lift = valve_lifts(by_kind, positions)
    setting = replace(
        float_setting(request.intended_speed, request.limits, valves, request.target_speed),
        load_uncertainty=request.load_uncertainty,
        mass_uncertainty=request.mass_uncertainty,
        trace_points=request.trace_points,
    )
    trusted = [True] * len(positions)
    read = read_valves(valves, lobes, sets, height, trusted, lift, own_lift, weighed)
    floats = find_floats(read, setting)
    sheet, lines = floats.sheet, float_lines(floats, setting)
    speeds: list[float] = sheet.speed.crank_speed.tolist()
    used = {position.spring for position in positions if position.spring is not None}
    tested = tested_springs(request.springs, used, springs)
    return ValveFloatAnswer(
        units=units_used(),
        verdict=worst_of([line.verdict for line in lines]),
        lobes=lobe_lines(request.valvetrain, lobes, request.checking_lifts),
        positions=[
            FloatLine(
                id=position.id,
                valve=position.valve,
                installed_height=position.installed_height,
                moving_mass=mass.total,
                valve_float=line,
                verdict=line.verdict,
            )
            for position, line, mass in zip(positions, lines, floats.mass, strict=True)
        ],
        float_speed_spread=spread_as(SpeedSpread, speeds, ids),
        open_items=merged(
            [
                *open_speed(request.intended_speed),
                *_open_lifts(request, lobes, valves),
                *open_lift_slips(request.valvetrain, by_kind, positions, FLOAT_HELD),
                *open_motions(request.valvetrain, lobes, valves, FLOAT_HELD),
                *open_springs(request.springs, used, _SPRING_HELD),
                *open_bind_repeats(request.springs, used, FLOAT_HELD),
                *open_tests(tested, used, _SPRING_HELD),
                *open_readings(positions, "installed_height", FLOAT_HELD, "enter the installed height."),
                *open_readings(positions, "spring", ["moving_mass", *FLOAT_HELD], WHICH_SPRING),
                *open_masses(positions, masses, ["moving_mass", *FLOAT_HELD]),
                *open_weighings(on_bench, ["moving_mass", *FLOAT_HELD]),
                *open_ratios(weighed, valves, ["moving_mass", *FLOAT_HELD]),
                *open_parts([one.not_given for one in weighed], request.valvetrain, valves, ids, FLOAT_HELD),
                *open_heights(ids, names, request.springs, sets, float_worked(sets, height, lift)),
            ]
        ),
        notes=[
            *_comparison(request, sheet.speed.crank_speed_uncertainty, ids),
            *lift_notes(request.valvetrain, by_kind, positions),
            note("rigid_train", "", NOTE_CODES["rigid_train"]),
            *coverage_notes(weighed, valves, ids),
            *share_notes(request.springs, used),
            *heavy_spring_notes(weighed, ids, request.spring_share),
            *scale_notes(on_bench),
            *tester_notes(request.tester, request.springs),
            *ratio_notes(request.valvetrain),
            *motion_notes(request.valvetrain, lobes),
            *known_by_notes(request.springs, used),
            *tested_notes(tested),
            *spring_notes(ids, sets, height, lift),
            *reserve_notes(ids, lines, request.intended_speed),
            *surge_notes(ids, lines),
            *unusual("installed_height", height, ids, "/positions/{}/installed_height"),
            *mass_notes(weighed, masses, valves, ids),
        ],
        cautions=cautions_for("springs", "engine"),
    )


def _faults(request: ValveFloatRequest, lobes: Lobes, runs: Mapping[str, RunRead]) -> Iterator[Pointed]:
    yield from lift_faults(request.valvetrain)
    yield from lobes.faults
    valves, masses = [one.valve for one in request.positions], [one.masses for one in request.positions]
    yield from drive_faults(request.valvetrain, valves, masses)
    yield from spring_faults(request.springs, runs, request.tester)
    yield from repeated_ids([position.id for position in request.positions], "/positions", "position")
    yield from unknown_springs([position.spring for position in request.positions], request.springs)
    yield from scale_faults(request.scale)


def _comparison(request: ValveFloatRequest, uncertainty: FloatArray, ids: Sequence[str]) -> Iterator[Note]:
    """By which rule values are compared with their limits."""
    guarded = uncertainty > 0.0
    if not guarded.any():
        yield PLAIN_COMPARISON
        return
    exact = [
        name
        for name, stated in (("spring load", request.load_uncertainty), ("moving mass", request.mass_uncertainty))
        if stated == 0.0
    ]
    more = f" No uncertainty was given for {' and '.join(exact)}." if exact else ""
    yield note("guard_band", "", NOTE_CODES["guard_band"] + more)
    plain = ", ".join(ids[place] for place in np.flatnonzero(~guarded & ~np.isnan(uncertainty)).tolist())
    if plain:
        detail = f"{plain}: no uncertainty is known, so float reserve is compared with its limit directly."
        yield note("plain_comparison", "", detail)


def _open_lifts(request: ValveFloatRequest, lobes: Lobes, valves: Sequence[ValveKind]) -> Iterator[OpenItem]:
    """The lifts that a textbook stand-in waits for; a table has its own."""
    stand_ins = [kind for kind, lobe in lobes.by_kind.items() if not lobe.is_known and lobe.spacing is None]
    waiting = {kind: np.nan if kind in stand_ins else 0.0 for kind in KINDS}
    yield from open_lifts(request.valvetrain, waiting, valves, FLOAT_HELD)


RESOURCE: Final = Resource(
    kind="valve-float",
    operation_id="findValveFloat",
    summary="Float speed and surge of every valve",
    description="Find the speed at which each valve floats, the reserve at the intended speed, and how its springs "
    "surge.",
    tag="Bench",
    request=ValveFloatRequest,
    answer=ValveFloatAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("valve_float.json"),
)
