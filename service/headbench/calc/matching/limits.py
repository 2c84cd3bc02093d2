"""Limits and rules of matching, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

_INCH: Final = 0.0254
_POUND_FORCE: Final = 4.4482216152605

HEIGHT_WINDOW: Final = Limit(
    "height_window",
    "length",
    0.030 * _INCH,
    "how far a spring may stand from its target height, either way, so that its load comes right",
    FROM_MEMORY,
    "setting",
)
EQUAL_LOADS: Final = Rule(
    "equal_loads",
    "force",
    (0.1 * _POUND_FORCE,),
    "loads are matched in steps of this: what differs by less counts as equal",
    "common practice, no source; no bench tester shows less",
)

LIMITS: Final = (HEIGHT_WINDOW,)
RULES: Final = (EQUAL_LOADS,)
