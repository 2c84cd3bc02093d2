"""Head assembly: the main job, every number of the assembly sheet from one set of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coil_bind import CoilBind, coil_bind_clearance, coil_bind_verdict
from headbench.calc.installed_height import Heights, open_height, set_heights
from headbench.calc.nested_springs import any_loose, beyond_readings, is_proven, nested_height_for, nested_load
from headbench.calc.retainer_clearance import retainer_to_seal_clearance, retainer_verdict
from headbench.calc.spring_curves import SpringCurves
from headbench.calc.valve_mass import MovingMass, WeighedParts, moving_mass_by_part
from headbench.calc.verdicts import Verdict, accepted_if_proven, setting_verdict, within, worst


@dataclass(frozen=True, slots=True)
class Springs:
    """The springs of every position, outer one first, K of them at most.

    curves : SpringCurves, of all springs of the job [-]
    curve : array (P, K), each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    seat_step : array (P, K), how much shorter each stands than the outer one [m]
    coil_bind_height : array (P, K), where its coils touch; NaN not measured, -inf no such spring [m]
    """

    curves: SpringCurves
    curve: IntArray
    seat_step: FloatArray
    coil_bind_height: FloatArray


@dataclass(frozen=True, slots=True)
class Targets:
    """What every position should come to; NaN where nothing is wanted.

    installed_height : array (P,) [m]
    seat_load : array (P,) [N]
    open_load : array (P,) [N]
    """

    installed_height: FloatArray
    seat_load: FloatArray
    open_load: FloatArray


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits the checks compare with.

    installed_height_tolerance : array (P,), largest deviation either way [m]
    coil_bind_clearance_minimum : array (P,), least room [m]
    retainer_to_seal_clearance_minimum : array (P,), least room [m]
    seat_load_tolerance : array (P,), largest deviation either way [percent]
    open_load_tolerance : array (P,), largest deviation either way [percent]
    off_target_rejects : bool, whether a setting off its target is rejected [-]
    """

    installed_height_tolerance: FloatArray
    coil_bind_clearance_minimum: FloatArray
    retainer_to_seal_clearance_minimum: FloatArray
    seat_load_tolerance: FloatArray
    open_load_tolerance: FloatArray
    off_target_rejects: bool


@dataclass(frozen=True, slots=True)
class HeadReadings:
    """One head, or a pair: P positions as they were read, NaN where they were not.

    measured_height : array (P,) [m]
    deduction : array (P,) [m]
    valve_lift : array (P,) [m]
    retainer_to_seal : array (P,), valve shut [m]
    springs : Springs
    masses : WeighedParts
    targets : Targets
    limits : Limits
    thicknesses : array (T,), shim sizes at hand [m]
    stack_maximum : float [m]
    in_stock : sequence (T,) of int or None [-]
    """

    measured_height: FloatArray
    deduction: FloatArray
    valve_lift: FloatArray
    retainer_to_seal: FloatArray
    springs: Springs
    masses: WeighedParts
    targets: Targets
    limits: Limits
    thicknesses: FloatArray
    stack_maximum: float
    in_stock: Sequence[int | None] | None


