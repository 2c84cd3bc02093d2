"""Limits: what a check compares with when the job names no limit of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

_INCH: Final = 0.0254

CheckClass = Literal["damage", "setting"]
"""What a miss means: parts that hit each other, or a setting off its target."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A default limit: its value in base SI (or percent, or a plain ratio), what a miss means, and what it rests on."""

    name: str
    quantity: str
    value: float
    meaning: str
    basis: str
    check_class: CheckClass | None = None


COMMON_PRACTICE: Final = "common practice, no source"
FROM_MEMORY: Final = "from memory"

INSTALLED_HEIGHT_TOLERANCE: Final = Limit(
    "installed_height_tolerance",
    "length",
    0.010 * _INCH,
    "largest deviation of the installed height from its target, either way",
    "from memory: 0.005 to 0.010 in is asked for in racing, up to 0.020 in is called acceptable",
    "setting",
)
COIL_BIND_CLEARANCE_MINIMUM: Final = Limit(
    "coil_bind_clearance_minimum",
    "length",
    0.060 * _INCH,
    "minimum coil-bind clearance at full lift",
    "common practice, no source; 0.050 in is the least that is printed (from memory)",
    "damage",
)
RETAINER_TO_SEAL_CLEARANCE_MINIMUM: Final = Limit(
    "retainer_to_seal_clearance_minimum",
    "length",
    0.050 * _INCH,
    "minimum retainer-to-seal clearance at full lift",
    FROM_MEMORY,
    "damage",
)
RETAINER_TO_ROCKER_MINIMUM: Final = Limit(
    "retainer_to_rocker_minimum",
    "length",
    0.050 * _INCH,
    "minimum gap, retainer to rocker",
    FROM_MEMORY,
    "damage",
)
SEAL_TO_SPRING_MINIMUM: Final = Limit(
    "seal_to_spring_minimum",
    "length",
    0.050 * _INCH,
    "minimum gap, seal to the spring around it",
    FROM_MEMORY,
    "damage",
)
POCKET_FLOOR_MINIMUM: Final = Limit(
    "pocket_floor_minimum",
    "length",
    0.150 * _INCH,
    "minimum metal under a spring pocket once it is cut",
    "from memory: 0.150 to 0.200 in is left over water",
    "damage",
)
SEAT_LOAD_TOLERANCE: Final = Limit(
    "seat_load_tolerance",
    "percent",
    5.0,
    "largest deviation of the seat load from its target, either way",
    "from memory: service data print ranges of 5 to 8 % for new springs; the narrower one is taken",
    "setting",
)
OPEN_LOAD_TOLERANCE: Final = Limit(
    "open_load_tolerance",
    "percent",
    5.0,
    "largest deviation of the open load from its target, either way",
    "from memory: printed for seat loads (5 to 8 %), taken over for the open load",
    "setting",
)
LOAD_LOSS_MAXIMUM: Final = Limit(
    "load_loss_maximum",
    "percent",
    10.0,
    "largest loss of load against the spring's rating",
    "from memory: a service limit in print; 5 % is printed too",
    "setting",
)
PISTON_TO_INTAKE_VALVE_MINIMUM: Final = Limit(
    "piston_to_intake_valve_minimum",
    "length",
    0.080 * _INCH,
    "minimum piston-to-valve clearance, intake; more with aluminum rods",
    FROM_MEMORY,
    "damage",
)
PISTON_TO_EXHAUST_VALVE_MINIMUM: Final = Limit(
    "piston_to_exhaust_valve_minimum",
    "length",
    0.100 * _INCH,
    "minimum piston-to-valve clearance, exhaust; more with aluminum rods",
    FROM_MEMORY,
    "damage",
)
FLOAT_RESERVE_MINIMUM: Final = Limit(
    "float_reserve_minimum",
    "percent",
    10.0,
    "minimum float reserve: float speed of a rigid train over the intended speed",
    "common practice, no source: real trains bend and float before a rigid one would. A reserve below 0 is rejected, "
    "one that misses a limit the job names too; one that misses this default alone is borderline",
    "damage",
)
STACK_MAXIMUM: Final = Limit(
    "stack_maximum", "length", 0.060 * _INCH, "thickest stack of flat shims in one pocket", FROM_MEMORY
)
SHIM_COUNT_MAXIMUM: Final = Limit("shim_count_maximum", "count", 3.0, "most shims in one stack", COMMON_PRACTICE)
PRELOAD_MINIMUM: Final = Limit(
    "preload_minimum", "length", 0.020 * _INCH, "minimum preload of a hydraulic lifter", FROM_MEMORY, "setting"
)
PRELOAD_MAXIMUM: Final = Limit(
    "preload_maximum", "length", 0.060 * _INCH, "maximum preload of a hydraulic lifter", FROM_MEMORY, "setting"
)
STOCK_STEP: Final = Limit(
    "stock_step", "length", 0.050 * _INCH, "step between the pushrod lengths usually kept in stock", FROM_MEMORY
)
GAUGE_STEP: Final = Limit(
    "gauge_step", "length", 0.001 * _INCH, "smallest difference a feeler gauge shows", COMMON_PRACTICE
)
MISALIGNMENT_STEP: Final = Limit(
    "misalignment_step",
    "length",
    0.010 * _INCH,
    "smallest difference that can be measured at bolt holes",
    COMMON_PRACTICE,
)
FACE_GAP_TOLERANCE: Final = Limit(
    "face_gap_tolerance",
    "length",
    0.005 * _INCH,
    "most that may stay open at the middle of an intake face, over the thickness of its gasket",
    "from memory: what a composition gasket still fills",
    "setting",
)
FACE_TAPER_TOLERANCE: Final = Limit(
    "face_taper_tolerance",
    "length",
    0.005 * _INCH,
    "most that an intake face may be further open at its top than at its bottom, either way",
    "from memory: what a composition gasket still fills",
    "setting",
)
FACE_TWIST_TOLERANCE: Final = Limit(
    "face_twist_tolerance",
    "length",
    0.006 * _INCH,
    "most that an intake face may be further open at its front than at its rear, either way",
    "from memory: flatness asked for over the length of a head",
    "setting",
)
FACE_WARP_TOLERANCE: Final = Limit(
    "face_warp_tolerance",
    "length",
    0.003 * _INCH,
    "most that a corner of an intake face may lie off the plane of its corners, either way",
    "from memory: flatness asked for within 6 in of a gasket face",
    "setting",
)
MISALIGNMENT_TOLERANCE: Final = Limit(
    "misalignment_tolerance",
    "length",
    0.015 * _INCH,
    "largest misalignment of bolt holes and ports along the intake face, either way",
    "from memory: bolts of 3/8 in drop into holes of 13/32 in up to here",
    "setting",
)
BOLT_ENTRY_TOLERANCE: Final = Limit(
    "bolt_entry_tolerance",
    "length",
    0.031 * _INCH,
    "largest misalignment at which an intake bolt still enters, either way",
    "from memory: bolts of 3/8 in enter holes of 7/16 in up to here",
    "damage",
)

