"""Limits and rules of ways out, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

_INCH: Final = 0.0254

TIP_ABOVE_RETAINER_MINIMUM: Final = Limit(
    "tip_above_retainer_minimum",
    "length",
    0.060 * _INCH,
    "minimum height of the valve's tip over retainer and locks, so that the rocker touches the tip alone",
    FROM_MEMORY,
    "damage",
)
REMEDY_STEP: Final = Rule(
    "remedy_step",
    "length",
    (0.001 * _INCH, 0.030 * _INCH),
    "steps in which a part that would put valves right is looked for, and how far past the least that could",
    COMMON_PRACTICE,
)
_SLIPPED: Final = "a decimal point has slipped: it counts as not entered"
POSSIBLE_OFFSET: Final = Rule(
    "possible_offset",
    "length",
    (-0.300 * _INCH, 0.300 * _INCH),
    f"offsets of locks and retainers up to and from which {_SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_LENGTH_CHANGE: Final = Rule(
    "possible_length_change",
    "length",
    (-1.0 * _INCH, 1.0 * _INCH),
    f"length changes of valves up to and from which {_SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_POCKET_CUT: Final = Rule(
    "possible_pocket_cut",
    "length",
    (0.300 * _INCH,),
    f"depths of pocket cuts from which {_SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_TIP: Final = Rule(
    "possible_tip_above_retainer",
    "length",
    (1.0 * _INCH,),
    f"tips above the retainer from which {_SLIPPED}",
    COMMON_PRACTICE,
)

LIMITS: Final = (TIP_ABOVE_RETAINER_MINIMUM,)
RULES: Final = (
    REMEDY_STEP,
    POSSIBLE_OFFSET,
    POSSIBLE_LENGTH_CHANGE,
    POSSIBLE_POCKET_CUT,
    POSSIBLE_TIP,
)