@dataclass(frozen=True, slots=True)
class HeadSheet:
    """Every number of the sheet and its verdict.

    heights : Heights
    target_height : array (P,), the height aimed at: the target's, or that of the target seat load [m]
    open_height : array (P,) [m]
    seat_load : array (P,) [N]
    open_load : array (P,), NaN also where the coils touch before full lift [N]
    seat_load_beyond, open_load_beyond : array (P,), how far outside the readings the height lies [m]
    seat_load_deviation, open_load_deviation : array (P,), from the target [percent]
    seat_proven, open_proven : array (P,), whether the load there was read, or near enough [-]
    coil_bind : CoilBind
    coils_touch, coils_touch_shut : array (P,), True where the coils touch at full lift, or with the valve shut [-]
    any_loose : array (P,), True where a spring pushes nothing with the valve shut [-]
    retainer_to_seal_clearance : array (P,) [m]
    moving_mass : MovingMass
    height_verdict, seat_load_verdict, open_load_verdict, coil_bind_verdict, retainer_verdict : array (P,) [-]
    verdict : array (P,), the worst of the checks that apply [-]
    """

    heights: Heights
    target_height: FloatArray
    open_height: FloatArray
    seat_load: FloatArray
    open_load: FloatArray
    seat_load_beyond: FloatArray
    open_load_beyond: FloatArray
    seat_load_deviation: FloatArray
    open_load_deviation: FloatArray
    seat_proven: BoolArray
    open_proven: BoolArray
    coil_bind: CoilBind
    coils_touch: BoolArray
    coils_touch_shut: BoolArray
    any_loose: BoolArray
    retainer_to_seal_clearance: FloatArray
    moving_mass: MovingMass
    height_verdict: IntArray
    seat_load_verdict: IntArray
    open_load_verdict: IntArray
    coil_bind_verdict: IntArray
    retainer_verdict: IntArray
    verdict: IntArray


