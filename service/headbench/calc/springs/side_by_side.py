"""Side by side: the springs of several valves in arrays, for whoever asks at many heights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.springs.curves import SpringCurves
from headbench.calc.springs.load_curves import stacked
from headbench.calc.springs.nested import NO_SPRING, UNKNOWN_CURVE
from headbench.calc.springs.one_curve import LoadCurve
from headbench.calc.springs.spring_set import SpringSet


@dataclass(frozen=True, slots=True)
class Springs:
    """The springs of every position, outer one first, K of them at most.

    sets : sequence of P SpringSet [-]
    curves : SpringCurves, of all springs of the job [-]
    curve : array (P, K), each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    seat_rise : array (P, K), how much shorter each stands than the outer one [m]
    coil_bind_height : array (P, K), where its coils touch; NaN not measured, -inf no such spring [m]
    bind_doubtful : array (P, K), whether that was read again and the readings disagree [-]
    active_mass : array (P, K), of its active coils; NaN not weighed, 0 no such spring [kg]
    """

    sets: Sequence[SpringSet]
    curves: SpringCurves
    curve: IntArray
    seat_rise: FloatArray
    coil_bind_height: FloatArray
    bind_doubtful: BoolArray
    active_mass: FloatArray


def side_by_side(sets: Sequence[SpringSet]) -> Springs:
    """Spring sets as arrays, a row for each.

    Parameters
    ----------
    sets : sequence of SpringSet
        What stands on each valve [-]

    Returns
    -------
    Springs

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> side_by_side([spring_set(rated_curve(0.040, 500.0, 50e3)), spring_set(None)]).curve.tolist()
    [[0], [-1]]
    """
    shape = len(sets), max((len(one.each) for one in sets), default=1)
    curve = np.full(shape, NO_SPRING, dtype=np.int64)
    seat_rise, bind, active = np.zeros(shape), np.full(shape, -np.inf), np.zeros(shape)
    doubtful = np.zeros(shape, dtype=np.bool_)
    fitted: list[LoadCurve] = []
    dimensioned: list[tuple[tuple[int, int], DimensionedSpring]] = []
    for row, springs in enumerate(sets):
        for column, one in enumerate(springs.each):
            where = row, column
            seat_rise[where], bind[where], doubtful[where] = one.seat_rise, one.coil_bind_height, one.bind_doubtful
            active[where] = one.active_mass
            if one.has_own_load:
                curve[where] = UNKNOWN_CURVE
                if isinstance(one.curve, LoadCurve):
                    curve[where] = len(fitted)
                    fitted.append(one.curve)
                elif one.curve is not None:
                    dimensioned.append((where, one.curve))
    together = stacked(fitted)
    for place, (where, _) in enumerate(dimensioned):
        curve[where] = len(together.knots) + place
    curves = SpringCurves(together, tuple(spring for _, spring in dimensioned))
    return Springs(sets, curves, curve, seat_rise, bind, doubtful, active)
