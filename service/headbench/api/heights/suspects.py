"""Height suspects: heights and deductions that look like a slip, or like the other unit of length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.api.gauges.repeats import are_apart
from headbench.api.heights.readings import HeightReadings, HeightsRead, kinds_in
from headbench.api.vocabulary.names import ValveKind
from headbench.calc import BoolArray, FloatArray
from headbench.calc.heights.slips import Slip, SlipKind, find_slips
from headbench.calc.judging.rules import USUAL_RANGES
from headbench.units import LengthUnit

UNITS: Final[dict[LengthUnit, str]] = {"in": "inches", "mm": "millimeters"}
_TENTH: Final = {"in": 0.1 * 0.0254, "mm": 1e-3}
_MM_PER_INCH: Final = 25.4
_USUAL: Final = {rule.name: rule for rule in USUAL_RANGES}


@dataclass(frozen=True, slots=True)
class Suspects:
    """What of P positions does not look as it was meant.

    forgotten : the unit that most heights would be usual in, where they are not in the one named; None otherwise
    slips : place, kind of valve, and what the height looks like [-]
    height_elsewhere, deduction_elsewhere : array (P,), readings that are usual only in the other unit [-]
    other : the other unit
    """

    forgotten: LengthUnit | None
    slips: Sequence[tuple[int, ValveKind, Slip]]
    height_elsewhere: BoolArray
    deduction_elsewhere: BoolArray
    other: LengthUnit


def find_suspects(positions: Sequence[HeightReadings], read: HeightsRead, unit: LengthUnit) -> Suspects:
    """Look at every height as measured, and at what comes off it."""
    heights = read.measured_height
    other: LengthUnit = "mm" if unit == "in" else "in"
    elsewhere = _usual_only(heights, "usual_measured_height", unit)
    known = np.count_nonzero(~np.isnan(heights))
    forgotten = other if np.count_nonzero(elsewhere) > 0.5 * known else None
    slips: list[tuple[int, ValveKind, Slip]] = []
    for kind in kinds_in(positions) if forgotten is None else ():
        own = np.flatnonzero([position.valve == kind for position in positions])
        for slip in find_slips(heights[own], read.deduction[own], _TENTH[unit]):
            place = int(own[slip.place])
            # who reads the same twice has not misread a digit, but may well stand on the same step twice
            if slip.kind is SlipKind.STEP or not _confirmed(positions[place]):
                slips.append((place, kind, slip))
    return Suspects(forgotten, slips, elsewhere, _usual_only(read.deduction, "usual_deduction", unit), other)


def _confirmed(position: HeightReadings) -> bool:
    reading = position.measured_height
    return isinstance(reading, list) and len(reading) > 1 and not are_apart(reading)


def _usual_only(values: FloatArray, rule: str, unit: LengthUnit) -> BoolArray:
    """Where values are unusual in the unit named and usual in the other."""
    low, high = _USUAL[rule].values
    again = values / _MM_PER_INCH if unit == "in" else values * _MM_PER_INCH
    inside, inside_other = ((low <= one) & (one <= high) for one in (values, again))
    return np.asarray(~inside & inside_other, dtype=np.bool_)