def assemble(readings: HeadReadings) -> HeadSheet:
    """Work out the whole assembly sheet from what was read so far.

    Parameters
    ----------
    readings : HeadReadings
        One head or a pair, half-measured or whole [-]

    Returns
    -------
    HeadSheet

    Notes
    -----
    A position without a target height aims at its target seat load instead, each spring by its own curve.
    A load is checked only where a target load is given, and accepted only when every spring was read
    on a tester at about that height: neither a rating nor a far extrapolation is a measurement. Height,
    coil bind and retainer to seal are always checked, so a position is ACCEPT only when all three are
    measured. Where the coils touch there is no load to speak of: the clearance says so and rejects. So
    is a position rejected whose springs push nothing on the seat.

    >>> from headbench.calc.spring_readings import from_readings
    >>> mm, unread = 1e-3, np.full(1, np.nan)
    >>> spring = SpringCurves(from_readings(np.array([0, 0]), np.array([44.5, 32.0]) * mm, np.array([520.0, 1170.0])))
    >>> sheet = assemble(HeadReadings(
    ...     measured_height=np.array([47.5]) * mm, deduction=np.array([2.25]) * mm,
    ...     valve_lift=np.array([12.5]) * mm, retainer_to_seal=unread,
    ...     springs=Springs(spring, np.array([[0]]), np.zeros((1, 1)), np.array([[29.0]]) * mm),
    ...     masses=WeighedParts(*(unread for _ in WeighedParts.__dataclass_fields__)),
    ...     targets=Targets(np.array([44.5]) * mm, np.array([520.0]), unread),
    ...     limits=Limits(*(np.array([limit]) for limit in (0.127 * mm, 1.5 * mm, 1.27 * mm, 5.0, 5.0)), False),
    ...     thicknesses=np.array([0.25, 0.50]) * mm, stack_maximum=1.5 * mm, in_stock=None,
    ... ))
    >>> sheet.coil_bind.clearance.round(9).tolist(), Verdict(sheet.verdict[0]).name
    ([0.003], 'NOT_MEASURED')
    """
    limits, springs, targets = readings.limits, readings.springs, readings.targets
    target_height = _aim(targets, springs)
    heights = set_heights(
        readings.measured_height,
        readings.deduction,
        target_height,
        readings.thicknesses,
        readings.stack_maximum,
        readings.in_stock,
    )
    installed = heights.installed_height
    at_lift = open_height(installed, readings.valve_lift)
    bind = coil_bind_clearance(at_lift, springs.seat_step, springs.coil_bind_height)
    shut = coil_bind_clearance(installed, springs.seat_step, springs.coil_bind_height)
    # a spring cannot be compressed to nothing, whether its coil-bind height was read or not
    coils_touch = bind.touches | (at_lift <= 0.0)
    seat_load = np.where(shut.touches, np.nan, _load(springs, installed))
    open_load = np.where(coils_touch, np.nan, _load(springs, at_lift))
    seat_deviation = 100.0 * (seat_load / targets.seat_load - 1.0)
    open_deviation = 100.0 * (open_load / targets.open_load - 1.0)
    to_seal = retainer_to_seal_clearance(readings.retainer_to_seal, readings.valve_lift)

    seat_proven, open_proven = _proven(springs, installed), _proven(springs, at_lift)
    asked = limits.off_target_rejects
    height_verdict = setting_verdict(within(heights.deviation, limits.installed_height_tolerance), misses_reject=asked)
    seat_load_verdict, open_load_verdict = (
        accepted_if_proven(setting_verdict(within(deviation, tolerance), misses_reject=asked), proven)
        for deviation, tolerance, proven in (
            (seat_deviation, limits.seat_load_tolerance, seat_proven),
            (open_deviation, limits.open_load_tolerance, open_proven),
        )
    )
    bind_verdict = np.where(
        at_lift <= 0.0, Verdict.REJECT, coil_bind_verdict(bind, shut, limits.coil_bind_clearance_minimum)
    ).astype(np.int64)
    seal_verdict = retainer_verdict(to_seal, readings.retainer_to_seal, limits.retainer_to_seal_clearance_minimum)
    no_seat_load = np.isnan(targets.seat_load) | shut.touches
    no_open_load = np.isnan(targets.open_load) | coils_touch
    loose = seat_load <= 0.0
    verdict = worst(
        np.stack(
            [
                height_verdict,
                np.where(no_seat_load, Verdict.ACCEPT, seat_load_verdict),
                np.where(no_open_load, Verdict.ACCEPT, open_load_verdict),
                np.where(loose, Verdict.REJECT, Verdict.ACCEPT),
                bind_verdict,
                seal_verdict,
            ]
        )
    )
    return HeadSheet(
        heights=heights,
        target_height=target_height,
        open_height=at_lift,
        seat_load=seat_load,
        open_load=open_load,
        seat_load_beyond=beyond_readings(springs.curves, springs.curve, heights.installed_height, springs.seat_step),
        open_load_beyond=beyond_readings(springs.curves, springs.curve, at_lift, springs.seat_step),
        seat_load_deviation=seat_deviation,
        open_load_deviation=open_deviation,
        seat_proven=seat_proven,
        open_proven=open_proven,
        coil_bind=bind,
        coils_touch=coils_touch,
        coils_touch_shut=shut.touches,
        any_loose=any_loose(springs.curves, springs.curve, installed, springs.seat_step),
        retainer_to_seal_clearance=to_seal,
        moving_mass=moving_mass_by_part(readings.masses),
        height_verdict=height_verdict,
        seat_load_verdict=seat_load_verdict,
        open_load_verdict=open_load_verdict,
        coil_bind_verdict=bind_verdict,
        retainer_verdict=seal_verdict,
        verdict=verdict,
    )


def _aim(targets: Targets, springs: Springs) -> FloatArray:
    by_load = np.isnan(targets.installed_height) & ~np.isnan(targets.seat_load)
    if not by_load.any():
        return targets.installed_height
    curve, step = springs.curve[by_load], springs.seat_step[by_load]
    found = nested_height_for(springs.curves, curve, targets.seat_load[by_load], step)
    touches = coil_bind_clearance(found, step, springs.coil_bind_height[by_load]).touches
    aim = targets.installed_height.copy()
    aim[by_load] = np.where(touches, np.nan, found)
    return aim


def _load(springs: Springs, height: FloatArray) -> FloatArray:
    return nested_load(springs.curves, springs.curve, height, springs.seat_step)


def _proven(springs: Springs, height: FloatArray) -> BoolArray:
    return is_proven(springs.curves, springs.curve, height, springs.seat_step)
