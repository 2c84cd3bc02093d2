"""Float setting: what a job says of speeds and of the limits of float and surge."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import PositiveSpeed
from headbench.api.vocabulary.targets import FloatLimits, Limits, limits_of, named_limit
from headbench.calc.valve_float.floats import FloatSetting

IntendedSpeed = Annotated[
    PositiveSpeed | None,
    Meta(description="Highest intended crank speed; null = not given.", examples=[6500]),
]

FLOAT_HELD: Final = ["valve_float"]
"""What waits for a reading that float needs."""

SURGE_HELD: Final = ["surge_frequency", "surge_ratio"]
"""What waits for a reading that surge alone needs."""


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
