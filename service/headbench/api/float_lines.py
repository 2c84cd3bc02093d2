"""Float lines: when each valve floats and how its springs surge, as an endpoint of its own and the sheet have it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.checks import PercentCheck, RatioCheck, VerdictName, percent_checks, ratio_checks, worst_of
from headbench.api.lobes import Lobes, is_measured
from headbench.api.moving_mass import MovingMassByPart, Weighed, by_part
from headbench.api.quantities import (
    AngleOut,
    Answer,
    Columns,
    ForceOut,
    FrequencyOut,
    LengthOut,
    MassOut,
    PositiveSpeed,
    SpeedOut,
    written,
)
from headbench.api.springs import SpringTable
from headbench.api.valvetrain import KINDS, ValveKind
from headbench.calc import FloatArray, IntArray
from headbench.calc.float_sheet import FloatReadings, FloatSheet, float_sheet
from headbench.calc.head_assembly import Springs
from headbench.calc.surge import surge_harmonics
from headbench.calc.valve_mass import MovingMass
from headbench.calc.valve_motion import Motion, stacked
from headbench.units import Scales

IntendedSpeed = Annotated[
    PositiveSpeed | None, Meta(description="Highest crank speed the engine is meant to turn; null: not said.")
]

FLOAT_HELD: Final = ["valve_float"]
"""What waits for a reading that float or surge needs."""


class SpeedPerGram(Answer, kw_only=True, frozen=True):
    """Crank speed that a gram less buys before float, by where it comes off."""

    valve: Annotated[SpeedOut | None, Meta(description="A gram off the valve, its retainer, locks or lash cap.")]
    springs: Annotated[SpeedOut | None, Meta(description="A gram off the springs' working coils.")]
    lifter: Annotated[
        SpeedOut | None, Meta(description="A gram off the pushrod or the lifter; null without a rocker ratio.")
    ]


class Harmonic(Answer, kw_only=True, frozen=True):
    """One harmonic of the lift over the cam's turn, near the surge frequency at the intended speed."""

    order: Annotated[int, Meta(description="How often in a turn of the cam.")]
    amplitude: Annotated[LengthOut, Meta(description="How much of the lift it is.")]
    speed: Annotated[SpeedOut, Meta(description="Crank speed at which it meets the surge frequency.")]


class ForceTrace(Answer, kw_only=True, frozen=True):
    """Forces at the valve over the lobe at the intended speed; all lists of one length."""

    angles: Annotated[list[AngleOut], Meta(description="Cam angles, counted as the motion counts them.")]
    lifts: Annotated[list[LengthOut], Meta(description="At the valve.")]
    loads: Annotated[list[ForceOut | None], Meta(description="Of the springs; null where not known.")]
    inertias: Annotated[list[ForceOut | None], Meta(description="What the motion asks for; null without a speed.")]
    contact_forces: Annotated[
        list[ForceOut | None], Meta(description="What presses train and cam together; below 0 they part.")
    ]


class FloatNumbers(Answer, kw_only=True, frozen=True):
    """The plain numbers of one position's float and surge."""

    float_speed: Annotated[
        SpeedOut | None, Meta(description="Lowest crank speed at which a rigid train leaves its cam.")
    ]
    float_speed_uncertainty: Annotated[
        SpeedOut | None,
        Meta(description="One standard uncertainty, from what scatter is known of lift, load and mass."),
    ]
    float_angle: Annotated[
        AngleOut | None, Meta(description="Cam angle at which it does, counted as its motion counts them.")
    ]
    float_lift: Annotated[LengthOut | None, Meta(description="Valve lift there.")]
    float_load: Annotated[ForceOut | None, Meta(description="Load of the springs there.")]
    least_contact_force: Annotated[
        ForceOut | None,
        Meta(
            description="Smallest force between train and cam at the intended speed, at the valve; below 0 they part."
        ),
    ]
    least_contact_angle: Annotated[AngleOut | None, Meta(description="Cam angle of it.")]
    load_to_add: Annotated[
        ForceOut | None,
        Meta(description="Load missing at every height alike, for the speed wanted; negative is in hand."),
    ]
    open_load_needed: Annotated[ForceOut | None, Meta(description="The open load with that.")]
    moving_mass_allowed: Annotated[
        MassOut | None, Meta(description="Or the moving mass these springs hold on the cam to the speed wanted.")
    ]
    surge_frequency: Annotated[
        FrequencyOut | None,
        Meta(description="Lowest of its springs that are known, both ends held, at the installed height."),
    ]


