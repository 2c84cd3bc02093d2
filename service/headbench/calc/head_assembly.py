"""Head assembly: the main job, every number of the assembly sheet from one set of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coil_bind import CoilBind, coil_bind_clearance
from headbench.calc.installed_height import Heights, open_height, set_heights
from headbench.calc.nested_springs import beyond_readings, is_proven, nested_height_for, nested_load
from headbench.calc.retainer_clearance import retainer_to_seal_clearance
from headbench.calc.spring_curves import SpringCurves
from headbench.calc.valve_mass import moving_mass
from headbench.calc.verdicts import Verdict, at_least, within, worst


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
class Masses:
    """What was weighed at every position.

    valve : array (P,) [kg]
    retainer : array (P,) [kg]
    locks : array (P,), both locks of one valve [kg]
    lash_cap : array (P,), 0 where there is none [kg]
    springs : array (P,), all springs on one valve [kg]
    """

    valve: FloatArray
    retainer: FloatArray
    locks: FloatArray
    lash_cap: FloatArray
    springs: FloatArray


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

    installed_height : float, largest deviation either way [m]
    coil_bind_clearance : float, least room [m]
    retainer_to_seal_clearance : float, least room [m]
    seat_load_percent : float, largest deviation either way [percent]
    open_load_percent : float, largest deviation either way [percent]
    """

    installed_height: float
    coil_bind_clearance: float
    retainer_to_seal_clearance: float
    seat_load_percent: float
    open_load_percent: float


@dataclass(frozen=True, slots=True)
class HeadReadings:
    """One head, or a pair: P positions as they were read, NaN where they were not.

    measured_height : array (P,) [m]
    deduction : array (P,) [m]
    valve_lift : array (P,) [m]
    retainer_to_seal : array (P,), valve shut [m]
    springs : Springs
    masses : Masses
    targets : Targets
    limits : Limits
    thicknesses : array (T,), shim sizes at hand [m]
    max_stack : float [m]
    in_stock : sequence (T,) of int or None [-]
    """

    measured_height: FloatArray
    deduction: FloatArray
    valve_lift: FloatArray
    retainer_to_seal: FloatArray
    springs: Springs
    masses: Masses
    targets: Targets
    limits: Limits
    thicknesses: FloatArray
    max_stack: float
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
    coil_bind : CoilBind
    coils_touch : array (P,), True where the coils touch before full lift [-]
    retainer_to_seal_clearance : array (P,) [m]
    moving_mass : array (P,) [kg]
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
    coil_bind: CoilBind
    coils_touch: BoolArray
    retainer_to_seal_clearance: FloatArray
    moving_mass: FloatArray
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
    on a tester: a rating is not a measurement; height, coil bind and retainer to seal are
    always checked, so a position is ACCEPT only when all three are measured. Where the coils touch
    before full lift there is no open load to speak of: the clearance says so and rejects.

    >>> from headbench.calc.spring_readings import from_readings
    >>> mm, unread = 1e-3, np.full(1, np.nan)
    >>> spring = SpringCurves(from_readings(np.array([0, 0]), np.array([44.5, 32.0]) * mm, np.array([520.0, 1170.0])))
    >>> sheet = assemble(HeadReadings(
    ...     measured_height=np.array([47.5]) * mm, deduction=np.array([2.25]) * mm,
    ...     valve_lift=np.array([12.5]) * mm, retainer_to_seal=unread,
    ...     springs=Springs(spring, np.array([[0]]), np.zeros((1, 1)), np.array([[29.0]]) * mm),
    ...     masses=Masses(unread, unread, unread, unread, unread),
    ...     targets=Targets(np.array([44.5]) * mm, np.array([520.0]), unread),
    ...     limits=Limits(0.127 * mm, 1.5 * mm, 1.27 * mm, 5.0, 5.0),
    ...     thicknesses=np.array([0.25, 0.50]) * mm, max_stack=1.5 * mm, in_stock=None,
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
        readings.max_stack,
        readings.in_stock,
    )
    at_lift = open_height(heights.installed_height, readings.valve_lift)
    bind = coil_bind_clearance(at_lift, springs.seat_step, springs.coil_bind_height)
    coils_touch = bind.clearance < 0.0
    seat_load = nested_load(springs.curves, springs.curve, heights.installed_height, springs.seat_step)
    open_load = nested_load(springs.curves, springs.curve, at_lift, springs.seat_step)
    open_load = np.where(coils_touch, np.nan, open_load)
    seat_deviation = 100.0 * (seat_load / targets.seat_load - 1.0)
    open_deviation = 100.0 * (open_load / targets.open_load - 1.0)
    to_seal = retainer_to_seal_clearance(readings.retainer_to_seal, readings.valve_lift)

    height_verdict = within(heights.deviation, limits.installed_height)
    proven = is_proven(springs.curves, springs.curve)
    seat_load_verdict = _if_proven(within(seat_deviation, limits.seat_load_percent), proven)
    open_load_verdict = _if_proven(within(open_deviation, limits.open_load_percent), proven)
    bind_verdict = bind.verdict(limits.coil_bind_clearance)
    retainer_verdict = at_least(to_seal, limits.retainer_to_seal_clearance)
    no_open_load = np.isnan(targets.open_load) | coils_touch
    verdict = worst(
        np.stack(
            [
                height_verdict,
                np.where(np.isnan(targets.seat_load), Verdict.ACCEPT, seat_load_verdict),
                np.where(no_open_load, Verdict.ACCEPT, open_load_verdict),
                bind_verdict,
                retainer_verdict,
            ]
        )
    )
    masses = readings.masses
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
        coil_bind=bind,
        coils_touch=coils_touch,
        retainer_to_seal_clearance=to_seal,
        moving_mass=moving_mass(masses.valve, masses.retainer, masses.locks, masses.lash_cap, masses.springs),
        height_verdict=height_verdict,
        seat_load_verdict=seat_load_verdict,
        open_load_verdict=open_load_verdict,
        coil_bind_verdict=bind_verdict,
        retainer_verdict=retainer_verdict,
        verdict=verdict,
    )


def _aim(targets: Targets, springs: Springs) -> FloatArray:
    by_load = np.isnan(targets.installed_height) & ~np.isnan(targets.seat_load)
    if not by_load.any():
        return targets.installed_height
    aim = targets.installed_height.copy()
    aim[by_load] = nested_height_for(
        springs.curves, springs.curve[by_load], targets.seat_load[by_load], springs.seat_step[by_load]
    )
    return aim


def _if_proven(verdict: IntArray, proven: BoolArray) -> IntArray:
    return np.where((verdict == Verdict.ACCEPT) & ~proven, Verdict.NOT_MEASURED, verdict).astype(np.int64)
