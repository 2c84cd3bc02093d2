"""Limits: what a check compares with when the job names no limit of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

_INCH: Final = 0.0254


@dataclass(frozen=True, slots=True)
class Limit:
    """A default limit: its value in base SI (or percent, or a plain ratio), and what it rests on."""

    name: str
    quantity: str
    value: float
    meaning: str
    standing: str


INSTALLED_HEIGHT: Final = Limit(
    "installed_height",
    "length",
    0.005 * _INCH,
    "largest deviation of the installed height from its target, either way",
    "from memory: 0.005 to 0.010 in between valves; 0.020 in is also published as acceptable",
)
COIL_BIND_CLEARANCE: Final = Limit(
    "coil_bind_clearance",
    "length",
    0.060 * _INCH,
    "least room between the coils at full lift",
    "common practice, no source; 0.050 in is the published minimum (trade press)",
)
RETAINER_TO_SEAL_CLEARANCE: Final = Limit(
    "retainer_to_seal_clearance",
    "length",
    0.050 * _INCH,
    "least room between retainer and seal at full lift",
    "published (trade press)",
)
RETAINER_TO_ROCKER: Final = Limit(
    "retainer_to_rocker", "length", 0.050 * _INCH, "least room between retainer and rocker", "published (trade press)"
)
SEAL_TO_SPRING: Final = Limit(
    "seal_to_spring",
    "length",
    0.050 * _INCH,
    "least room between seal and the spring around it",
    "published (trade press)",
)
SEAT_LOAD_PERCENT: Final = Limit(
    "seat_load_percent",
    "percent",
    5.0,
    "largest deviation of the seat load from its target, either way",
    "published: service data print ranges of 5 to 8 % for new springs; the narrower one is taken",
)
OPEN_LOAD_PERCENT: Final = Limit(
    "open_load_percent",
    "percent",
    5.0,
    "largest deviation of the open load from its target, either way",
    "published for seat loads (5 to 8 %), taken over for the open load",
)
LOAD_LOSS_PERCENT: Final = Limit(
    "load_loss_percent",
    "percent",
    10.0,
    "largest loss of load against the spring's rating",
    "published service limit; 5 % is published too",
)
PISTON_TO_INTAKE_VALVE: Final = Limit(
    "piston_to_intake_valve",
    "length",
    0.080 * _INCH,
    "least room between piston and intake valve, more with aluminium rods",
    "published (trade press)",
)
PISTON_TO_EXHAUST_VALVE: Final = Limit(
    "piston_to_exhaust_valve",
    "length",
    0.100 * _INCH,
    "least room between piston and exhaust valve, more with aluminium rods",
    "published (trade press)",
)
FLOAT_RESERVE_PERCENT: Final = Limit(
    "float_reserve_percent",
    "percent",
    10.0,
    "least reserve of the float speed of a rigid train over the intended speed",
    "common practice, no source: real trains bend and float before a rigid one would",
)
SURGE_RATIO: Final = Limit(
    "surge_ratio",
    "ratio",
    13.0,
    "least ratio of a spring's surge frequency to the cam's turning frequency at the intended speed",
    "common practice, no source; machine design texts ask for 13 up to 15 to 20 for springs at large (from memory)",
)
MAX_STACK: Final = Limit(
    "max_stack", "length", 0.060 * _INCH, "thickest stack of flat shims in one pocket", "published (trade press)"
)
LEAST_PRELOAD: Final = Limit(
    "least_preload", "length", 0.020 * _INCH, "least preload of a hydraulic lifter", "published (trade press)"
)
MOST_PRELOAD: Final = Limit(
    "most_preload", "length", 0.060 * _INCH, "most preload of a hydraulic lifter", "published (trade press)"
)
STOCK_STEP: Final = Limit(
    "stock_step",
    "length",
    0.050 * _INCH,
    "step between the pushrod lengths usually kept in stock",
    "from memory, trade press",
)
GAUGE_STEP: Final = Limit(
    "gauge_step",
    "length",
    0.001 * _INCH,
    "smallest difference a feeler gauge tells",
    "common practice, no source",
)
MISALIGNMENT_STEP: Final = Limit(
    "misalignment_step",
    "length",
    0.010 * _INCH,
    "smallest difference that can be told at bolt holes",
    "common practice, no source",
)

ALL: Final = (
    INSTALLED_HEIGHT,
    COIL_BIND_CLEARANCE,
    RETAINER_TO_SEAL_CLEARANCE,
    RETAINER_TO_ROCKER,
    SEAL_TO_SPRING,
    SEAT_LOAD_PERCENT,
    OPEN_LOAD_PERCENT,
    LOAD_LOSS_PERCENT,
    PISTON_TO_INTAKE_VALVE,
    PISTON_TO_EXHAUST_VALVE,
    FLOAT_RESERVE_PERCENT,
    SURGE_RATIO,
    MAX_STACK,
    LEAST_PRELOAD,
    MOST_PRELOAD,
    STOCK_STEP,
    GAUGE_STEP,
    MISALIGNMENT_STEP,
)

USUAL_SHIMS: Final = (0.015 * _INCH, 0.030 * _INCH, 0.060 * _INCH)
"""The sizes shims are usually sold in [m]; published (trade press)."""