class ValveFloat(FloatNumbers, kw_only=True, frozen=True):
    """When one valve floats, what is left at the intended speed, and how its springs surge."""

    float_reserve: Annotated[
        PercentCheck, Meta(description="Of float_speed over the intended speed; not_measured from a stand-in law.")
    ]
    load_factor: Annotated[float | None, Meta(description="Or all loads times this, for the speed wanted.")]
    moving_mass_by_part: MovingMassByPart
    speed_per_gram: SpeedPerGram
    surge_spring: Annotated[
        int | None,
        Meta(description="Which spring surges lowest: 0 the outer one, 1 and 2 the nested; null if unknown."),
    ]
    surge_ratio: Annotated[
        RatioCheck, Meta(description="Of surge_frequency to the cam's turning frequency at the intended speed.")
    ]
    harmonics: Annotated[list[Harmonic], Meta(description="The one nearest to the surge frequency and its neighbours.")]
    trace: Annotated[ForceTrace | None, Meta(description="Null if none was asked for, or the motion is not known.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of float_reserve and surge_ratio.")]


@dataclass(frozen=True, slots=True)
class FloatSetting:
    """What a job says of speeds and limits, in SI; NaN where it says nothing.

    crank_speed, wanted_crank_speed : [rad/s]
    reserve_limit : array (P,) [percent]
    surge_limit : array (P,) [-]
    load_uncertainty : [N]
    mass_uncertainty : of the moving mass, beside what repeats show [kg]
    trace_points : how many points of the forces to answer, if any
    """

    crank_speed: float
    wanted_crank_speed: float
    reserve_limit: FloatArray
    surge_limit: FloatArray
    load_uncertainty: float = 0.0
    mass_uncertainty: float = 0.0
    trace_points: int | None = None


_NUMBERS = Columns(FloatNumbers)
_PER_GRAM = Columns(SpeedPerGram)
_MOST_ORDERS: Final = 100
_NEIGHBOURS: Final = 1


def find_floats(
    valves: Sequence[ValveKind],
    lobes: Lobes,
    table: SpringTable,
    rows: IntArray,
    installed_height: FloatArray,
    weighed: Weighed,
    mass: MovingMass,
    setting: FloatSetting,
) -> tuple[FloatReadings, FloatSheet]:
    """Float and surge of every position."""
    kinds = np.array([KINDS.index(valve) for valve in valves])
    measured = np.array([is_measured(kind, lobes) for kind in KINDS])
    readings = FloatReadings(
        motion=stacked(lobes.motions(), kinds),
        measured=measured[kinds],
        all_weighed=weighed.complete,
        springs=Springs(table.curves, table.curve[rows], table.seat_rise[rows], table.coil_bind_height[rows]),
        active_mass=table.active_mass[rows],
        installed_height=installed_height,
        mass=mass.total,
        load_uncertainty=np.full(len(valves), setting.load_uncertainty),
        mass_uncertainty=np.hypot(weighed.uncertainty, setting.mass_uncertainty),
        crank_speed=setting.crank_speed,
        wanted_crank_speed=setting.wanted_crank_speed,
        reserve_limit=setting.reserve_limit,
        surge_limit=setting.surge_limit,
    )
    return readings, float_sheet(readings)


