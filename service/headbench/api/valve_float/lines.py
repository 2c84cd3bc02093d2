"""Float lines: when each valve floats and how its springs surge, as an endpoint of its own and the sheet have it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.masses.moving_mass import MovingMassByPart, Weighed, by_part
from headbench.api.springs.spring import SpringTable
from headbench.api.train.lobes import Lobes
from headbench.api.valve_float.setting import FloatSetting
from headbench.api.vocabulary.checks import (
    PercentCheck,
    RatioCheck,
    VerdictName,
    percent_checks,
    ratio_checks,
    worst_of,
)
from headbench.api.vocabulary.names import KINDS, SPRING_PLACES, SpringPlace, ValveKind
from headbench.api.vocabulary.quantities import (
    AngleOut,
    Answer,
    Columns,
    ForceOut,
    FrequencyOut,
    LengthOut,
    MassOut,
    PercentOut,
    RatioOut,
    SpeedOut,
    written,
)
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.masses.valve_mass import MovingMass
from headbench.calc.springs.nested import Springs
from headbench.calc.train.valve_motion import Motion, scaled_to, stacked
from headbench.calc.valve_float.sheet import FloatReadings, FloatSheet, float_sheet
from headbench.calc.valve_float.surge import surge_harmonics


class SpeedPerGram(Answer, kw_only=True, frozen=True):
    """Crank speed that a gram less buys before float, by where it comes off."""

    valve: Annotated[
        SpeedOut | None,
        Meta(description="A gram off the valve, its retainer, locks or lash cap; null = float speed not known."),
    ]
    springs: Annotated[
        SpeedOut | None, Meta(description="A gram off the springs' working coils; null = float speed not known.")
    ]
    lifter: Annotated[
        SpeedOut | None, Meta(description="A gram off the pushrod or the lifter; null = rocker ratio not given.")
    ]


class Harmonic(Answer, kw_only=True, frozen=True):
    """One harmonic of the lift over the cam's turn, near the surge frequency at the intended speed."""

    order: Annotated[int, Meta(description="Its order: cycles per turn of the cam.")]
    amplitude: Annotated[LengthOut, Meta(description="Its amplitude: how much of the lift it is.")]
    speed: Annotated[SpeedOut, Meta(description="Crank speed at which it meets the surge frequency.")]


class ForceTrace(Answer, kw_only=True, frozen=True):
    """Forces at the valve over the lobe at the intended speed; all lists of one length."""

    angles: Annotated[list[AngleOut], Meta(description="Cam angles, counted as the motion counts them.")]
    lifts: Annotated[list[LengthOut], Meta(description="At the valve.")]
    loads: Annotated[
        list[ForceOut | None], Meta(description="Force of the springs; null = not measured, or coils touching.")
    ]
    inertia_forces: Annotated[
        list[ForceOut | None], Meta(description="Force the motion takes; null = intended speed not given.")
    ]
    contact_forces: Annotated[
        list[ForceOut | None],
        Meta(
            description="Force that holds train and cam together; below 0 they part; null = one of the two is not "
            "known."
        ),
    ]


class FloatNumbers(Answer, kw_only=True, frozen=True):
    """The plain numbers of one position's float and surge."""

    float_speed: Annotated[
        SpeedOut | None,
        Meta(description="Lowest crank speed at which a rigid train leaves its cam; null = not measured."),
    ]
    float_speed_uncertainty: Annotated[
        SpeedOut | None,
        Meta(
            description="One standard uncertainty, from what is known of the scatter and spacing of lift readings, of "
            "load and of mass; null = float speed not known."
        ),
    ]
    float_angle: Annotated[
        AngleOut | None,
        Meta(description="Cam angle at which it floats, counted as its motion counts; null = float speed not known."),
    ]
    float_lift: Annotated[LengthOut | None, Meta(description="Valve lift there; null = float speed not known.")]
    float_load: Annotated[ForceOut | None, Meta(description="Spring load there; null = float speed not known.")]
    float_reserve: Annotated[
        PercentOut | None,
        Meta(description="Float speed over the intended speed, less 100 percent; null = one of the two is not known."),
    ]
    smallest_contact_force: Annotated[
        ForceOut | None,
        Meta(
            description="Smallest force between train and cam at the intended speed, at the valve; below 0 they part; "
            "null = not measured."
        ),
    ]
    smallest_contact_angle: Annotated[
        AngleOut | None, Meta(description="Cam angle of the smallest contact force; null = not measured.")
    ]
    load_to_add: Annotated[
        ForceOut | None,
        Meta(description="Load to add at every height for the wanted speed; negative = in hand; null = not known."),
    ]
    open_load_needed: Annotated[ForceOut | None, Meta(description="Open load with load_to_add; null = not known.")]
    load_factor: Annotated[
        RatioOut | None, Meta(description="Factor on all loads for the wanted speed instead; null = not known.")
    ]
    moving_mass_allowed: Annotated[
        MassOut | None,
        Meta(description="Moving mass that these springs hold on the cam to the wanted speed; null = not known."),
    ]
    surge_frequency: Annotated[
        FrequencyOut | None,
        Meta(
            description="Lowest surge frequency of its springs, both ends held, at the installed height; null = not "
            "measured."
        ),
    ]
    surge_ratio: Annotated[
        RatioOut | None,
        Meta(
            description="Surge frequency over the cam's turning frequency at the intended speed; valve springs run 6 "
            "to 10 (from memory); null = not known."
        ),
    ]


