"""Saying: numbers as sentences have them, in the caller's units and in the places that a bench reads.

Rooms compute in SI and know no units. Which units a sentence is to be written in is ambient while one request is
answered, as the precision of `decimal` is: the frame sets it, and `say` alone looks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from math import isnan
from typing import Final

from headbench import units
from headbench.units import Scales

_SAID_IN: Final[ContextVar[Scales | None]] = ContextVar("_SAID_IN", default=None)

# A part of the last place that only rounding of floats makes.
_HAIR: Final = 1e-7


@contextmanager
def said_in(scales: Scales) -> Iterator[None]:
    """Have sentences written in these units.

    >>> with said_in(units.scales_for("mm")):
    ...     say(0.00127, "length")
    '1.27 mm'
    """
    before = _SAID_IN.set(scales)
    try:
        yield
    finally:
        _SAID_IN.reset(before)


def scales_said() -> Scales:
    """The units that sentences are written in; an inch shop's where nobody asked for others."""
    return _SAID_IN.get() or units.scales_for()


def unit_said(quantity: str) -> str:
    """The unit of a quantity in sentences."""
    return scales_said()[quantity].unit


def say(value: float, quantity: str) -> str:
    """An SI value in the caller's unit, as a sentence has it: in the places a bench reads.

    >>> say(0.00127, "length"), say(math.radians(-5e-05), "angle")
    ('0.050 in', '0 deg')
    """
    scale = scales_said()[quantity]
    return f"{in_places(scale.from_si(value), scale.unit)} {scale.unit}"


def say_enough(value: float, quantity: str) -> str:
    """An SI amount that a remedy needs at least, above 0: rounded up, so that doing what is said is enough.

    >>> say_enough(0.00127001, "length"), say_enough(1e-9, "length")
    ('0.0501 in', '0.0001 in')
    """
    step = least_shown(quantity)
    return say(max(math.ceil(value / step - _HAIR), 1) * step, quantity)


def say_at_most(value: float, quantity: str) -> str:
    """An SI amount that must not be passed, 0 or more: rounded down.

    >>> say_at_most(0.00127999, "length")
    '0.0503 in'
    """
    step = least_shown(quantity)
    return say(math.floor(value / step + _HAIR) * step, quantity)


def least_shown(quantity: str) -> float:
    """One in the last place that a bench reads of a quantity.

    >>> round(least_shown("length") / 0.0254, 9)
    0.0001
    """
    scale = scales_said()[quantity]
    places = units.places(scale.unit)
    return scale.to_si(10.0 ** -(places.most if places is not None else 0))


def as_entered(value: float, quantity: str) -> float:
    """An SI number of the request as the caller wrote it, conversion's rounding noise taken off.

    >>> as_entered(0.1045, "mass")
    104.5
    """
    return float(f"{scales_said()[quantity].from_si(value):.12g}")


def say_ratios(*ratios: float) -> list[str]:
    """Compression ratios as one sentence has them: to two decimals, to three where that tells them apart.

    >>> say_ratios(6.95286, 6.78), say_ratios(9.996, 9.999)
    (['6.95:1', '6.78:1'], ['9.996:1', '9.999:1'])
    """
    alike = len({f"{ratio:.2f}" for ratio in ratios}) < len(set(ratios))
    return [f"{ratio:.{3 if alike else 2}f}:1" for ratio in ratios]


def shows(value: float, quantity: str) -> bool:
    """Whether an SI number is there, and more than nothing in the places a bench reads."""
    scale = scales_said()[quantity]
    return not isnan(value) and float(in_places(scale.from_si(value), scale.unit)) != 0.0


def room_to_make(minimum: float, usual: float) -> float:
    """The clearance [m] to set parts to that touch: its minimum, the usual one where a job asks for none at all."""
    return minimum if shows(minimum, "length") else usual


def in_places(value: float, unit: str) -> str:
    """A number in the places that a bench reads in its unit, trailing zeros beyond the usual ones left out.

    >>> in_places(0.0805, "in"), in_places(1.9, "in"), in_places(-1e-9, "mm"), in_places(104.5, "g")
    ('0.0805', '1.900', '0.00', '104.5')
    """
    places = units.places(unit)
    if places is None or isnan(value):
        text = f"{value:.4g}"
        return f"{value:.0f}" if "e+" in text else text
    text = f"{value:.{places.most}f}"
    whole, point, fraction = text.partition(".")
    fraction = fraction.rstrip("0").ljust(places.least, "0")
    text = f"{whole}{point}{fraction}" if fraction else whole
    return text.lstrip("-") if not float(text) else text
