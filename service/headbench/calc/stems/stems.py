"""Stems: one kind of valve worked as a whole, from readings to what each comes to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from headbench.calc.judging.grid import GRID
from headbench.calc.stems.stem_height import equalize, misread_stems, tip_left


class Stem(NamedTuple):
    """One valve's stem; NaN is a reading not taken.

    height : float, tip above its datum [m]
    tip_maximum : float, most that may come off the tip over the valve's life; 0 under a lash cap [m]
    tip_ground : float, what came off before [m]
    groove_to_tip : float, lock groove to tip as it is [m]
    groove_minimum : float, least of it; NaN where it is not asked for [m]
    sink_left : float, how much deeper the valve may still sit, along its axis [m]
    seat_angle : float, seat face from the plane of the valve head, below a right angle [rad]
    installed_height : float, of its spring, from the same spring seat; NaN where not compared [m]
    """

    height: float
    tip_maximum: float
    tip_ground: float = 0.0
    groove_to_tip: float = math.nan
    groove_minimum: float = math.nan
    sink_left: float = 0.0
    seat_angle: float = math.pi / 4
    installed_height: float = math.nan


class StemAfter(NamedTuple):
    """One stem after the work; NaN where its height was not measured.

    tip_grind, sink : float, what comes off the tip, and how much deeper the valve sits [m]
    seat_cut : float, what comes off the seat, square to its face [m]
    height : float, new stem height [m]
    off_middle : float, that less the window's middle [m]
    tip_ground : float, all that is off the tip; NaN where nobody knows what was before [m]
    groove_to_tip : float, what is left of it [m]
    stuck : bool, whether nothing more may be cut that would bring it nearer to the middle [-]
    """

    tip_grind: float
    sink: float
    seat_cut: float
    height: float
    off_middle: float
    tip_ground: float
    groove_to_tip: float
    stuck: bool


class Stems(NamedTuple):
    """All stems of one kind of valve.

    low, high : float, window that the new heights lie in; NaN where no stem was measured [m]
    after : tuple (P,) of StemAfter [-]
    spread : float, largest new height less the smallest [m]
    misread : list of int, places whose readings contradict those of the others [-]
    proven : bool, whether every reading that the plan hangs on was taken and is not in doubt [-]
    """

    low: float
    high: float
    after: tuple[StemAfter, ...]
    spread: float
    misread: list[int]
    proven: bool


def work_stems(stems: Sequence[Stem], spread: float, target: float = math.nan) -> Stems:
    """Everything that follows for the stems of one kind of valve: new height h - x + y, seat cut t = y cos(alpha).

    Parameters
    ----------
    stems : sequence (P,)
        The valves of one kind [-]
    spread : float
        Spread wanted of their heights [m]
    target : float
        Middle of the new heights; NaN = wherever the least has to be cut [m]

    Returns
    -------
    Stems

    Notes
    -----
    What is not measured is left out of the plan and leaves it not proven: one stem can move all others. So does
    a tip that the plan takes from while nobody knows what is left of it, and one whose readings can't be compared
    with those of the others because nobody knows what came off it. Own derivation.

    >>> inch = 0.0254
    >>> stems = [Stem(1.900 * inch, 0.010 * inch), Stem(1.908 * inch, 0.010 * inch)]
    >>> worked = work_stems(stems, 0.002 * inch)
    >>> [round(one.tip_grind / inch, 6) for one in worked.after], round(worked.spread / inch, 6), worked.proven
    ([0.0, 0.006], 0.002, True)
    """
    left = [tip_left(one.tip_maximum, one.tip_ground, one.groove_to_tip, one.groove_minimum) for one in stems]
    read = [place for place, stem in enumerate(stems) if not math.isnan(stem.height)]
    low = high = math.nan
    cuts: dict[int, tuple[float, float]] = {}
    if read:
        low, high, grinds, sinks = equalize(
            [stems[place].height for place in read],
            [left[place] for place in read],
            [stems[place].sink_left for place in read],
            spread,
            target,
        )
        cuts = dict(zip(read, zip(grinds, sinks, strict=True), strict=True))
    middle = low + (high - low) / 2
    after = tuple(
        _after(stem, tip, *cuts.get(place, (math.nan, math.nan)), middle)
        for place, (stem, tip) in enumerate(zip(stems, left, strict=True))
    )
    heights = [one.height for one in after if not math.isnan(one.height)]
    misread = misread_stems(*zip(*((one.height, one.installed_height, one.tip_ground) for one in stems), strict=True))
    certain = all(_is_certain(stem, one.tip_grind) for stem, one in zip(stems, after, strict=True))
    return Stems(
        low,
        high,
        after,
        max(heights) - min(heights) if heights else math.nan,
        misread,
        certain and not misread,
    )


def _after(stem: Stem, left: float, grind: float, sink: float, middle: float) -> StemAfter:
    height = stem.height - grind + sink
    room = left - grind if height > middle else stem.sink_left - sink
    return StemAfter(
        grind,
        sink,
        sink * math.cos(stem.seat_angle),
        height,
        height - middle,
        stem.tip_ground + grind,
        stem.groove_to_tip - grind,
        room < GRID,
    )


def _is_certain(stem: Stem, grind: float) -> bool:
    """Whether a stem was read, and all that its plan and its comparison with the others hang on."""
    groove_unread = math.isnan(stem.groove_to_tip) and not math.isnan(stem.groove_minimum)
    not_compared = math.isnan(stem.tip_ground) and not math.isnan(stem.installed_height)
    blind = grind > 0.0 and (math.isnan(stem.tip_ground) or groove_unread)
    return not (math.isnan(stem.height) or not_compared or blind)
