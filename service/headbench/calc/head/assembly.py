"""Head assembly: the main job, every number of the assembly sheet from one set of readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.clearances.coil_bind import CoilBind, coil_bind_clearance, coil_bind_verdict
from headbench.calc.clearances.retainer_clearance import retainer_to_seal_clearance, retainer_verdict
from headbench.calc.heights.installed_height import Heights, ShimsAtHand, Suits, open_height, set_heights, within_height
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, at_least, setting_verdict, within, worst
from headbench.calc.masses.valve_mass import MovingMass, WeighedParts, moving_mass_by_part
from headbench.calc.springs.loads import differ_by_more_than_a_tester
from headbench.calc.springs.nested import Springs, any_loose, beyond_readings, is_proven, nested_height_for, nested_load
from headbench.calc.train.lift_slips import lift_is_possible


@dataclass(frozen=True, slots=True)
class LoadTarget:
    """What a load should come to; NaN where nothing is wanted, one end NaN where only the other is.

    aim : array (P,), the load wanted; of a range its middle, or its only end [N]
    low, high : array (P,), least and most that is good [N]
    """

    aim: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def bounded(self) -> BoolArray:
        """Whether both ends are given, array (P,): a load that has only one says nothing of a height."""
        return np.asarray(~np.isnan(self.low) & ~np.isnan(self.high), dtype=np.bool_)

    def deviation(self, load: FloatArray) -> FloatArray:
        """What a load is off its aim, 100 (F/aim - 1).

        Parameters
        ----------
        load : array (P,)
            Loads, NaN not known [N]

        Returns
        -------
        array (P,)
            Deviation [percent]

        >>> LoadTarget(np.array([500.0]), np.array([475.0]), np.array([525.0])).deviation(np.array([490.0])).round(9)
        array([-2.])
        """
        return 100.0 * (load / self.aim - 1.0)

    def verdict(self, load: FloatArray) -> IntArray:
        """Plain comparison of loads with both ends.

        Parameters
        ----------
        load : array (P,)
            Loads, NaN not known [N]

        Returns
        -------
        array (P,) of Verdict codes
            NOT_MEASURED where the load or the aim is not known [-]

        >>> nothing = np.full(2, np.nan)
        >>> LoadTarget(np.full(2, 500.0), np.array([475.0, np.nan]), nothing).verdict(np.array([470.0, 470.0])).tolist()
        [3, 0]
        """
        ends = np.stack([_reached(load, self.low), _reached(-load, -self.high)])
        return np.where(np.isnan(load) | np.isnan(self.aim), Verdict.NOT_MEASURED, worst(ends)).astype(np.int64)


def _reached(value: FloatArray, limit: FloatArray) -> IntArray:
    return np.where(np.isnan(limit), Verdict.ACCEPT, at_least(value, limit)).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Targets:
    """What every position should come to; NaN where nothing is wanted.

    installed_height : array (P,) [m]
    seat_load, open_load : LoadTarget
    """

    installed_height: FloatArray
    seat_load: LoadTarget
    open_load: LoadTarget


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits the checks compare with.

    installed_height_tolerance : array (P,), largest deviation either way [m]
    coil_bind_clearance_minimum : array (P,), least room [m]
    retainer_to_seal_clearance_minimum : array (P,), least room [m]
    off_target_rejects : bool, whether a setting off its target is rejected [-]
    """

    installed_height_tolerance: FloatArray
    coil_bind_clearance_minimum: FloatArray
    retainer_to_seal_clearance_minimum: FloatArray
    off_target_rejects: bool


@dataclass(frozen=True, slots=True)
class HeadReadings:
    """One head, or a pair: P positions as they were read, NaN where they were not.

    bare_height : array (P,), height with no shim [m]
    height_with_shims : array (P,), read after assembly [m]
    height_proven : array (P,), whether nothing is in doubt about the height that counts [-]
    seat_load_with_shims : array (P,), read after assembly [N]
    valve_lift : array (P,) [m]
    retainer_to_seal : array (P,), valve closed [m]
    springs : Springs
    masses : WeighedParts
    targets : Targets
    limits : Limits
    shims : ShimsAtHand
    """

    bare_height: FloatArray
    height_with_shims: FloatArray
    height_proven: BoolArray
    seat_load_with_shims: FloatArray
    valve_lift: FloatArray
    retainer_to_seal: FloatArray
    springs: Springs
    masses: WeighedParts
    targets: Targets
    limits: Limits
    shims: ShimsAtHand


