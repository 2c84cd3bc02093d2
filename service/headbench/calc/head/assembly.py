"""Head assembly: the main job, every number of the assembly sheet from one set of readings.

Position by position in plain floats, NaN where a reading was not taken: a valve goes in, its line comes out. Only the
shims look at all positions, because they may have to share a stock.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from headbench.calc.clearances.coil_bind import CoilBind, coil_bind_clearance, coil_bind_verdict
from headbench.calc.clearances.retainer_clearance import check_retainer
from headbench.calc.heights.installed_height import Height, ShimsAtHand, open_height, set_heights, within_height
from headbench.calc.heights.pockets import Side, Suits
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_LIFT
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, setting_verdict, within
from headbench.calc.masses.valve_mass import MovingMass, WeighedParts, moving_mass_by_part
from headbench.calc.springs.heights_for import heights_for
from headbench.calc.springs.loads import differ_by_more_than_a_tester
from headbench.calc.springs.spring_set import SpringSet

_NAN: Final = math.nan
_ACCEPT, _NOT_MEASURED, _REJECT = int(Verdict.ACCEPT), int(Verdict.NOT_MEASURED), int(Verdict.REJECT)


class Targets(NamedTuple):
    """What the valves of one kind should come to; NaN where nothing is wanted.

    installed_height : float [m]
    seat_load, open_load : LoadTarget
    """

    installed_height: float
    seat_load: LoadTarget
    open_load: LoadTarget


class Limits(NamedTuple):
    """The limits that the checks of one kind of valve compare with.

    installed_height_tolerance : float, largest deviation either way [m]
    coil_bind_clearance_minimum : float, least room [m]
    retainer_to_seal_clearance_minimum : float, least room [m]
    off_target_rejects : bool, whether a setting off its target is rejected [-]
    """

    installed_height_tolerance: float
    coil_bind_clearance_minimum: float
    retainer_to_seal_clearance_minimum: float
    off_target_rejects: bool


class ValveReadings(NamedTuple):
    """One valve as it was read, NaN where it was not.

    bare_height : float, height with no shim [m]
    height_with_shims : float, read after assembly [m]
    height_proven : bool, whether nothing is in doubt about the height that counts [-]
    seat_load_with_shims : float, read after assembly [N]
    valve_lift : float [m]
    retainer_to_seal : float, valve closed [m]
    springs : SpringSet
    masses : WeighedParts
    targets : Targets
    limits : Limits
    fitted_stack : float, total thickness of the shims that are fitted already; NaN where they are to be chosen [m]
    bare_proven : bool, whether nothing is in doubt about bare_height, which what was read after assembly settles [-]
    """

    bare_height: float
    height_with_shims: float
    height_proven: bool
    seat_load_with_shims: float
    valve_lift: float
    retainer_to_seal: float
    springs: SpringSet
    masses: WeighedParts
    targets: Targets
    limits: Limits
    fitted_stack: float = _NAN
    bare_proven: bool = True


class ValveSheet(NamedTuple):
    """Every number of one position and its verdicts.

    readings : ValveReadings, what it follows from
    height : Height
    target_height : float, the height aimed at: the target's, or that of the target seat load [m]
    open_height : float [m]
    seat_load : float, as read after assembly, else as figured [N]
    figured_seat_load : float, the same as figured alone [N]
    open_load : float, NaN also where the coils touch before full lift [N]
    seat_load_beyond, open_load_beyond : float, how far outside the readings the height lies [m]
    coil_bind : CoilBind
    coils_touch_closed : bool, whether the coils touch with the valve closed [-]
    any_loose : bool, whether a spring pushes nothing with the valve closed [-]
    runner_up_load, runner_up_clearance : float, seat load and coil-bind clearance on the next best stack [N], [m]
    retainer_to_seal_clearance : float [m]
    moving_mass : MovingMass
    height_verdict, seat_load_verdict, open_load_verdict, coil_bind_verdict, retainer_verdict : int [-]
    contradicted : bool, whether the seat load read after assembly is not that of its curves [-]
    heights_contradict : bool, whether its heights with shims and without are so far apart that one is wrong [-]
    trusted : bool, whether nothing is in doubt about its height and the loads there [-]
    height_counts : bool, False where the seat load, which the height serves, was read and is inside both ends [-]
    seat_load_counts, open_load_counts : bool, whether there is a load to judge, and something to judge it by [-]
    """

    readings: ValveReadings
    height: Height
    target_height: float
    open_height: float
    seat_load: float
    figured_seat_load: float
    open_load: float
    seat_load_beyond: float
    open_load_beyond: float
    coil_bind: CoilBind
    coils_touch_closed: bool
    any_loose: bool
    runner_up_load: float
    runner_up_clearance: float
    retainer_to_seal_clearance: float
    moving_mass: MovingMass
    height_verdict: int
    seat_load_verdict: int
    open_load_verdict: int
    coil_bind_verdict: int
    retainer_verdict: int
    contradicted: bool
    heights_contradict: bool
    trusted: bool
    height_counts: bool
    seat_load_counts: bool
    open_load_counts: bool

    @property
    def pushes_nothing(self) -> bool:
        """Whether no load holds the valve closed."""
        return self.seat_load <= 0.0

    @property
    def seat_load_read(self) -> bool:
        """Whether the seat load that counts was read after assembly."""
        return not math.isnan(self.readings.seat_load_with_shims)

    @property
    def verdict(self) -> int:
        """The worst of the checks that count; a valve that nothing holds closed is rejected."""
        return max(
            self.height_verdict if self.height_counts else _ACCEPT,
            self.seat_load_verdict if self.seat_load_counts else _ACCEPT,
            self.open_load_verdict if self.open_load_counts else _ACCEPT,
            _REJECT if self.pushes_nothing else _ACCEPT,
            self.coil_bind_verdict,
            self.retainer_verdict,
        )


@dataclass(frozen=True, slots=True)
class HeadSheet:
    """The whole sheet of numbers.

    valves : list of ValveSheet [-]
    shims_used : list (T,), how many shims of each size are laid [-]
    shim_choice_proven : bool, whether a limited stock is shared in a way proven best [-]
    """

    valves: list[ValveSheet]
    shims_used: list[int]
    shim_choice_proven: bool


def assemble(
    valves: Sequence[ValveReadings], shims: ShimsAtHand, laid: Sequence[tuple[int, ...] | None] | None = None
) -> HeadSheet:
    """Work out the whole assembly sheet from what was read so far.

    Parameters
    ----------
    valves : sequence of ValveReadings
        One head or a pair, half-measured or whole [-]
    shims : ShimsAtHand
        The shims that may be laid [-]
    laid : sequence of tuple of int or None
        Shims that were chosen with the spring: see `set_heights` [-]

    Returns
    -------
    HeadSheet

    Notes
    -----
    A position without a target height aims at its target seat load instead, each spring by its own curve.
    Shims are chosen among the stacks that put the height or the measured seat load inside its limits and
    leave the coils room; where none does both, among those that leave the coils room, if there is one. A
    load is checked only where a target load is given, and accepted only when every spring was read on a
    tester at about that height: neither a rating nor a far extrapolation is a
    measurement. The load is the end and the height the means: where the seat load was read and is inside
    a target that is bounded on both sides, the height's deviation does not count. An open load from
    readings that the seat load on the head contradicts is not accepted. Height, coil bind and retainer to
    seal are always checked, so a position is ACCEPT only when all three are measured; a height in doubt is
    not, nor is what rests on it. A lift or a distance to the seal that cannot be right, a decimal point
    off, counts as not taken; heights with shims and without that contradict each other prove nothing.
    Where the coils touch there is no load to speak of: the clearance says so and rejects.

    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.spring_set import SpringSet, spring_set
    >>> mm, unread = 1e-3, math.nan
    >>> sheet = assemble(
    ...     [
    ...         ValveReadings(
    ...             bare_height=45.25 * mm, height_with_shims=unread, height_proven=True, seat_load_with_shims=unread,
    ...             valve_lift=12.5 * mm, retainer_to_seal=unread,
    ...             springs=spring_set(curve_through([44.5 * mm, 32.0 * mm], [520.0, 1170.0])),
    ...             masses=WeighedParts(*(unread for _ in WeighedParts._fields)),
    ...             targets=Targets(44.5 * mm, LoadTarget(520.0, 494.0, 546.0), LoadTarget()),
    ...             limits=Limits(0.25 * mm, 1.5 * mm, 1.27 * mm, off_target_rejects=False),
    ...         )
    ...     ],
    ...     ShimsAtHand([0.25 * mm, 0.50 * mm], 1.5 * mm),
    ... )
    >>> valve = sheet.valves[0]
    >>> round(valve.seat_load, 6), round(valve.open_load, 6), Verdict(valve.verdict).name
    (520.0, 1170.0, 'NOT_MEASURED')
    """
    aims = [_aim(valve) for valve in valves]
    heights = set_heights(
        [valve.bare_height for valve in valves],
        aims,
        shims,
        [_suits(valve, aim) for valve, aim in zip(valves, aims, strict=True)],
        [valve.height_with_shims for valve in valves],
        [valve.fitted_stack for valve in valves],
        laid,
    )
    sheets = [_line(valve, aim, height) for valve, aim, height in zip(valves, aims, heights.each, strict=True)]
    return HeadSheet(sheets, heights.used, heights.proven)


def _line(valve: ValveReadings, target_height: float, height: Height) -> ValveSheet:
    springs, targets, limits = valve.springs, valve.targets, valve.limits
    installed = height.installed_height
    at_lift = _at_full_lift(valve, installed)
    bind, closed = coil_bind_clearance(at_lift, springs), coil_bind_clearance(installed, springs)
    # a spring cannot be compressed to nothing, whether its coil-bind height was read or not
    gone, touches_closed = is_closed(at_lift), closed.touches
    coils_touch = gone or bind.touches
    figured = _NAN if touches_closed else springs.load_at(installed)
    was_read = not math.isnan(valve.seat_load_with_shims)
    seat_load = valve.seat_load_with_shims if was_read else figured
    open_load = _NAN if coils_touch else springs.load_at(at_lift)

    # a spring that pushes something else on the head than on the tester is not the one that was tested
    contradicted = was_read and differ_by_more_than_a_tester(valve.seat_load_with_shims, figured)
    contradict = valve.bare_proven and height.is_contradicted
    sure, asked = valve.height_proven and not contradict, limits.off_target_rejects
    trusted = sure and not contradicted
    seat_counts = targets.seat_load.is_set and (was_read or not touches_closed)
    seat_verdict = open_verdict = _NOT_MEASURED
    if targets.seat_load.is_set:
        proven = was_read or (sure and springs.is_proven(installed))
        judged = setting_verdict(targets.seat_load.verdict(seat_load), misses_reject=asked)
        seat_verdict = accepted_if_proven(judged, proven)
    if targets.open_load.is_set:
        judged = setting_verdict(targets.open_load.verdict(open_load), misses_reject=asked)
        open_verdict = accepted_if_proven(judged, trusted and springs.is_proven(at_lift))
    room = coil_bind_verdict(bind, closed, limits.coil_bind_clearance_minimum)
    off = setting_verdict(within(height.deviation, limits.installed_height_tolerance), misses_reject=asked)
    carried = seat_counts and seat_verdict == _ACCEPT and targets.seat_load.bounded and trusted
    seal = check_retainer(valve.retainer_to_seal, valve.valve_lift, limits.retainer_to_seal_clearance_minimum)
    other = height.runner_up_height
    has_other = not math.isnan(other)
    return ValveSheet(
        readings=valve,
        height=height,
        target_height=target_height,
        open_height=at_lift,
        seat_load=seat_load,
        figured_seat_load=figured,
        open_load=open_load,
        seat_load_beyond=springs.beyond_readings(installed),
        open_load_beyond=springs.beyond_readings(at_lift),
        coil_bind=bind,
        coils_touch_closed=touches_closed,
        any_loose=springs.any_loose(installed),
        runner_up_load=springs.load_at(other) if has_other else _NAN,
        runner_up_clearance=(
            coil_bind_clearance(_at_full_lift(valve, other), springs).clearance if has_other else _NAN
        ),
        retainer_to_seal_clearance=seal.clearance,
        moving_mass=moving_mass_by_part(valve.masses),
        height_verdict=accepted_if_proven(off, sure),
        seat_load_verdict=seat_verdict,
        open_load_verdict=open_verdict,
        coil_bind_verdict=_REJECT if gone else accepted_if_proven(room, sure),
        retainer_verdict=seal.verdict,
        contradicted=contradicted,
        heights_contradict=contradict,
        trusted=trusted,
        height_counts=not (carried and not math.isnan(installed)),
        seat_load_counts=seat_counts,
        open_load_counts=targets.open_load.is_set and not coils_touch,
    )


def _at_full_lift(valve: ValveReadings, height: float) -> float:
    """The height at full lift [m] of a spring that stands at some height [m] with its valve closed."""
    return open_height(height, if_possible(valve.valve_lift, POSSIBLE_LIFT))


def _suits(valve: ValveReadings, target_height: float) -> Suits:
    """Height or measured seat load inside its limits, and room left between the coils as far as it is known."""
    limits, springs, wanted = valve.limits, valve.springs, valve.targets.seat_load
    by_height = within_height(target_height, limits.installed_height_tolerance)

    def room(height: float) -> Side:
        at_lift = _at_full_lift(valve, height)
        left = coil_bind_clearance(at_lift, springs).verdict(limits.coil_bind_clearance_minimum)
        return Side.TOO_SHORT if left == _REJECT or is_closed(at_lift) else Side.RIGHT

    def by_load(height: float) -> Side:
        # a shorter spring pushes more
        load = springs.load_at(height)
        if wanted.verdict(load) != _ACCEPT:
            return Side.TOO_SHORT if load > wanted.high else Side.TOO_TALL
        beyond = springs.beyond_proof(height)
        return Side.TOO_TALL if beyond > 0 else Side.TOO_SHORT if beyond < 0 else Side.RIGHT

    counts = wanted.is_set and wanted.bounded and springs.is_provable
    return Suits((by_height, by_load) if counts else (by_height,), room)


def _aim(valve: ValveReadings) -> float:
    """The height to aim at: as it is wanted, else that of the seat load wanted."""
    target, load = valve.targets.installed_height, valve.targets.seat_load.aim
    if not math.isnan(target) or math.isnan(load):
        return target
    (found,) = heights_for(valve.springs, [load])
    return _NAN if coil_bind_clearance(found, valve.springs).touches else found