def float_lines(
    valves: Sequence[ValveKind],
    readings: FloatReadings,
    sheet: FloatSheet,
    weighed: Weighed,
    mass: MovingMass,
    setting: FloatSetting,
    scales: Scales,
) -> list[ValveFloat]:
    """Float and surge of every position, as they are answered."""
    speed, needed, surging = sheet.speed, sheet.needed, sheet.surging
    numbers = {
        "float_speed": speed.crank_speed,
        "float_speed_uncertainty": speed.crank_speed_uncertainty,
        "float_angle": speed.angle,
        "float_lift": speed.lift,
        "float_load": speed.load,
        "least_contact_force": sheet.forces.least,
        "least_contact_angle": np.where(np.isnan(sheet.forces.least), np.nan, sheet.forces.least_angle),
        "load_to_add": needed.added,
        "open_load_needed": needed.open_load,
        "moving_mass_allowed": sheet.mass_allowed,
        "surge_frequency": surging.frequency,
    }
    known = ~np.isnan(surging.frequency)
    columns = zip(
        _NUMBERS.from_si(numbers, scales),
        percent_checks(sheet.reserve, setting.reserve_limit, "at_least", sheet.reserve_verdict, check_class="damage"),
        ratio_checks(sheet.surge_ratio, setting.surge_limit, "at_least", sheet.surge_verdict, check_class="damage"),
        written(needed.factor),
        by_part(mass, scales),
        _speeds_per_gram(sheet, weighed, scales),
        [spring if there else None for spring, there in zip(surging.spring.tolist(), known.tolist(), strict=True)],
        _harmonics(valves, readings, sheet, scales),
        _traces(readings, sheet, setting.trace_points, scales),
        strict=True,
    )
    return [
        ValveFloat(
            float_reserve=reserve,
            surge_ratio=ratio,
            load_factor=factor,
            moving_mass_by_part=parts,
            speed_per_gram=per_gram,
            surge_spring=spring,
            harmonics=harmonics,
            trace=trace,
            verdict=worst_of([reserve.verdict, ratio.verdict]),
            **row,
        )
        for row, reserve, ratio, factor, parts, per_gram, spring, harmonics, trace in columns
    ]


def _speeds_per_gram(sheet: FloatSheet, weighed: Weighed, scales: Scales) -> list[SpeedPerGram]:
    parts, gained = weighed.parts, sheet.gained_per_gram
    lifter = np.where(weighed.ratio_known, gained / parts.rocker_ratio**2, np.nan)
    columns = {"valve": gained, "springs": parts.spring_share * gained, "lifter": lifter}
    return [SpeedPerGram(**row) for row in _PER_GRAM.from_si(columns, scales)]


def _harmonics(
    valves: Sequence[ValveKind], readings: FloatReadings, sheet: FloatSheet, scales: Scales
) -> list[list[Harmonic]]:
    """The harmonics next to the surge frequency; none where that, the speed or the motion is not known."""
    lines: list[list[Harmonic]] = [[] for _ in valves]
    kinds = np.array(valves)
    for kind in KINDS:
        own = np.flatnonzero(kinds == kind)
        if len(own) == 0 or np.isnan(readings.motion.lift[own[0], 0]):
            continue
        motion = Motion(*(getattr(readings.motion, name)[own[0]] for name in Motion.__dataclass_fields__))
        stirred = surge_harmonics(motion, sheet.surging.frequency[own], readings.crank_speed, _MOST_ORDERS)
        amplitude = written(stirred.amplitude / scales["length"].factor)
        speed = written(stirred.crank_speed / scales["speed"].factor)
        for place, row, nearest in zip(own.tolist(), speed, stirred.nearest.tolist(), strict=True):
            if nearest > 0:
                orders = range(max(nearest - _NEIGHBOURS, 1), min(nearest + _NEIGHBOURS, _MOST_ORDERS) + 1)
                lines[place] = [Harmonic(order=n, amplitude=amplitude[n - 1], speed=row[n - 1]) for n in orders]
    return lines


def _traces(readings: FloatReadings, sheet: FloatSheet, points: int | None, scales: Scales) -> list[ForceTrace | None]:
    if points is None:
        return [None] * len(sheet.load)
    share = np.linspace(0.0, 1.0, points)
    traces: list[ForceTrace | None] = []
    for place, own in enumerate(readings.motion.angle):
        if np.isnan(own[0]):
            traces.append(None)
            continue
        at = own[0] + (own[-1] - own[0]) * share
        force = scales["force"].factor
        lift, load, inertia, contact = (
            written(np.interp(at, own, values[place]) / factor)
            for values, factor in (
                (readings.motion.lift, scales["length"].factor),
                (sheet.load, force),
                (sheet.forces.inertia, force),
                (sheet.forces.contact, force),
            )
        )
        angles = written(at / scales["angle"].factor)
        traces.append(ForceTrace(angles=angles, lifts=lift, loads=load, inertias=inertia, contact_forces=contact))
    return traces
