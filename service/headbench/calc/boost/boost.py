"""Boost: whether springs hold valves shut against pressure in the port, what shim does, and what opening takes."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from headbench.calc.boost.limits import POSSIBLE_OF_CURVE, POSSIBLE_SEAT_LOAD
from headbench.calc.clearances.coil_bind import BindCheck, check_coil_bind
from headbench.calc.judging.possible import if_possible, is_possible
from headbench.calc.judging.rules import POSSIBLE_HEIGHT
from headbench.calc.judging.touching import is_closed
from headbench.calc.springs.heights_for import heights_for
from headbench.calc.springs.spring_set import SpringSet, bind_height

_NAN: Final = math.nan


def pressure_load(lifting_pressure: float, diameter: float, stem_diameter: float) -> float:
    """Load of a pressure in the port on a closed valve, F = p pi/4 (D^2 - d^2).

    Parameters
    ----------
    lifting_pressure : float
        What is higher in the port than in the cylinder, p; negative where it holds the valve shut [Pa]
    diameter : float
        Where the seat seals, D; the valve head's, which is larger, on the safe side [m]
    stem_diameter : float
        Stem, which leaves the port through its guide, d; NaN not known, nothing is taken off, on the safe side [m]

    Returns
    -------
    float
        Load off the seat [N]

    Notes
    -----
    Statics; what leaks past the seat and the way air turns in the port are left out. Own derivation.

    >>> round(pressure_load(100e3, 0.050, math.nan), 6)
    196.349541
    """
    stem = 0.0 if math.isnan(stem_diameter) else stem_diameter
    return lifting_pressure * 0.25 * math.pi * (diameter * diameter - stem * stem)


class Opening(NamedTuple):
    """What it takes to open a valve against pressure in its cylinder; NaN where it is not known.

    pressure_load : float, of the pressure on the whole seat [N]
    valve_load : float, that and the spring [N]
    lobe_load : float, at the lobe, and at the pushrod where there is one [N]
    pivot_load : float, at the pivot of rocker or finger [N]
    """

    pressure_load: float
    valve_load: float
    lobe_load: float
    pivot_load: float


def opening(cylinder_pressure: float, diameter: float, seat_load: float, rocker_ratio: float, pivot: float) -> Opening:
    """What stands against a valve as it leaves its seat, F = p pi/4 D^2 + F_H at the valve, F r at the lobe.

    Parameters
    ----------
    cylinder_pressure : float
        Gauge pressure in the cylinder then, p [Pa]
    diameter : float
        Where the seat seals, D [m]
    seat_load : float
        Spring with the valve closed, F_H [N]
    rocker_ratio : float
        As the valve starts to move, r [-]
    pivot : float
        1 for a rocker that pivots between its ends, -1 for a finger that pivots at its end, NaN for neither [-]

    Returns
    -------
    Opening

    Notes
    -----
    Moments about the pivot: F_lobe a_lobe = F_valve a_valve, and r is a_valve over a_lobe. A rocker's pivot carries
    both, r F + F; a finger's what the lobe pushes more than the valve, r F - F. Back pressure in the port, which
    would help, friction and what moves are left out. Own derivation.

    >>> [round(one, 6) for one in opening(2e6, 0.040, 500.0, 1.5, 1.0)]
    [2513.274123, 3013.274123, 4519.911184, 7533.185307]
    """
    disc = pressure_load(cylinder_pressure, diameter, 0.0)
    valve = disc + seat_load
    lobe = valve * rocker_ratio
    return Opening(disc, valve, lobe, abs(lobe + pivot * valve))


class BoostedValve(NamedTuple):
    """One valve and the pressure behind it; NaN is a reading not taken.

    lifting_pressure : float, see `pressure_load` [Pa]
    diameter, stem_diameter : float [m]
    wanted : float, seat load without pressure [N]
    seat_load : float, as it was read on the head; NaN goes by the springs' curves [N]
    installed_height : float, of the outer spring, valve closed [m]
    valve_lift : float [m]
    coil_bind_minimum : float, what is to be left between the coils [m]
    springs : SpringSet [-]
    """

    lifting_pressure: float
    diameter: float
    stem_diameter: float
    wanted: float
    seat_load: float
    installed_height: float
    valve_lift: float
    coil_bind_minimum: float
    springs: SpringSet


class HeldShut(NamedTuple):
    """What holds one valve shut, and what more it takes.

    pressure_load : float, off its seat [N]
    needed : float, seat load that the valve needs [N]
    seat_load, open_load : float, what is there; NaN not known, or in coil bind [N]
    figured_seat_load : float, by the springs' curves alone [N]
    is_proven : bool, whether that seat load was read, on the head or on a tester [-]
    is_slip : bool, whether the one read on the head cannot be right: it counts as not taken, and proves nothing [-]
    shim : float, what shim gives the load needed, 0 where it is there; NaN where none does or nothing is known [m]
    binds_first : bool, whether coils touch before the springs push that [-]
    height_with_shim : float, height then [m]
    open_load_with_shim : float [N]
    bind, bind_with_shim : BindCheck, coils as it stands and with that shim
    """

    pressure_load: float
    needed: float
    seat_load: float
    open_load: float
    figured_seat_load: float
    is_proven: bool
    is_slip: bool
    shim: float
    binds_first: bool
    height_with_shim: float
    open_load_with_shim: float
    bind: BindCheck
    bind_with_shim: BindCheck

    @property
    def left(self) -> float:
        """What still holds the valve on its seat [N]."""
        return self.seat_load - self.pressure_load


def hold_shut(valve: BoostedValve) -> HeldShut:
    """What one valve's springs hold against the pressure in its port: needed = wanted + what the pressure pushes.

    Parameters
    ----------
    valve : BoostedValve
        The valve [-]

    Returns
    -------
    HeldShut

    Notes
    -----
    A pressure that holds the valve shut counts for nothing: the engine runs without it, too. The shim goes by the
    springs' own curve; a seat load read on the head moves by as much as the curve does. Own derivation.

    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> springs = spring_set(curve_through([0.045, 0.033], [500.0, 1100.0]))
    >>> held = hold_shut(BoostedValve(100e3, 0.050, math.nan, 450.0, math.nan, 0.045, 0.012, 0.0015, springs))
    >>> [round(one, 6) for one in (held.needed, held.seat_load, held.shim * 1e3)]
    [646.349541, 500.0, 2.926991]
    """
    springs, height = valve.springs, if_possible(valve.installed_height, POSSIBLE_HEIGHT)
    bind = check_coil_bind(height, valve.valve_lift, springs, valve.coil_bind_minimum)
    pushed = pressure_load(valve.lifting_pressure, valve.diameter, valve.stem_diameter)
    needed = valve.wanted + max(pushed, 0.0)
    touching = bind_height(springs)
    figured = _load(springs, height, touching)
    is_slip = not _is_seat_load(valve.seat_load, figured)
    was_read = not (is_slip or math.isnan(valve.seat_load))
    seat_load = valve.seat_load if was_read else figured
    # what the head shows more than the curve
    more = seat_load - figured
    shim, binds_first = _NAN, False
    if seat_load >= needed:
        shim = 0.0
    elif not math.isnan(needed - more):
        (at,) = heights_for(springs, [needed - more])
        binds_first = springs.is_known and (math.isnan(at) or is_closed(at - touching))
        shim = _NAN if binds_first else height - at
    lowered = height - shim
    return HeldShut(
        pushed,
        needed,
        seat_load,
        _load(springs, bind.open_height, touching),
        figured,
        was_read or (springs.is_proven(height) and not is_slip),
        is_slip,
        shim,
        binds_first,
        lowered,
        _load(springs, lowered - (height - bind.open_height), touching),
        bind,
        check_coil_bind(lowered, valve.valve_lift, springs, valve.coil_bind_minimum),
    )


def _is_seat_load(read: float, figured: float) -> bool:
    """Whether a seat load can be right, by itself and beside its spring's curve; so can one that was not read."""
    least, most = POSSIBLE_OF_CURVE.values
    return is_possible(read, POSSIBLE_SEAT_LOAD) and not (read < least * figured or read > most * figured)


def _load(springs: SpringSet, height: float, touching: float) -> float:
    """What they push; nothing that is known where coils touch."""
    return _NAN if is_closed(height - touching) else springs.load_at(height)
