"""Height slips: a height that misses its neighbors by what a known slip would make of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from statistics import median
from typing import Final, NamedTuple

from headbench.calc.judging.rules import HEIGHT_SLIP, READ_BACK_HEIGHT

FEWEST: Final = 3
"""Heights of one kind that have to agree before another can be called a slip [-]."""

_TELLING: Final = 0.040 * 0.0254
"""What a height has to miss its neighbors by before a slip is looked for [m]; common practice, no source."""


class SlipKind(Enum):
    """What a height looks like."""

    STEP = "step"
    TENTH = "tenth"
    DIGITS = "digits"


_TELLING_SWAP: Final = 0.020 * 0.0254
"""The same for two digits swapped among heights that agree [m]; common practice, no source."""

_AGREE: Final = 0.25
"""Part of the miss that the others may range over and still agree [-]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One height that looks like a slip.

    place : which of the heights [-]
    kind : what it looks like [-]
    likely : what it would be without the slip [m]
    neighbors : the middle of the others [m]
    """

    place: int
    kind: SlipKind
    likely: float
    neighbors: float


def find_slips(heights: Sequence[float], deduction: Sequence[float], tenth: float) -> list[Slip]:
    """Name heights that miss their neighbors by the deduction, by a round tenth, or by two digits swapped.

    Parameters
    ----------
    heights : sequence (P,)
        Heights of one kind of valve as measured, NaN where not [m]
    deduction : sequence (P,)
        What the micrometer is said to over-read there [m]
    tenth : float
        A tenth of the unit that is read in, or of an inch for millimeters: 0.1 in, 1 mm [m]

    Returns
    -------
    list of Slip

    Notes
    -----
    A height is held against the median of the others, and named only where the slip explains the miss
    to HEIGHT_SLIP; a miss that nothing explains stays a reading. A small miss is named only as two digits
    swapped, and only where the others agree far better than that. Common practice, no source.

    >>> inch = 0.0254
    >>> heights = [1.885 * inch, 1.884 * inch, 2.885 * inch, 1.886 * inch]
    >>> [(slip.place, slip.kind.value, round(slip.likely / inch, 3)) for slip in find_slips(
    ...     heights, [0.090 * inch] * 4, 0.1 * inch)]
    [(2, 'tenth', 1.885)]
    """
    found: list[Slip] = []
    known = [place for place, height in enumerate(heights) if not math.isnan(height)]
    if len(known) <= FEWEST:
        return found
    near = HEIGHT_SLIP.values[0]
    # among more than a few the median of all is that of the others but for what they scatter
    middle = median(heights[place] for place in known)
    for place in known:
        height = heights[place]
        if abs(height - middle) < _TELLING_SWAP:
            continue
        others = [heights[other] for other in known if other != place]
        neighbors = median(others)
        miss = height - neighbors
        if abs(miss) < _TELLING:
            # castings vary as much; only heights that agree among themselves say more
            agree = max(others) - min(others) <= _AGREE * abs(miss)
            back = _swapped(height, neighbors, tenth, near) if agree else None
            if abs(miss) >= _TELLING_SWAP and back is not None:
                found.append(Slip(place, SlipKind.DIGITS, back, neighbors))
            continue
        step, tenths = abs(deduction[place]), round(miss / tenth)
        swapped = _swapped(height, neighbors, tenth, near)
        if step > _TELLING and abs(abs(miss) - step) <= near:
            found.append(Slip(place, SlipKind.STEP, height - math.copysign(step, miss), neighbors))
        elif swapped is not None:
            found.append(Slip(place, SlipKind.DIGITS, swapped, neighbors))
        elif tenths and abs(miss - tenths * tenth) <= near:
            found.append(Slip(place, SlipKind.TENTH, height - tenths * tenth, neighbors))
    return found


class ShimSlip(NamedTuple):
    """Shims other than those that were to be laid.

    left_out : float, shim that is not in, or all that were to be laid; NaN where none is missing [m]
    put_in : float, shim that is in besides, or in place of that one; NaN where none is [m]
    """

    left_out: float
    put_in: float


def find_shim_slip(taller: float, laid: Sequence[float], sizes: Sequence[float]) -> ShimSlip | None:
    """The shim too few, too many, or taken for another, or the whole stack left out, that explains a height read back.

    Parameters
    ----------
    taller : float
        Height as measured less as figured; negative where it stands shorter [m]
    laid : sequence (N,)
        Shims that were to be laid under it [m]
    sizes : sequence (T,)
        Sizes of shims that are at hand [m]

    Returns
    -------
    ShimSlip or None
        The nearest explanation, one shim missing or too many before one taken for another; None where none comes as
        near as `rules.READ_BACK_HEIGHT` [-]

    Notes
    -----
    A shim that is missing stands the spring taller by itself, one too many shorter. Own derivation.

    >>> mm = 1e-3
    >>> find_shim_slip(-0.76 * mm, [0.38 * mm], [0.38 * mm, 0.76 * mm, 1.52 * mm])
    ShimSlip(left_out=nan, put_in=0.00076)
    """
    out = [*laid, sum(laid)] if len(laid) > 1 else laid
    missing = [(size, ShimSlip(size, math.nan)) for size in out]
    besides = [(-size, ShimSlip(math.nan, size)) for size in sizes]
    swapped = [(out - other, ShimSlip(out, other)) for out in laid for other in sizes if other != out]
    for explanations in ([*missing, *besides], swapped):
        near = [(abs(taller - by), slip) for by, slip in explanations if abs(taller - by) <= READ_BACK_HEIGHT.values[0]]
        if near:
            return min(near, key=lambda one: one[0])[1]
    return None


def _swapped(height: float, neighbors: float, tenth: float, near: float) -> float | None:
    """The height with two neighboring digits swapped back, if that stands among its neighbors."""
    thousandth = tenth / 100.0
    digits = str(round(height / thousandth))
    for first in range(len(digits) - 1):
        other = [*digits[:first], digits[first + 1], digits[first], *digits[first + 2 :]]
        back = int("".join(other)) * thousandth
        if other != list(digits) and abs(back - neighbors) <= max(near, 5.0 * thousandth):
            return back
    return None
