"""Rules of pressure on valves, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY
from headbench.calc.judging.rules import SLIPPED, Rule

_INCH: Final = 0.0254
_POUND_FORCE: Final = 4.4482216152605
_PSI: Final = _POUND_FORCE / _INCH**2

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

POSSIBLE_SEAT: Final = Rule(
    "possible_seat_diameter",
    "length",
    (0.4 * _INCH, 5.0 * _INCH),
    f"diameters of seats and valve heads up to and from which {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_STEM: Final = Rule(
    "possible_stem_diameter",
    "length",
    (0.1 * _INCH, 1.5 * _INCH),
    f"diameters of valve stems up to and from which {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_SEAT_LOAD: Final = Rule(
    "possible_seat_load",
    "force",
    (10.0 * _POUND_FORCE, 1000.0 * _POUND_FORCE),
    f"seat loads up to and from which {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_OF_CURVE: Final = Rule(
    "possible_seat_load_of_curve",
    "ratio",
    (0.5, 2.0),
    "how many times the load of its spring's curve a seat load read on the head may be; beyond, it is a slip or "
    "another spring: the reading counts as not taken, and nothing is accepted until it is taken again",
    COMMON_PRACTICE,
)

RULES: Final = (
    BACK_PRESSURE_PULSES,
    USUAL_PORT_PRESSURE,
    USUAL_OPENING_PRESSURE,
    POSSIBLE_SEAT,
    POSSIBLE_STEM,
    POSSIBLE_SEAT_LOAD,
    POSSIBLE_OF_CURVE,
)
