"""Two runs: one spring tested twice, where the runs disagree, and the lower of the two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from headbench.calc.springs.loads import differ_by_more_than_a_tester
from headbench.calc.springs.one_curve import LoadCurve, curve_of_one_reading
from headbench.calc.springs.readings import average_repeats, curve_through


@dataclass(frozen=True, slots=True)
class Compared:
    """One reading of a second run beside the curve of the first.

    height, load : float, as read [m], [N]
    off : float, load less the first run's there; NaN where the reading has no load [N]
    differs : bool, whether that is more than a tester repeats, where the first run was read [-]
    is_outside : bool, whether it lies outside the first run by more than a little [-]
    end : float, the height of the first run that is nearest to it [m]
    falls_behind : bool, whether it pushes less though pressed further than the first run's end, or the reverse [-]
    """

    height: float
    load: float
    off: float
    differs: bool
    is_outside: bool
    end: float
    falls_behind: bool


def compare_runs(first: LoadCurve, height: Sequence[float], load: Sequence[float]) -> list[Compared]:
    """Each reading of a second run beside the first one's curve.

    Parameters
    ----------
    first : LoadCurve
        What the first run made [-]
    height : sequence (R,)
        Heights of the second run [m]
    load : sequence (R,)
        Loads shown there, NaN where a reading is left out [N]

    Returns
    -------
    list of Compared

    Notes
    -----
    Farther outside the first run than a little, loads are not compared; but a spring that is pressed
    further pushes more. A difference that a tester repeats to says nothing. Own derivation.

    >>> first = curve_through([0.040, 0.030], [500.0, 1000.0])
    >>> [(round(one.off, 9), one.differs) for one in compare_runs(first, [0.035, 0.030], [745.0, 900.0])]
    [(-5.0, False), (-100.0, True)]
    """
    return [_compared(first, at, shown) for at, shown in zip(height, load, strict=True)]


def _compared(first: LoadCurve, height: float, load: float) -> Compared:
    there, is_near = first.load_at(height), first.is_near_readings(height)
    end = min(max(height, first.lowest_read), first.highest_read)
    at_end = first.load_at(end)
    wrong = load < at_end if height < end else load > at_end
    return Compared(
        height=height,
        load=load,
        off=load - there,
        differs=is_near and differ_by_more_than_a_tester(load, there),
        is_outside=not is_near,
        end=end,
        falls_behind=not is_near and wrong and differ_by_more_than_a_tester(load, at_end),
    )


def lower_of_two_runs(first: LoadCurve, height: Sequence[float], load: Sequence[float]) -> LoadCurve:
    """The lower of two runs of one spring at every height, F = min(F_1, F_2).

    Parameters
    ----------
    first : LoadCurve
        What the first run made [-]
    height : sequence (R,)
        Heights of the second run, in any order, none far outside those of the first; none at all leaves the first [m]
    load : sequence (R,)
        Loads of the second run, strictly rising as the height falls [N]

    Returns
    -------
    LoadCurve
        A curve through the lower run at the heights of both, in doubt [-]

    Notes
    -----
    Beyond its own heights the second run is as far off the first as at the nearest of them. Which of two
    runs that disagree is wrong is not known; the lower load is the one that lets a valve float. Own
    derivation.

    >>> lower = lower_of_two_runs(curve_through([0.040, 0.030], [500.0, 1000.0]), [0.040], [450.0])
    >>> lower.load_at(0.040), lower.load_at(0.030), lower.in_doubt
    (450.0, 950.0, True)
    """
    second = average_repeats(height, load)
    if not second:
        # a second run wholly elsewhere gives no curve of its own
        return replace(first, in_doubt=True)
    own = (first.lowest_read, first.highest_read) if len(first.height) == 1 else first.height
    shortest, tallest = second[0].height, second[-1].height
    again = curve_through(height, load) if len(second) > 1 else None
    heights: list[float] = []
    loads: list[float] = []
    for at in sorted({*own, *(one.height for one in second)}):
        inside = min(max(at, shortest), tallest)
        there = second[0].load if again is None else again.load_at(inside)
        lower = first.load_at(at) + min(there - first.load_at(inside), 0.0)
        # where both runs push nothing the curve has come to its end
        if not loads or lower < loads[-1]:
            heights.append(at)
            loads.append(lower)
    if len(heights) == 1:
        return replace(curve_of_one_reading(heights[0], loads[0], -first.end_slope[0]), in_doubt=True)
    return replace(curve_through(heights, loads), in_doubt=True)
