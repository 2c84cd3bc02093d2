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
_SLIPPED: Final = "a decimal point has slipped: it counts as not entered"
POSSIBLE_GUIDE: Final = Rule(
    "possible_guide_height",
    "length",
    (3.0 * _INCH,),
    f"heights of guides over seat and boss from which {_SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_SEAL_HEIGHT: Final = Rule(
    "possible_seal_height",
    "length",
    (1.5 * _INCH,),
    f"heights of seals over the guide from which {_SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_UNDERSIDE: Final = Rule(
    "possible_retainer_underside",
    "length",
    (-1.0 * _INCH, 1.0 * _INCH),
    f"undersides of retainers, above their spring step, up to and from which {_SLIPPED}",
    COMMON_PRACTICE,
)

LIMITS: Final = (LOCATOR_ROOM_MINIMUM, PREDICTION_TOLERANCE)
RULES: Final = (LOCATOR_ROOM, POSSIBLE_GUIDE, POSSIBLE_SEAL_HEIGHT, POSSIBLE_UNDERSIDE)
