"""Limits and rules of load logs, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

SETTLED_LOSS_MAXIMUM: Final = Limit(
    "settled_loss_maximum",
    "percent",
    5.0,
    "largest loss of load since a spring's first heat cycle, of its own first load; taken in racing, in service only "
    "where it is named",
    "from memory: 5 % is what racing springs are replaced at",
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
POSSIBLE_LOSS: Final = Rule(
    "possible_load_loss",
    "percent",
    (-50.0, 50.0),
    "losses of load against its own first test up to and from which a decimal point has slipped, or a spring is "
    "broken: the test counts as not taken, and what rests on it is not measured until it is taken again",
    COMMON_PRACTICE,
)

LIMITS: Final = (SETTLED_LOSS_MAXIMUM,)
RULES: Final = (FALLING_FAST, HEAT_CYCLE_LOSS, POSSIBLE_LOSS)
