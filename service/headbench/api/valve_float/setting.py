"""Float setting: what a job says of speeds and of the limits of float and surge."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import PositiveSpeed
from headbench.api.vocabulary.targets import FloatLimits, Limits, limits_of, named_limit
from headbench.calc import BoolArray, FloatArray

IntendedSpeed = Annotated[
    PositiveSpeed | None,
    Meta(description="Highest intended crank speed; null = not given.", examples=[6500]),
]

FLOAT_HELD: Final = ["valve_float"]
"""What waits for a reading that float needs."""

SURGE_HELD: Final = ["surge_frequency", "surge_ratio"]
"""What waits for a reading that surge alone needs."""


@dataclass(frozen=True, slots=True)
class FloatSetting:
    """What a job says of speeds and limits; NaN where it says nothing.

    crank_speed, wanted_crank_speed : [rad/s]
    reserve_limit : array (P,) [percent]
    reserve_named : array (P,), whether the job names it [-]
    misses_reject : whether the job rejects what misses a default
    surge_limit : array (P,) [-]
    load_uncertainty : [N]
    mass_uncertainty : of the moving mass, beside what repeats show [kg]
    trace_points : how many points of the forces to answer, if any
    """

    crank_speed: float
    wanted_crank_speed: float
    reserve_limit: FloatArray
    reserve_named: BoolArray
    misses_reject: bool
    surge_limit: FloatArray
    load_uncertainty: float = 0.0
    mass_uncertainty: float = 0.0
    trace_points: int | None = None


def float_setting(
    intended_speed: float | None,
    limits: Limits | FloatLimits,
    valves: Sequence[ValveKind],
    target_speed: float | None = None,
) -> FloatSetting:
    """What a job says of speeds and limits; the wanted speed is the intended one where none is given."""
    intended = np.nan if intended_speed is None else intended_speed
    named = {kind: named_limit(limits, "float_reserve_minimum", kind) is not None for kind in KINDS}
    return FloatSetting(
        crank_speed=intended,
        wanted_crank_speed=intended if target_speed is None else target_speed,
        reserve_limit=limits_of(limits, "float_reserve_minimum", valves),
        reserve_named=np.array([named[valve] for valve in valves]),
        misses_reject=isinstance(limits, Limits) and limits.off_target == "reject",
        surge_limit=limits_of(limits, "surge_ratio_minimum", valves),
    )


def open_speed(intended_speed: float | None) -> Iterator[OpenItem]:
    """The speed that reserve and surge ratio wait for."""
    if intended_speed is None:
        yield OpenItem(
            pointer="/intended_speed",
            position=None,
            spring=None,
            needed_for=FLOAT_HELD,
            detail="Enter the highest intended engine speed.",
        )
