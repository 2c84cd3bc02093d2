"""Spring load: what the springs of one valve push at the heights asked for, and where they push the loads asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.touching import is_closed
from headbench.calc.springs.heights_for import heights_for
from headbench.calc.springs.spring_set import SpringSet, bind_height

_NAN: Final = math.nan


class LoadAt(NamedTuple):
    """The springs of one valve at one height, which may be one that was asked for, or one that a load needs.

    height : float, of the outer spring [m]
    load, rate : float, NaN where they are not known, or where coils touch [N], [N/m]
    """

    height: float
    load: float
    rate: float


@dataclass(frozen=True, slots=True)
class SpringLoads:
    """What one set of springs answers.

    springs : SpringSet [-]
    bind_height : float, height of the outer spring at which the first of them binds; NaN not known [m]
    at_heights : list of LoadAt, at the heights asked for [-]
    for_loads : list of float, heights for the loads asked for; NaN where coils touch before [m]
    mean_rate : float, between the tallest and the shortest height; NaN where there is only one [N/m]
    curve : list of LoadAt, from tall to short, to coil bind itself; none where there is none to draw [-]
    installed, opened, bound : LoadAt, at the heights they work between and at coil bind [-]
    """

    springs: SpringSet
    bind_height: float
    at_heights: Sequence[LoadAt]
    for_loads: Sequence[float]
    mean_rate: float
    curve: Sequence[LoadAt]
    installed: LoadAt
    opened: LoadAt
    bound: LoadAt

    def touches(self, height: float) -> bool:
        """Whether coils touch.

        Parameters
        ----------
        height : float
            Height of the outer spring [m]

        Returns
        -------
        bool
            False where the coil-bind height is not known [-]

        >>> from headbench.calc.springs.spring_set import spring_set
        >>> find_loads(spring_set(None), [], []).touches(0.030)
        False
        """
        return is_closed(height - self.bind_height)


def find_loads(
    springs: SpringSet,
    heights: Sequence[float],
    loads: Sequence[float],
    working: tuple[float, float] = (_NAN, _NAN),
    curve_points: int = 0,
) -> SpringLoads:
    """Everything that is asked of the springs of one valve, each looked at once.

    Parameters
    ----------
    springs : SpringSet
        The springs [-]
    heights : sequence of float
        Heights of the outer spring to give the load at [m]
    loads : sequence of float
        Loads to give the height for [N]
    working : tuple of float
        Height with the valve closed and at full lift; NaN not given [m]
    curve_points : int
        Points of the curve to draw, 0 for none [-]

    Returns
    -------
    SpringLoads

    Notes
    -----
    The curve goes from the tallest height that means something, a free height or a reading or the installed one, to
    the shortest, and never past coil bind.

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> found = find_loads(spring_set(rated_curve(0.040, 500.0, 50e3)), [0.040, 0.030], [750.0])
    >>> [round(one.load, 9) for one in found.at_heights], [round(height, 9) for height in found.for_loads]
    ([500.0, 1000.0], [0.035])
    >>> round(found.mean_rate, 6)
    50000.0
    """
    bind = bind_height(springs)
    drawn = _heights_to_draw(springs, working, bind, curve_points)
    asked = np.array([*heights, *working, bind, *drawn])
    load, rate = springs.loads_and_rates(asked)
    known = list(map(LoadAt, asked.tolist(), load.tolist(), rate.tolist()))
    at_heights = [_apart(one, bind) for one in known[: len(heights)]]
    installed, opened, bound, *curve = known[len(heights) :]
    found = [_NAN if is_closed(height - bind) else height for height in heights_for(springs, loads)]
    return SpringLoads(
        springs=springs,
        bind_height=bind,
        at_heights=at_heights,
        for_loads=found,
        mean_rate=_mean_rate(at_heights),
        curve=curve,
        installed=_apart(installed, bind),
        opened=_apart(opened, bind),
        bound=bound,
    )


def _apart(one: LoadAt, bind: float) -> LoadAt:
    """Coils that touch have no load to give."""
    return LoadAt(one.height, _NAN, _NAN) if is_closed(one.height - bind) else one


def _mean_rate(at_heights: Sequence[LoadAt]) -> float:
    if not at_heights:
        return _NAN
    tall, short = max(at_heights), min(at_heights)
    return _NAN if tall.height - short.height < GRID else (short.load - tall.load) / (tall.height - short.height)


def _heights_to_draw(springs: SpringSet, working: tuple[float, float], bind: float, points: int) -> list[float]:
    if points == 0:
        return []
    tall, short = [working[0]], [working[1], bind]
    for one in springs.each:
        if one.has_own_load and one.curve is not None:
            if isinstance(one.curve, DimensionedSpring):
                tall.append(one.curve.free_height + one.seat_rise)
            else:
                tall.append(one.curve.height[-1] + one.seat_rise)
                short.append(one.curve.height[0] + one.seat_rise)
    high = max((height for height in tall if not math.isnan(height)), default=_NAN)
    low = min((height for height in short if not math.isnan(height)), default=_NAN)
    low = max(low, bind) if bind > low else low
    return [] if math.isnan(high + low) else (high + (low - high) * np.linspace(0.0, 1.0, points)).tolist()
