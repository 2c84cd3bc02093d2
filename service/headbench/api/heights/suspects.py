"""Height suspects: heights and deductions that look like a slip, or like the other unit of length."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

from headbench.api.gauges.repeats import are_apart
from headbench.api.heights.readings import HeightRead, HeightReadings, kinds_in
from headbench.api.vocabulary.names import ValveKind
from headbench.calc.heights.slips import Slip, SlipKind, find_slips
from headbench.calc.judging.rules import USUAL_RANGES
from headbench.units import LengthUnit

UNITS: Final[dict[LengthUnit, str]] = {"in": "inches", "mm": "millimeters"}
_TENTH: Final = {"in": 0.1 * 0.0254, "mm": 1e-3}
_MM_PER_INCH: Final = 25.4
_USUAL: Final = {rule.name: rule for rule in USUAL_RANGES}


@dataclass(frozen=True, slots=True)
class Suspects:
    """What of some positions does not look as it was meant.

    forgotten : the unit that most heights would be usual in, where they are not in the one named; None otherwise
    slips : place, kind of valve, and what the height looks like [-]
    heights_elsewhere, deductions_elsewhere : places of readings that are usual only in the other unit [-]
    other : the other unit
    """

    forgotten: LengthUnit | None
    slips: Sequence[tuple[int, ValveKind, Slip]]
    heights_elsewhere: Collection[int]
    deductions_elsewhere: Collection[int]
    other: LengthUnit


def find_suspects(positions: Sequence[HeightReadings], read: Sequence[HeightRead], unit: LengthUnit) -> Suspects:
    """Look at every height as measured, and at what comes off it."""
    heights, deductions = [one.measured_height for one in read], [one.deduction for one in read]
    other: LengthUnit = "mm" if unit == "in" else "in"
    elsewhere = _usual_only(heights, "usual_measured_height", unit)
    known = sum(position.measured_height is not None for position in positions)
    forgotten = other if len(elsewhere) > 0.5 * known else None
    slips: list[tuple[int, ValveKind, Slip]] = []
    for kind in kinds_in(positions) if forgotten is None else ():
        own = [place for place, position in enumerate(positions) if position.valve == kind]
        found = find_slips([heights[place] for place in own], [deductions[place] for place in own], _TENTH[unit])
        for slip in found:
            place = own[slip.place]
            # who reads the same twice has not misread a digit, but may well stand on the same step twice
            if slip.kind is SlipKind.STEP or not _confirmed(positions[place]):
                slips.append((place, kind, slip))
    return Suspects(forgotten, slips, elsewhere, _usual_only(deductions, "usual_deduction", unit), other)


def _confirmed(position: HeightReadings) -> bool:
    reading = position.measured_height
    return isinstance(reading, list) and len(reading) > 1 and not are_apart(reading)


def _usual_only(values: Sequence[float], rule: str, unit: LengthUnit) -> set[int]:
    """Places of values that are unusual in the unit named and usual in the other."""
    low, high = _USUAL[rule].values
    scale = 1.0 / _MM_PER_INCH if unit == "in" else _MM_PER_INCH
    return {
        place for place, value in enumerate(values) if (value < low or value > high) and low <= value * scale <= high
    }
