"""Limits and rules of stem heights, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

_INCH: Final = 0.0254

STEM_HEIGHT_SPREAD_MAXIMUM: Final = Limit(
    "stem_height_spread_maximum",
    "length",
    0.010 * _INCH,
    "largest spread of stem heights within one kind of valve",
    "from memory: 0.010 to 0.015 in is asked for in racing",
    "setting",
)
TIP_GRIND_MAXIMUM: Final = Limit(
    "tip_grind_maximum",
    "length",
    0.010 * _INCH,
    "most that may come off a valve's tip over its life; the hard case is thin",
    FROM_MEMORY,
    "setting",
)
GROOVE_TO_TIP_MINIMUM: Final = Limit(
    "groove_to_tip_minimum",
    "length",
    0.060 * _INCH,
    "minimum distance from the lock groove to the tip, so that the rocker clears lock and retainer",
    FROM_MEMORY,
    "damage",
)
SEAT_CUT_WEIGHT: Final = Rule(
    "seat_cut_weight",
    "ratio",
    (3.0,),
    "how many times a tip grind of the same depth a seat's sink counts: it moves volume, height and load as well",
    "own derivation: no source; tips alone are ground wherever they suffice",
)
RETAINER_TO_TIP_SLIP: Final = Rule(
    "retainer_to_tip_slip",
    "length",
    (0.010 * _INCH,),
    "how far stem height less installed height may be off that of the other valves of its kind before a reading is "
    "taken to be wrong",
    FROM_MEMORY,
)

LIMITS: Final = (STEM_HEIGHT_SPREAD_MAXIMUM, TIP_GRIND_MAXIMUM, GROOVE_TO_TIP_MINIMUM)
RULES: Final = (SEAT_CUT_WEIGHT, RETAINER_TO_TIP_SLIP)
