"""Limits and rules of guide bosses, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

_INCH: Final = 0.0254

LOCATOR_ROOM_MINIMUM: Final = Limit(
    "locator_room_minimum",
    "length",
    0.005 * _INCH,
    "minimum that a spring pocket is wider than its locator, on diameter",
    FROM_MEMORY,
    "setting",
)
PREDICTION_TOLERANCE: Final = Limit(
    "prediction_tolerance",
    "length",
    0.010 * _INCH,
    "most that retainer to seal may read off what it was figured to be, either way",
    COMMON_PRACTICE,
    "setting",
)
LOCATOR_ROOM: Final = Rule(
    "locator_room",
    "length",
    (0.005 * _INCH, 0.010 * _INCH),
    "how much wider than its locator a spring pocket is cut, on diameter",
    FROM_MEMORY,
)

LIMITS: Final = (LOCATOR_ROOM_MINIMUM, PREDICTION_TOLERANCE)
RULES: Final = (LOCATOR_ROOM,)
