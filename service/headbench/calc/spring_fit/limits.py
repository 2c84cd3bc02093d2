"""Limits and rules of spring fit, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from math import radians
from typing import Final

from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY, Limit
from headbench.calc.judging.rules import SLIPPED, Rule

_INCH: Final = 0.0254

CENTERING_GAP_MINIMUM: Final = Limit(
    "centering_gap_minimum",
    "length",
    0.0,
    "minimum radial gap of a spring on its locator or on the retainer's step, and of a locator in its pocket; snug is "
    "good",
    FROM_MEMORY,
    "damage",
)
CENTERING_GAP_MAXIMUM: Final = Limit(
    "centering_gap_maximum",
    "length",
    0.010 * _INCH,
    "maximum radial gap there; beyond it the spring walks",
    FROM_MEMORY,
    "setting",
)
COIL_TO_COIL_MINIMUM: Final = Limit(
    "coil_to_coil_minimum",
    "length",
    0.005 * _INCH,
    "minimum radial gap of nested springs that are not to press on each other, open and closed",
    COMMON_PRACTICE,
    "damage",
)
DAMPER_GAP_MAXIMUM: Final = Limit(
    "damper_gap_maximum",
    "length",
    0.0,
    "maximum radial gap of a flat-wire damper in the spring around it, where its maker states none: it must press",
    COMMON_PRACTICE,
    "setting",
)
COIL_IN_POCKET_MINIMUM: Final = Limit(
    "coil_in_pocket_minimum",
    "length",
    0.0,
    "minimum radial gap of the outer spring in a pocket without locator, its coils closed; touching is rejected",
    COMMON_PRACTICE,
    "damage",
)
SQUARENESS_MAXIMUM: Final = Limit(
    "squareness_maximum",
    "length",
    1.6e-3,
    "most that a spring may stand out of square",
    "from memory: 1.6 mm (1/16 in) is printed in service data, 2.5 degrees too",
    "setting",
)
SQUARENESS_ANGLE: Final = Rule(
    "squareness_angle",
    "angle",
    (radians(2.5),),
    "lean that service data print in place of squareness_maximum; told beside it, nothing is judged by it",
    FROM_MEMORY,
)
TWIST_OVER_BEND: Final = Rule(
    "twist_over_bend",
    "ratio",
    (1.0 / 1.3,),
    "torsional over bending stiffness of round steel wire, 1/(1 + 0.3), in the growth of a spring whose ends turn",
    "own derivation: 2 G/E with a Poisson's ratio of 0.3; Wahl's and EN 13906-1's formula has 0.8 (from memory)",
)
DIAMETERS_AGREE: Final = Rule(
    "diameters_agree",
    "length",
    (0.010 * _INCH,),
    "how far outside diameter less inside diameter may be off twice the wire before the readings contradict",
    COMMON_PRACTICE,
)
POSSIBLE_DIAMETER: Final = Rule(
    "possible_fit_diameter",
    "length",
    (0.25 * _INCH, 4.0 * _INCH),
    f"diameters of springs, locators, retainer steps, pockets and seals up to and from which {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_WIRE: Final = Rule(
    "possible_wire",
    "length",
    (0.025 * _INCH, 0.6 * _INCH),
    f"wires of springs and dampers up to and from which {SLIPPED}",
    COMMON_PRACTICE,
)

LIMITS: Final = (
    CENTERING_GAP_MINIMUM,
    CENTERING_GAP_MAXIMUM,
    COIL_TO_COIL_MINIMUM,
    DAMPER_GAP_MAXIMUM,
    COIL_IN_POCKET_MINIMUM,
    SQUARENESS_MAXIMUM,
)
RULES: Final = (SQUARENESS_ANGLE, TWIST_OVER_BEND, DIAMETERS_AGREE, POSSIBLE_DIAMETER, POSSIBLE_WIRE)
