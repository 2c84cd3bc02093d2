"""Float lines: when each valve floats and how its springs surge, as an endpoint of its own and the sheet have it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta, structs

from headbench.api.masses.moving_mass import MovingMassByPart, Weighed, by_part
from headbench.api.train.lobes import Lobes
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
    ForceOut,
    FrequencyOut,
    LengthOut,
    MassOut,
    PercentOut,
    RatioOut,
    SpeedOut,
    written,
)
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.side_by_side import side_by_side
from headbench.calc.springs.spring_set import SpringSet
from headbench.calc.valve_float import floats as calc
from headbench.calc.valve_float.floats import Floats, FloatSetting, FloatValves
from headbench.calc.valve_float.sheet import FloatSheet


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


class ValveFloat(Answer, kw_only=True, frozen=True):
    """When one valve floats, what is left at the intended speed, and how its springs surge."""

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


def read_valves(
    valves: Sequence[ValveKind],
    lobes: Lobes,
    sets: Sequence[SpringSet],
    installed_height: Sequence[float],
    trusted: Sequence[bool],
    valve_lift: Sequence[float],
    own_lift: Sequence[float],
    weighed: Sequence[Weighed],
) -> FloatValves:
    """What was read of every position, with its full lift, and the one measured at itself, NaN where none was [m]."""
    return FloatValves(
        lobes=[lobes.by_kind.get(kind) for kind in KINDS],
        lobe=np.array([KINDS.index(valve) for valve in valves]),
        own_lift=np.array(own_lift),
        valve_lift=np.array(valve_lift),
        installed_height=np.array(installed_height),
        trusted=np.array(trusted),
        springs=side_by_side(sets),
        parts=[one.parts for one in weighed],
        ratio_known=np.array([one.ratio_known for one in weighed]),
        all_weighed=np.array([one.complete for one in weighed]),
        mass_uncertainty=np.array([one.uncertainty for one in weighed]),
    )


def float_lines(floats: Floats, setting: FloatSetting) -> list[ValveFloat]:
    """Float and surge of every position, as they are answered."""
    sheet = floats.sheet
    speed, forces, needed, surging = sheet.speed, sheet.forces, sheet.needed, sheet.surging
    columns = (
        speed.crank_speed,
        speed.crank_speed_uncertainty,
        speed.angle,
        speed.lift,
        speed.load,
        sheet.reserve,
        forces.least,
        np.where(np.isnan(forces.least), np.nan, forces.least_angle),
        needed.added,
        needed.open_load,
        needed.factor,
        sheet.mass_allowed,
        surging.frequency,
        sheet.surge_ratio,
    )
    rows = zip(
        written(np.stack(columns, axis=1)),
        _reserve_checks(sheet, setting),
        _surge_checks(sheet, setting),
        [by_part(mass) for mass in floats.mass],
        _speeds_per_gram(floats.per_gram),
        surging.spring.tolist(),
        floats.harmonics,
        floats.traces,
        strict=True,
    )
    return [
        ValveFloat(
            float_speed=numbers[0],
            float_speed_uncertainty=numbers[1],
            float_angle=numbers[2],
            float_lift=numbers[3],
            float_load=numbers[4],
            float_reserve=numbers[5],
            smallest_contact_force=numbers[6],
            smallest_contact_angle=numbers[7],
            load_to_add=numbers[8],
            open_load_needed=numbers[9],
            load_factor=numbers[10],
            moving_mass_allowed=numbers[11],
            surge_frequency=numbers[12],
            surge_ratio=numbers[13],
            float_reserve_check=reserve_check,
            moving_mass_by_part=parts,
            speed_per_gram=per_gram,
            surge_spring=None if numbers[12] is None else SPRING_PLACES[spring],
            surge_ratio_check=surge_check,
            harmonics=[Harmonic(order=one.order, amplitude=one.amplitude, speed=one.crank_speed) for one in harmonics],
            trace=None if trace is None else _trace(trace),
            verdict=worst_of([check.verdict for check in (reserve_check, surge_check) if check is not None]),
        )
        for numbers, reserve_check, surge_check, parts, per_gram, spring, harmonics, trace in rows
    ]


def _reserve_checks(sheet: FloatSheet, setting: FloatSetting) -> list[PercentCheck]:
    """A limit that is named, and float itself, are damage; a default is a setting."""
    value, limit, verdicts = sheet.reserve, setting.reserve_limit, sheet.reserve_verdict
    checks = percent_checks(value, limit, "at_least", verdicts, check_class="damage")
    held_by_nothing = np.isnan(value) & (verdicts == Verdict.REJECT)
    is_damage = setting.reserve_named | (value < 0.0) | held_by_nothing
    return [
        check if hard else structs.replace(check, check_class="setting")
        for check, hard in zip(checks, is_damage.tolist(), strict=True)
    ]


def _surge_checks(sheet: FloatSheet, setting: FloatSetting) -> list[RatioCheck | None]:
    named = ~np.isnan(setting.surge_limit)
    limit = np.nan_to_num(setting.surge_limit)
    checks = ratio_checks(sheet.surge_ratio, limit, "at_least", sheet.surge_verdict, check_class="damage")
    return [check if there else None for check, there in zip(checks, named.tolist(), strict=True)]


def _speeds_per_gram(gained: calc.SpeedPerGram) -> list[SpeedPerGram]:
    rows = written(np.stack([gained.valve, gained.springs, gained.lifter], axis=1))
    return [SpeedPerGram(valve=valve, springs=springs, lifter=lifter) for valve, springs, lifter in rows]


def _trace(trace: calc.ForceTrace) -> ForceTrace:
    return ForceTrace(
        angles=written(trace.angle),
        lifts=written(trace.lift),
        loads=written(trace.load),
        inertia_forces=written(trace.inertia),
        contact_forces=written(trace.contact),
    )