ALL: Final = (
    INSTALLED_HEIGHT_TOLERANCE,
    COIL_BIND_CLEARANCE_MINIMUM,
    RETAINER_TO_SEAL_CLEARANCE_MINIMUM,
    RETAINER_TO_ROCKER_MINIMUM,
    SEAL_TO_SPRING_MINIMUM,
    POCKET_FLOOR_MINIMUM,
    SEAT_LOAD_TOLERANCE,
    OPEN_LOAD_TOLERANCE,
    LOAD_LOSS_MAXIMUM,
    PISTON_TO_INTAKE_VALVE_MINIMUM,
    PISTON_TO_EXHAUST_VALVE_MINIMUM,
    FLOAT_RESERVE_MINIMUM,
    STACK_MAXIMUM,
    SHIM_COUNT_MAXIMUM,
    PRELOAD_MINIMUM,
    PRELOAD_MAXIMUM,
    STOCK_STEP,
    GAUGE_STEP,
    MISALIGNMENT_STEP,
    FACE_GAP_TOLERANCE,
    FACE_TAPER_TOLERANCE,
    FACE_TWIST_TOLERANCE,
    FACE_WARP_TOLERANCE,
    MISALIGNMENT_TOLERANCE,
    BOLT_ENTRY_TOLERANCE,
)
"""Every default limit, as GET /v1/reference/limits lists them."""
