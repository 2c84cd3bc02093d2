"""Pockets and springs that tests match: plain numbers in inches and pounds."""

from __future__ import annotations

import math
from collections.abc import Sequence

from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.matching.choices import Pocket
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_set import SpringSet, of_load_alone

INCH = 0.0254
POUND = 4.4482216152605
NAN = math.nan


HEIGHTS = (1.80, 1.75, 1.50, 1.15)


def spring(loads: Sequence[float], bind: float = 1.110) -> SpringSet:
    """A spring read on the tester at HEIGHTS [in], [lbf]."""
    curve = curve_through([one * INCH for one in HEIGHTS], [one * POUND for one in loads])
    return SpringSet((of_load_alone(curve)._replace(coil_bind_height=bind * INCH),), 0.0)


def straight(at_seat: float, rate: float = 280.0, bind: float = 1.110) -> SpringSet:
    """A spring of one rate [lbf/in] with some load at 1.750 in [lbf]."""
    return spring([at_seat - rate * (one - 1.75) for one in HEIGHTS], bind)


def pocket(bare: float, current: int = -1, *, load: float = 118.0, group: int = 0, window: float = 0.030) -> Pocket:
    """A position by its height without shims [in]; lift 0.500 in, target 1.750 in."""
    return Pocket(
        bare_height=bare * INCH,
        valve_lift=0.500 * INCH,
        target_height=1.750 * INCH,
        height_window=window * INCH,
        seat_load=load * POUND,
        open_load=NAN,
        open_low=NAN,
        open_high=NAN,
        coil_bind_clearance_minimum=0.060 * INCH,
        group=group,
        current=current,
    )


def shims(
    sizes: Sequence[float], most: float = 0.060, stock: Sequence[int | None] | None = None, count: int = 3
) -> ShimsAtHand:
    """The shims at hand [in]; a search among them may take as long as it needs."""
    return ShimsAtHand([one * INCH for one in sizes], most * INCH, count, stock, seconds=60.0)
