"""Rules: numbers that decide without being a limit, as GET /v1/reference/limits lists them beside the limits."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians
from typing import Final

from headbench.calc.judging import spread, verdicts
from headbench.calc.judging.limits import COMMON_PRACTICE, FROM_MEMORY

_INCH: Final = 0.0254
_POUND_FORCE: Final = 4.4482216152605


@dataclass(frozen=True, slots=True)
class Rule:
    """Numbers that decide without being a limit: sizes, ranges, thresholds, in base SI, and what they rest on."""

    name: str
    quantity: str
    values: tuple[float, ...]
    meaning: str
    basis: str


USUAL_SHIMS: Final = Rule(
    "usual_shims",
    "length",
    (0.015 * _INCH, 0.030 * _INCH, 0.060 * _INCH),
    "sizes shims are usually sold in, assumed where a job names none",
    FROM_MEMORY,
)
LOCK_OFFSET: Final = Rule(
    "lock_offset",
    "length",
    (0.050 * _INCH,),
    "offset that locks and retainers are made with, either way",
    FROM_MEMORY,
)
EQUAL_STACKS: Final = Rule(
    "equal_stacks",
    "length",
    (0.002 * _INCH,),
    "stacks no more than this thicker or thinner than the nearest count as equal to it; fewer shims then decide",
    COMMON_PRACTICE,
)
GUARD_BAND: Final = Rule(
    "guard_band",
    "ratio",
    (verdicts.GUARD_BAND,),
    "standard uncertainties a value has to clear its limit by, for 95 % one-sided, where an uncertainty is given",
    "JCGM 106:2012, 8.3, and ISO 14253-1:2017 (both from memory); the factor is the normal distribution's",
)
USUAL_BANK_ANGLES: Final = Rule(
    "usual_bank_angles",
    "angle",
    (radians(54.0), radians(120.0)),
    "usual angles between the banks of a V; below, half the angle may have been entered",
    COMMON_PRACTICE,
)
OUTLIER: Final = Rule(
    "outlier",
    "ratio",
    (spread.ODD_ABOVE,),
    "modified z-score above which one value of a set is the odd one out",
    "published: NIST/SEMATECH e-Handbook of Statistical Methods (2012), 1.3.5.17, after Iglewicz and Hoaglin (1993)",
)
ALIKE_STEPS: Final = Rule(
    "alike_steps",
    "count",
    (spread.ALIKE_STEPS,),
    "steps of the scale by which equal parts may read apart and none is the odd one out",
    COMMON_PRACTICE,
)
ALIKE_SHARE: Final = Rule(
    "alike_share",
    "percent",
    (100.0 * spread.ALIKE_SHARE,),
    "share of their median by which parts of one set may differ and none is the odd one out",
    COMMON_PRACTICE,
)
CHECKING_LIFTS: Final = Rule(
    "checking_lifts",
    "length",
    (0.050 * _INCH, 1e-3),
    "lifts at which durations are reported where a job names none",
    COMMON_PRACTICE,
)
USUAL_SURGE_RATIO: Final = Rule(
    "usual_surge_ratio",
    "ratio",
    (6.0, 10.0),
    "surge frequency over the cam's turning frequency that valve springs run at; for information; judged only by a "
    "limit the job sets",
    FROM_MEMORY,
)
COARSE_ABOVE: Final = 0.05
"""Error of the acceleration round the peak, as a part of its mean, above which a table is coarse [-]."""


TOO_COARSE_ABOVE: Final = 0.25
"""The same above which it proves nothing: a speed known to an eighth, and by a first-order rule no more [-]."""

COARSE_TABLE: Final = Rule(
    "coarse_table",
    "percent",
    (100.0 * COARSE_ABOVE, 100.0 * TOO_COARSE_ABOVE),
    "error of a lobe's acceleration from readings far apart, of its mean at the nose: above the first it is noted, "
    "above the second float is not judged",
    COMMON_PRACTICE,
)
USUAL_DURATION: Final = Rule(
    "usual_duration",
    "angle",
    (radians(150.0), radians(360.0)),
    "usual durations at 0.050 in, in crank degrees",
    COMMON_PRACTICE,
)
WIDE_CLEARANCE: Final = Rule(
    "wide_clearance",
    "ratio",
    (2.0,),
    "times the minimum, or the default one if that is more, above which coil-bind clearance is noted as wide",
    COMMON_PRACTICE,
)
HEIGHT_SLIP: Final = Rule(
    "height_slip",
    "length",
    (0.003 * _INCH,),
    "how near a height that misses its neighbors has to come to a known slip to be named as one",
    COMMON_PRACTICE,
)
READ_BACK_HEIGHT: Final = Rule(
    "read_back_height",
    "length",
    (0.003 * _INCH,),
    "how far a height measured with the shims in may be off the figured one before shim, burr or gauge is to be "
    "looked for",
    COMMON_PRACTICE,
)
READ_BACK_APART: Final = Rule(
    "read_back_apart",
    "length",
    (0.060 * _INCH,),
    "how far a height measured with the shims in may be off the figured one, a thick shim left out, and still count; "
    "farther apart one of the two readings is wrong, and nothing rests on either until they are taken again",
    COMMON_PRACTICE,
)
READ_BACK_LOAD: Final = Rule(
    "read_back_load",
    "percent",
    (5.0,),
    "how far a seat load measured on the head may be off its spring's load curve and still be a matter of reading the "
    "lever again; beyond it height, spring or shims are others than entered. What differs by more than a tester "
    "repeats is not accepted either way",
    COMMON_PRACTICE,
)
USUAL_CUT: Final = Rule(
    "usual_cut",
    "length",
    (0.150 * _INCH,),
    "depth of cut above which a note is given, whatever the cut's angle",
    COMMON_PRACTICE,
)
USUAL_FACE_GAP: Final = Rule(
    "usual_face_gap",
    "length",
    (0.250 * _INCH,),
    "gap at an intake face, less its gasket, or bolt holes out of line, above which the reading or the manifold is "
    "taken to be wrong: no cut is told, and nothing is accepted",
    COMMON_PRACTICE,
)
USUAL_RATIO: Final = Rule(
    "usual_static_ratio",
    "ratio",
    (6.0, 18.0),
    "static compression ratios outside which a note asks for the readings and their units",
    COMMON_PRACTICE,
)
USUAL_BORE: Final = Rule("usual_bore", "length", (1.5 * _INCH, 6.0 * _INCH), "usual bores", COMMON_PRACTICE)
USUAL_QUENCH_STEEL: Final = Rule(
    "usual_quench_with_steel_rods",
    "length",
    (0.035 * _INCH, 0.060 * _INCH),
    "quench outside which a note is given with steel rods, or rods of which nothing is said; nothing is judged by it",
    COMMON_PRACTICE,
)
USUAL_QUENCH_ALUMINUM: Final = Rule(
    "usual_quench_with_aluminum_rods",
    "length",
    (0.050 * _INCH, 0.075 * _INCH),
    "quench outside which a note is given with aluminum rods; nothing is judged by it",
    COMMON_PRACTICE,
)
SEAT_LIFT: Final = Rule(
    "seat_lift",
    "length",
    (0.006 * _INCH,),
    "lift up to which a valve counts as seated, so that an effective ratio from there is taken as it stands",
    "from memory: SAE J604 counts valve timing from 0.006 in of valve lift",
)
HEIGHT_REPEATS: Final = Rule(
    "height_repeats",
    "length",
    (0.005 * _INCH,),
    "range of repeat readings of one height above which it is to be measured again",
    COMMON_PRACTICE,
)
TESTER_REPEATS: Final = Rule(
    "tester_repeats",
    "force",
    (2.0 * _POUND_FORCE,),
    "difference of two loads at one height that is put down to the tester; tester_repeats_percent where that is more",
    COMMON_PRACTICE,
)
TESTER_REPEATS_PERCENT: Final = Rule(
    "tester_repeats_percent", "percent", (2.0,), "the same, as a part of the load", COMMON_PRACTICE
)
NEAR_READINGS: Final = Rule(
    "near_readings",
    "length",
    (0.010 * _INCH,),
    "how far outside the heights tested a spring may work without a note; near_readings_percent where that is more",
    COMMON_PRACTICE,
)
NEAR_READINGS_PERCENT: Final = Rule(
    "near_readings_percent", "percent", (2.0,), "the same, as a part of the span of the heights tested", COMMON_PRACTICE
)
PROVEN_BEYOND_PERCENT: Final = Rule(
    "proven_beyond_percent",
    "percent",
    (10.0,),
    "how far outside the heights tested a load still counts as tested, as a part of their span",
    COMMON_PRACTICE,
)
PISTON_TO_VALVE_WITH_ALUMINUM_RODS: Final = Rule(
    "piston_to_valve_with_aluminum_rods",
    "length",
    (0.030 * _INCH,),
    "what aluminum rods add to minimum piston-to-valve clearance, as they stretch and grow more than steel ones",
    FROM_MEMORY,
)
FARTHEST_READINGS: Final = Rule(
    "farthest_readings",
    "angle",
    (radians(20.0),),
    "how far apart the dial readings around the smallest piston-to-valve clearance may be to prove anything: at that "
    "the curve between them is known to 0.002 in",
    "own derivation",
)
PLUNGER_RESERVE: Final = Rule(
    "plunger_reserve",
    "length",
    (0.030 * _INCH,),
    "travel that a hydraulic lifter's plunger keeps at maximum preload, where its travel is given; a third of the "
    "travel where that is less",
    COMMON_PRACTICE,
)
STOCK_GRACE: Final = Rule(
    "stock_grace",
    "length",
    (0.001 * _INCH,),
    "what a stock pushrod may miss the range of preload by and still do: nobody reads preload to less",
    COMMON_PRACTICE,
)
SLIPPED: Final = (
    "a decimal point has slipped: the reading counts as not taken, and what rests on it is not measured until it is "
    "taken again"
)
_TENTHS: Final = "own derivation: a tenth of the tallest usual one, and ten times the shortest"
POSSIBLE_LIFT: Final = Rule(
    "possible_valve_lift",
    "length",
    (0.075 * _INCH, 3.0 * _INCH),
    f"valve lifts up to and from which {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_HEIGHT: Final = Rule(
    "possible_height",
    "length",
    (0.35 * _INCH, 8.0 * _INCH),
    f"spring heights up to and from which {SLIPPED}",
    _TENTHS,
)
POSSIBLE_COIL_BIND_HEIGHT: Final = Rule(
    "possible_coil_bind_height",
    "length",
    (0.2 * _INCH, 4.0 * _INCH),
    f"coil-bind heights up to and from which {SLIPPED}",
    _TENTHS,
)
POSSIBLE_RETAINER_TO_SEAL: Final = Rule(
    "possible_retainer_to_seal",
    "length",
    (2.0 * _INCH,),
    f"distances to the seal from which on {SLIPPED}; there is no shortest, because a retainer may well stand on its "
    "seal",
    "own derivation: ten times the shortest usual one",
)
POSSIBLE_POCKET_FLOOR: Final = Rule(
    "possible_pocket_floor",
    "length",
    (1.2 * _INCH,),
    f"floors under a spring pocket from which on {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_LOCATOR: Final = Rule(
    "possible_locator",
    "length",
    (0.300 * _INCH,),
    f"thicknesses of locators from which {SLIPPED}",
    COMMON_PRACTICE,
)
POSSIBLE_DEDUCTION: Final = Rule(
    "possible_deduction",
    "length",
    (-0.5 * _INCH, 0.5 * _INCH),
    "deductions up to and from which a decimal point has slipped: the heights they come off count as not taken until "
    "they are entered again",
    COMMON_PRACTICE,
)
USUAL_RANGES: Final = (
    Rule("usual_measured_height", "length", (0.8 * _INCH, 3.5 * _INCH), "usual measured heights", COMMON_PRACTICE),
    Rule("usual_installed_height", "length", (0.8 * _INCH, 3.0 * _INCH), "usual installed heights", COMMON_PRACTICE),
    Rule("usual_coil_bind_height", "length", (0.4 * _INCH, 2.0 * _INCH), "usual coil-bind heights", COMMON_PRACTICE),
    Rule("usual_valve_lift", "length", (0.1 * _INCH, 1.2 * _INCH), "usual valve lifts", COMMON_PRACTICE),
    Rule(
        "usual_retainer_to_seal", "length", (0.2 * _INCH, 1.5 * _INCH), "usual distances to the seal", COMMON_PRACTICE
    ),
    Rule("usual_deduction", "length", (-0.3 * _INCH, 0.3 * _INCH), "usual deductions", COMMON_PRACTICE),
    Rule("usual_seat_load", "force", (20.0 * _POUND_FORCE, 600.0 * _POUND_FORCE), "usual seat loads", COMMON_PRACTICE),
    Rule("usual_valve", "mass", (0.015, 0.300), "usual masses of a valve", COMMON_PRACTICE),
    Rule("usual_retainer", "mass", (0.002, 0.060), "usual masses of a retainer", COMMON_PRACTICE),
    Rule("usual_locks", "mass", (0.0005, 0.020), "usual masses of a pair of locks", COMMON_PRACTICE),
)

RULES: Final = (
    USUAL_BANK_ANGLES,
    USUAL_SHIMS,
    LOCK_OFFSET,
    EQUAL_STACKS,
    GUARD_BAND,
    OUTLIER,
    ALIKE_STEPS,
    ALIKE_SHARE,
    CHECKING_LIFTS,
    USUAL_SURGE_RATIO,
    COARSE_TABLE,
    USUAL_DURATION,
    WIDE_CLEARANCE,
    HEIGHT_SLIP,
    READ_BACK_HEIGHT,
    READ_BACK_APART,
    READ_BACK_LOAD,
    PISTON_TO_VALVE_WITH_ALUMINUM_RODS,
    FARTHEST_READINGS,
    PLUNGER_RESERVE,
    STOCK_GRACE,
    USUAL_CUT,
    USUAL_RATIO,
    USUAL_BORE,
    USUAL_FACE_GAP,
    USUAL_QUENCH_STEEL,
    USUAL_QUENCH_ALUMINUM,
    SEAT_LIFT,
    HEIGHT_REPEATS,
    TESTER_REPEATS,
    TESTER_REPEATS_PERCENT,
    NEAR_READINGS,
    NEAR_READINGS_PERCENT,
    PROVEN_BEYOND_PERCENT,
    POSSIBLE_LIFT,
    POSSIBLE_HEIGHT,
    POSSIBLE_COIL_BIND_HEIGHT,
    POSSIBLE_RETAINER_TO_SEAL,
    POSSIBLE_POCKET_FLOOR,
    POSSIBLE_LOCATOR,
    POSSIBLE_DEDUCTION,
    *USUAL_RANGES,
)
"""Everything else that decides, as GET /v1/reference/limits lists it."""