class ValveFloat(FloatNumbers, kw_only=True, frozen=True):
    """When one valve floats, what is left at the intended speed, and how its springs surge."""

    float_reserve_check: Annotated[
        PercentCheck,
        Meta(
            description="float_reserve against its minimum; not_measured from a textbook stand-in. Below 0 it floats "
            "and is rejected. A miss of a minimum the job sets is rejected (damage); a miss of the default alone is "
            "borderline (setting): the default is common practice."
        ),
    ]
    moving_mass_by_part: Annotated[MovingMassByPart, Meta(description="What each part counts at the valve.")]
    speed_per_gram: Annotated[SpeedPerGram, Meta(description="Float speed gained per gram removed.")]
    surge_spring: Annotated[
        SpringPlace | None, Meta(description="Which of its springs surges lowest; null = not measured.")
    ]
    surge_ratio_check: Annotated[
        RatioCheck | None, Meta(description="surge_ratio against its minimum; null = no minimum given.")
    ]
    harmonics: Annotated[
        list[Harmonic], Meta(description="The harmonic nearest to the surge frequency and its neighbors.")
    ]
    trace: Annotated[
        ForceTrace | None,
        Meta(description="Forces over the lobe, for plotting; null = not asked, or motion not known."),
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of its checks.")]


_NUMBERS = Columns(FloatNumbers)
_PER_GRAM = Columns(SpeedPerGram)
_MOST_ORDERS: Final = 100
_NEIGHBORS: Final = 1


def find_floats(
    valves: Sequence[ValveKind],
    lobes: Lobes,
    table: SpringTable,
    rows: IntArray,
    installed_height: FloatArray,
    trusted: BoolArray,
    valve_lift: FloatArray,
    own_lift: FloatArray,
    weighed: Weighed,
    mass: MovingMass,
    setting: FloatSetting,
) -> tuple[FloatReadings, FloatSheet]:
    """Float and surge of every position, from its full lift, and the one measured at itself, NaN where none was [m]."""
    kinds = np.array([KINDS.index(valve) for valve in valves])
    measured = np.array([lobes.proves(kind) for kind in KINDS])
    readings = FloatReadings(
        motion=scaled_to(stacked(lobes.motions(), kinds), own_lift),
        valve_lift=valve_lift,
        measured=measured[kinds],
        all_weighed=weighed.complete,
        springs=Springs(
            table.curves,
            table.curve[rows],
            table.seat_rise[rows],
            table.coil_bind_height[rows],
            table.bind_doubtful[rows],
        ),
        active_mass=table.active_mass[rows],
        installed_height=installed_height,
        trusted=trusted,
        mass=mass.total,
        load_uncertainty=np.full(len(valves), setting.load_uncertainty),
        mass_uncertainty=np.hypot(weighed.uncertainty, setting.mass_uncertainty),
        crank_speed=setting.crank_speed,
        wanted_crank_speed=setting.wanted_crank_speed,
        reserve_limit=setting.reserve_limit,
        reserve_named=setting.reserve_named,
        misses_reject=setting.misses_reject,
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
) -> list[ValveFloat]:
    """Float and surge of every position, as they are answered."""
    speed, needed, surging = sheet.speed, sheet.needed, sheet.surging
    numbers = {
        "float_speed": speed.crank_speed,
        "float_speed_uncertainty": speed.crank_speed_uncertainty,
        "float_angle": speed.angle,
        "float_lift": speed.lift,
        "float_load": speed.load,
        "smallest_contact_force": sheet.forces.least,
        "smallest_contact_angle": np.where(np.isnan(sheet.forces.least), np.nan, sheet.forces.least_angle),
        "load_to_add": needed.added,
        "open_load_needed": needed.open_load,
        "moving_mass_allowed": sheet.mass_allowed,
        "surge_frequency": surging.frequency,
    }
    known = ~np.isnan(surging.frequency)
    columns = zip(
        _NUMBERS.rows(numbers),
        *(written(values) for values in (sheet.reserve, needed.factor, sheet.surge_ratio)),
        _reserve_checks(sheet, setting),
        _surge_checks(sheet, setting),
        by_part(mass),
        _speeds_per_gram(sheet, weighed),
        [SPRING_PLACES[spring] if there else None for spring, there in zip(surging.spring, known, strict=True)],
        _harmonics(valves, readings, sheet),
        _traces(readings, sheet, setting.trace_points),
        strict=True,
    )
    return [
        ValveFloat(
            float_reserve=reserve,
            load_factor=factor,
            surge_ratio=ratio,
            float_reserve_check=reserve_check,
            surge_ratio_check=surge_check,
            moving_mass_by_part=parts,
            speed_per_gram=per_gram,
            surge_spring=spring,
            harmonics=orders,
            trace=trace,
            verdict=worst_of([check.verdict for check in (reserve_check, surge_check) if check is not None]),
            **row,
        )
        for row, reserve, factor, ratio, reserve_check, surge_check, parts, per_gram, spring, orders, trace in columns
    ]


def _reserve_checks(sheet: FloatSheet, setting: FloatSetting) -> list[PercentCheck]:
    """A limit that is named, and float itself, are damage; a default is a setting."""
    value, limit, verdicts = sheet.reserve, setting.reserve_limit, sheet.reserve_verdict
    damage = percent_checks(value, limit, "at_least", verdicts, check_class="damage")
    setting_only = percent_checks(value, limit, "at_least", verdicts, check_class="setting")
    held_by_nothing = np.isnan(value) & (verdicts == Verdict.REJECT)
    is_damage = setting.reserve_named | (value < 0.0) | held_by_nothing
    return [d if hard else s for d, s, hard in zip(damage, setting_only, is_damage, strict=True)]


def _surge_checks(sheet: FloatSheet, setting: FloatSetting) -> list[RatioCheck | None]:
    named = ~np.isnan(setting.surge_limit)
    limit = np.nan_to_num(setting.surge_limit)
    checks = ratio_checks(sheet.surge_ratio, limit, "at_least", sheet.surge_verdict, check_class="damage")
    return [check if there else None for check, there in zip(checks, named, strict=True)]


def _speeds_per_gram(sheet: FloatSheet, weighed: Weighed) -> list[SpeedPerGram]:
    parts, gained = weighed.parts, sheet.gained_per_gram
    lifter = np.where(weighed.ratio_known, gained / parts.rocker_ratio**2, np.nan)
    columns = {"valve": gained, "springs": parts.spring_share * gained, "lifter": lifter}
    return [SpeedPerGram(**row) for row in _PER_GRAM.rows(columns)]


def _harmonics(valves: Sequence[ValveKind], readings: FloatReadings, sheet: FloatSheet) -> list[list[Harmonic]]:
    """The harmonics next to the surge frequency; none where that, the speed or the motion is not known."""
    lines: list[list[Harmonic]] = [[] for _ in valves]
    peaks = zip(valves, readings.motion.lift.max(axis=1).tolist(), strict=True)
    alike: dict[tuple[ValveKind, float], list[int]] = {}
    for place, motion_of in enumerate(peaks):
        if not np.isnan(motion_of[1]):
            alike.setdefault(motion_of, []).append(place)
    for own in alike.values():
        motion = Motion(*(getattr(readings.motion, name)[own[0]] for name in Motion.__dataclass_fields__))
        stirred = surge_harmonics(motion, sheet.surging.frequency[own], readings.crank_speed, _MOST_ORDERS)
        amplitude = written(stirred.amplitude)
        speed = written(stirred.crank_speed)
        for place, row, nearest in zip(own, speed, stirred.nearest.tolist(), strict=True):
            if nearest > 0:
                orders = range(max(nearest - _NEIGHBORS, 1), min(nearest + _NEIGHBORS, _MOST_ORDERS) + 1)
                lines[place] = [Harmonic(order=n, amplitude=amplitude[n - 1], speed=row[n - 1]) for n in orders]
    return lines


def _traces(readings: FloatReadings, sheet: FloatSheet, points: int | None) -> list[ForceTrace | None]:
    if points is None:
        return [None] * len(sheet.load)
    share = np.linspace(0.0, 1.0, points)
    traces: list[ForceTrace | None] = []
    for place, own in enumerate(readings.motion.angle):
        if np.isnan(own[0]):
            traces.append(None)
            continue
        at = own[0] + (own[-1] - own[0]) * share
        lift, load, inertia, contact = (
            written(np.interp(at, own, values[place]))
            for values in (readings.motion.lift, sheet.load, sheet.forces.inertia, sheet.forces.contact)
        )
        angles = written(at)
        traces.append(ForceTrace(angles=angles, lifts=lift, loads=load, inertia_forces=inertia, contact_forces=contact))
    return traces
