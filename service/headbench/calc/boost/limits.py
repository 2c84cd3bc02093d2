"""Rules of pressure on valves, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY
from headbench.calc.judging.rules import Rule

_PSI: Final = 6894.757293168361

BACK_PRESSURE_PULSES: Final = Rule(
    "back_pressure_pulses",
    "ratio",
    (1.5, 2.0),
    "how many times their mean the pulses of exhaust back pressure reach; noted, and nothing is judged by it",
    FROM_MEMORY,
)
USUAL_PORT_PRESSURE: Final = Rule(
    "usual_port_pressure",
    "pressure",
    (-14.7 * _PSI, 80.0 * _PSI),
    "usual gauge pressures in ports; outside, an absolute pressure or another unit may have been entered",
    COMMON_PRACTICE,
)
USUAL_OPENING_PRESSURE: Final = Rule(
    "usual_opening_pressure",
    "pressure",
    (20.0 * _PSI, 500.0 * _PSI),
    "usual cylinder pressures as exhaust valves open under load",
    COMMON_PRACTICE,
)

RULES: Final = (BACK_PRESSURE_PULSES, USUAL_PORT_PRESSURE, USUAL_OPENING_PRESSURE)
