"""Heights for loads: where the springs of one valve push what is wanted of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.springs.one_curve import LoadCurve
from headbench.calc.springs.spring_set import SpringSet

_NAN: Final = float("nan")
_LEAST_HEIGHT: Final = 1e-9
_ROUNDING: Final = 1e-12
_GRID: Final = 17
"""Heights between which a search begins."""
_MOST_STEPS: Final = 100
"""Steps after which a search ends; about four are usual."""
_FINEST: Final = 4e-16
"""Share of a height below which a step no longer matters."""


def heights_for(springs: SpringSet, loads: Sequence[float]) -> list[float]:
    """Heights of the outer spring at which a set pushes several loads: the inverse of `SpringSet.load_at`.

    Parameters
    ----------
    springs : SpringSet
        The springs of one valve [-]
    loads : sequence of float
        Loads on the retainer, above 0 [N]

    Returns
    -------
    list of float
        Heights; NaN where a spring is not known, or where they cannot push that before one is at coil bind [m]

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> pair = spring_set(rated_curve(0.040, 400.0, 40e3), (rated_curve(0.038, 100.0, 10e3), 0.002))
    >>> [round(height, 9) for height in heights_for(pair, [500.0])]
    [0.04]
    """
    own = [(curve, rise) for curve, rise in springs.own if curve is not None]
    if not (springs.is_known and loads):
        return [_NAN] * len(loads)
    # below the tallest of the coil-bind heights there is no load
    shortest = [curve.coil_bind_height + rise for curve, rise in own if isinstance(curve, DimensionedSpring)]
    low = max([*shortest, *(one.seat_rise + _LEAST_HEIGHT for one in springs.each)])
    most = springs.load_at(low)
    # a load that misses the most by rounding is the most, written in another unit
    wanted = np.array([min(load, most) if 0.0 < load <= most * (1.0 + _ROUNDING) else _NAN for load in loads])
    if len(own) == 1:
        ((curve, rise),) = own
        return list((_heights_of_one(curve, wanted) + rise).tolist())
    # with its share of the least load on each there is too little on all together
    least = np.fmin.reduce(wanted, keepdims=True) / len(own)
    tallest = [float(_heights_of_one(curve, least)[0]) + rise for curve, rise in own]
    high = max([low, *(height for height in tallest if height > low)]) + _LEAST_HEIGHT
    return list(_between(springs, wanted, low, high).tolist())


def _heights_of_one(curve: LoadCurve | DimensionedSpring, loads: FloatArray) -> FloatArray:
    if isinstance(curve, DimensionedSpring):
        return curve.height_for(loads)
    return np.array([curve.height_for(load) for load in loads.tolist()])


def _between(springs: SpringSet, wanted: FloatArray, shortest: float, tallest: float) -> FloatArray:
    """By Newton's steps between heights that push too much and too little; halved where a kink holds them up."""
    grid = np.linspace(shortest, tallest, _GRID)
    pushed, _ = springs.loads_and_rates(grid)
    after = np.searchsorted(-pushed, -wanted).clip(1, _GRID - 1)
    low, high, fall = grid[after - 1], grid[after], pushed[after - 1] - pushed[after]
    share = np.divide(pushed[after - 1] - wanted, fall, out=np.zeros_like(fall), where=fall > 0.0)
    height = np.where(np.isnan(wanted), np.nan, low + share * (high - low))
    left = np.flatnonzero(~np.isnan(wanted))
    low, high, before = low[left], high[left], np.full(len(left), np.inf)
    for _ in range(_MOST_STEPS):
        if len(left) == 0:
            break
        at = height[left]
        load, rate = springs.loads_and_rates(at)
        over = load - wanted[left]
        low, high = np.where(over > 0.0, at, low), np.where(over > 0.0, high, at)
        nearer = at + np.divide(over, rate, out=np.full_like(over, np.nan), where=rate > 0.0)
        settled = (np.abs(nearer - at) <= _FINEST * at) | (high - low <= _FINEST * at)
        inside = (nearer > low) & (nearer < high) & (np.abs(over) <= 0.5 * before)
        height[left] = np.where(settled, at, np.where(inside, nearer, 0.5 * (low + high)))
        goes_on = ~settled
        left, low, high, before = left[goes_on], low[goes_on], high[goes_on], np.abs(over)[goes_on]
    return height