@dataclass(frozen=True, slots=True)
class HeadSheet:
    """Every number of the sheet and its verdict.

    heights : Heights
    target_height : array (P,), the height aimed at: the target's, or that of the target seat load [m]
    open_height : array (P,) [m]
    seat_load : array (P,), as read after assembly, else as figured [N]
    figured_seat_load : array (P,), the same as figured alone [N]
    open_load : array (P,), NaN also where the coils touch before full lift [N]
    seat_load_beyond, open_load_beyond : array (P,), how far outside the readings the height lies [m]
    seat_load_deviation, open_load_deviation : array (P,), from the target [percent]
    seat_proven, open_proven : array (P,), whether the load there was read, or near enough [-]
    coil_bind : CoilBind
    coils_touch, coils_touch_closed : array (P,), where the coils touch at full lift, or with the valve closed [-]
    any_loose : array (P,), True where a spring pushes nothing with the valve closed [-]
    runner_up_load, runner_up_clearance : array (P,), seat load and coil-bind clearance on the next best stack [N], [m]
    retainer_to_seal_clearance : array (P,) [m]
    moving_mass : MovingMass
    height_verdict, seat_load_verdict, open_load_verdict, coil_bind_verdict, retainer_verdict : array (P,) [-]
    contradicted : array (P,), where the seat load read after assembly is not that of its curves [-]
    trusted : array (P,), whether nothing is in doubt about its height and the loads there [-]
    height_counts : array (P,), False where the seat load, which the height serves, was read and is inside both ends [-]
    seat_load_counts, open_load_counts : array (P,), whether there is a load to judge, and something to judge it by [-]
    """

    heights: Heights
    target_height: FloatArray
    open_height: FloatArray
    seat_load: FloatArray
    figured_seat_load: FloatArray
    open_load: FloatArray
    seat_load_beyond: FloatArray
    open_load_beyond: FloatArray
    seat_load_deviation: FloatArray
    open_load_deviation: FloatArray
    seat_proven: BoolArray
    open_proven: BoolArray
    coil_bind: CoilBind
    coils_touch: BoolArray
    coils_touch_closed: BoolArray
    any_loose: BoolArray
    runner_up_load: FloatArray
    runner_up_clearance: FloatArray
    retainer_to_seal_clearance: FloatArray
    moving_mass: MovingMass
    height_verdict: IntArray
    seat_load_verdict: IntArray
    open_load_verdict: IntArray
    coil_bind_verdict: IntArray
    retainer_verdict: IntArray
    contradicted: BoolArray
    trusted: BoolArray
    height_counts: BoolArray
    seat_load_counts: BoolArray
    open_load_counts: BoolArray

    @property
    def pushes_nothing(self) -> BoolArray:
        """Where no load holds the valve closed."""
        return np.asarray(self.seat_load <= 0.0, dtype=np.bool_)

    @property
    def verdict(self) -> IntArray:
        """The worst of the checks that count, array (P,); a valve that nothing holds closed is rejected."""
        return worst(
            np.stack(
                [
                    np.where(self.height_counts, self.height_verdict, Verdict.ACCEPT),
                    np.where(self.seat_load_counts, self.seat_load_verdict, Verdict.ACCEPT),
                    np.where(self.open_load_counts, self.open_load_verdict, Verdict.ACCEPT),
                    np.where(self.pushes_nothing, Verdict.REJECT, Verdict.ACCEPT),
                    self.coil_bind_verdict,
                    self.retainer_verdict,
                ]
            )
        )


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
    Shims are chosen among the stacks that put the height or the measured seat load inside its limits and
    leave the coils room. A load is checked only where a target load is given, and accepted only when
    every spring was read on a tester at about that height: neither a rating nor a far extrapolation is a
    measurement. The load is the end and the height the means: where the seat load was read and is inside
    a target that is bounded on both sides, the height's deviation does not count. An open load from
    readings that the seat load on the head contradicts is not accepted. Height, coil bind and retainer to
    seal are always checked, so a position is ACCEPT only when all three are measured; a height in doubt is
    not, nor is what rests on it. Where the coils touch there is no load to speak of: the clearance says so
    and rejects.

    >>> from headbench.calc.springs.curves import SpringCurves
    >>> from headbench.calc.springs.readings import from_readings
    >>> mm, unread = 1e-3, np.full(1, np.nan)
    >>> spring = SpringCurves(from_readings(np.array([0, 0]), np.array([44.5, 32.0]) * mm, np.array([520.0, 1170.0])))
    >>> sheet = assemble(HeadReadings(
    ...     bare_height=np.array([45.25]) * mm, height_with_shims=unread, height_proven=np.array([True]),
    ...     seat_load_with_shims=unread,
    ...     valve_lift=np.array([12.5]) * mm, retainer_to_seal=unread,
    ...     springs=Springs(spring, np.array([[0]]), np.zeros((1, 1)), np.array([[29.0]]) * mm),
    ...     masses=WeighedParts(*(unread for _ in WeighedParts.__dataclass_fields__)),
    ...     targets=Targets(
    ...         np.array([44.5]) * mm,
    ...         LoadTarget(np.array([520.0]), np.array([494.0]), np.array([546.0])),
    ...         LoadTarget(unread, unread, unread),
    ...     ),
    ...     limits=Limits(*(np.array([limit]) * mm for limit in (0.25, 1.5, 1.27)), False),
    ...     shims=ShimsAtHand(np.array([0.25, 0.50]) * mm, 1.5 * mm),
    ... ))
    >>> sheet.coil_bind.clearance.round(9).tolist(), Verdict(sheet.verdict[0]).name
    ([0.003], 'NOT_MEASURED')
    """
    limits, springs, targets = readings.limits, readings.springs, readings.targets
    target_height = _aim(targets, springs)
    suits = _suits(readings, target_height)
    heights = set_heights(readings.bare_height, target_height, readings.shims, suits, readings.height_with_shims)
    installed = heights.installed_height
    at_lift = open_height(installed, readings.valve_lift)
    bind = coil_bind_clearance(at_lift, springs.seat_rise, springs.coil_bind_height, springs.bind_doubtful)
    closed = coil_bind_clearance(installed, springs.seat_rise, springs.coil_bind_height)
    # a spring cannot be compressed to nothing, whether its coil-bind height was read or not
    coils_touch = bind.touches | is_closed(at_lift)
    # closed, at full lift and on the next best stack, in one go
    places = np.stack([installed, at_lift, heights.runner_up_height])
    curve, rise = np.tile(springs.curve, (len(places), 1)), np.tile(springs.seat_rise, (len(places), 1))
    pushed, open_pushed, runner_up_load = nested_load(springs.curves, curve, places.ravel(), rise).reshape(places.shape)
    worked = places[:2].ravel()
    two = slice(0, len(worked))
    beyond = beyond_readings(springs.curves, curve[two], worked, rise[two]).reshape(2, -1)
    proven = is_proven(springs.curves, curve[two], worked, rise[two]).reshape(2, -1)
    figured = np.where(closed.touches, np.nan, pushed)
    was_read = ~np.isnan(readings.seat_load_with_shims)
    seat_load = np.where(was_read, readings.seat_load_with_shims, figured)
    open_load = np.where(coils_touch, np.nan, open_pushed)
    to_seal = retainer_to_seal_clearance(readings.retainer_to_seal, readings.valve_lift)

    sure = readings.height_proven
    seat_proven, open_proven = proven[0] | was_read, proven[1]
    # a spring that pushes something else on the head than on the tester is not the one that was tested
    contradicted = differ_by_more_than_a_tester(readings.seat_load_with_shims, figured)
    trusted = sure & ~contradicted
    asked = limits.off_target_rejects
    seat_verdict, open_verdict = (
        accepted_if_proven(setting_verdict(target.verdict(load), misses_reject=asked), proven)
        for target, load, proven in (
            (targets.seat_load, seat_load, (proven[0] & sure) | was_read),
            (targets.open_load, open_load, open_proven & trusted),
        )
    )
    possible = lift_is_possible(readings.valve_lift)
    room = accepted_if_proven(coil_bind_verdict(bind, closed, limits.coil_bind_clearance_minimum), possible & sure)
    bind_verdict = np.where(is_closed(at_lift), Verdict.REJECT, room).astype(np.int64)
    seat_counts = ~np.isnan(targets.seat_load.aim) & ~(closed.touches & ~was_read)
    return HeadSheet(
        heights=heights,
        target_height=target_height,
        open_height=at_lift,
        seat_load=seat_load,
        figured_seat_load=figured,
        open_load=open_load,
        seat_load_beyond=beyond[0],
        open_load_beyond=beyond[1],
        seat_load_deviation=targets.seat_load.deviation(seat_load),
        open_load_deviation=targets.open_load.deviation(open_load),
        seat_proven=seat_proven,
        open_proven=open_proven,
        coil_bind=bind,
        coils_touch=coils_touch,
        coils_touch_closed=closed.touches,
        any_loose=any_loose(springs.curves, springs.curve, installed, springs.seat_rise),
        runner_up_load=runner_up_load,
        runner_up_clearance=coil_bind_clearance(
            open_height(heights.runner_up_height, readings.valve_lift), springs.seat_rise, springs.coil_bind_height
        ).clearance,
        retainer_to_seal_clearance=to_seal,
        moving_mass=moving_mass_by_part(readings.masses),
        height_verdict=accepted_if_proven(
            setting_verdict(within(heights.deviation, limits.installed_height_tolerance), misses_reject=asked), sure
        ),
        seat_load_verdict=seat_verdict,
        open_load_verdict=open_verdict,
        coil_bind_verdict=bind_verdict,
        retainer_verdict=accepted_if_proven(
            retainer_verdict(to_seal, readings.retainer_to_seal, limits.retainer_to_seal_clearance_minimum), possible
        ),
        contradicted=contradicted,
        trusted=trusted,
        height_counts=~(
            seat_counts & (seat_verdict == Verdict.ACCEPT) & targets.seat_load.bounded & ~np.isnan(installed) & trusted
        ),
        seat_load_counts=seat_counts,
        open_load_counts=~np.isnan(targets.open_load.aim) & ~coils_touch,
    )


def _suits(readings: HeadReadings, target_height: FloatArray) -> Suits:
    """Height or measured seat load inside its limits, and room left between the coils as far as it is known."""
    limits, springs, wanted = readings.limits, readings.springs, readings.targets.seat_load
    by_height = within_height(target_height, limits.installed_height_tolerance)

    def suits(places: IntArray, heights: FloatArray) -> BoolArray:
        at_lift = open_height(heights, readings.valve_lift[places])
        bind = coil_bind_clearance(at_lift, springs.seat_rise[places], springs.coil_bind_height[places])
        room = bind.verdict(limits.coil_bind_clearance_minimum[places]) != Verdict.REJECT
        inside = by_height(places, heights)
        by_load = np.flatnonzero(~inside & room & ~np.isnan(wanted.aim[places]) & wanted.bounded[places])
        if len(by_load):
            own, at = places[by_load], heights[by_load]
            target = LoadTarget(wanted.aim[own], wanted.low[own], wanted.high[own])
            load = nested_load(springs.curves, springs.curve[own], at, springs.seat_rise[own])
            read = is_proven(springs.curves, springs.curve[own], at, springs.seat_rise[own])
            inside[by_load] = read & (target.verdict(load) == Verdict.ACCEPT)
        return np.asarray(inside & room & ~is_closed(at_lift), dtype=np.bool_)

    return suits


def _aim(targets: Targets, springs: Springs) -> FloatArray:
    by_load = np.isnan(targets.installed_height) & ~np.isnan(targets.seat_load.aim)
    if not by_load.any():
        return targets.installed_height
    curve, step = springs.curve[by_load], springs.seat_rise[by_load]
    found = nested_height_for(springs.curves, curve, targets.seat_load.aim[by_load], step)
    touches = coil_bind_clearance(found, step, springs.coil_bind_height[by_load]).touches
    aim = targets.installed_height.copy()
    aim[by_load] = np.where(touches, np.nan, found)
    return aim
