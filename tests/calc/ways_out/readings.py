"""Valves as the kernels of ways out take them, in inches."""

from __future__ import annotations

import math
from typing import Any

from headbench.calc.head.assembly import Limits, Targets, ValveReadings, assemble
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.masses.valve_mass import WeighedParts
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_set import SpringSet, of_load_alone
from headbench.calc.ways_out.changed import GroupLimits, ValveThere

INCH = 0.0254
UNREAD = math.nan
SHIMS = ShimsAtHand([0.015 * INCH, 0.030 * INCH, 0.060 * INCH], 0.060 * INCH)
LIMITS = GroupLimits(0.060 * INCH, UNREAD, 0.150 * INCH, tip_asked=True)
SPRING = SpringSet(
    (of_load_alone(curve_through([1.8 * INCH, 1.2 * INCH], [470.0, 1270.0]))._replace(coil_bind_height=1.118 * INCH),),
    0.0,
)


def valve(
    bare: float, seal: float = 0.560, tip: float = 0.160, floor: float = 0.240, locator: float = 0.0, **others: Any
) -> ValveThere:
    """One valve that is to stand at 1.750 and lifts 0.480."""
    readings = ValveReadings(
        bare_height=bare * INCH,
        height_with_shims=UNREAD,
        height_proven=True,
        seat_load_with_shims=UNREAD,
        valve_lift=0.480 * INCH,
        retainer_to_seal=seal * INCH,
        springs=SPRING,
        masses=WeighedParts(*[UNREAD] * len(WeighedParts._fields)),
        targets=Targets(1.750 * INCH, LoadTarget(), LoadTarget()),
        limits=Limits(0.010 * INCH, 0.060 * INCH, 0.050 * INCH, off_target_rejects=False),
    )._replace(**others)
    (sheet,) = assemble([readings], SHIMS).valves
    return ValveThere(readings, sheet, locator * INCH, tip * INCH, UNREAD, floor * INCH)


def inches(length: float) -> float:
    return round(length / INCH, 9)
