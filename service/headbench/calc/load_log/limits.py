"""Limits and rules of load logs, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

RACE_LOAD_LOSS_MAXIMUM: Final = Limit(
    "race_load_loss_maximum",
    "percent",
    5.0,
    "largest loss of load against a spring's own first reading in racing; load_loss_maximum is taken in service",
    FROM_MEMORY,
    "setting",
)
FALLING_FAST: Final = Rule(
    "falling_fast",
    "ratio",
    (2.0,),
    "how many times the median loss of its set a spring may lose before it is to be replaced",
    COMMON_PRACTICE,
)
HEAT_CYCLE_LOSS: Final = Rule(
    "heat_cycle_loss",
    "percent",
    (2.0, 5.0),
    "usual loss of load over the first heat cycle; told, and nothing is judged by it",
    FROM_MEMORY,
)

LIMITS: Final = (RACE_LOAD_LOSS_MAXIMUM,)
RULES: Final = (FALLING_FAST, HEAT_CYCLE_LOSS)
