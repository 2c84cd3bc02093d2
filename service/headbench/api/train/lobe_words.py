"""Lobe words: what is said of a lift table that contradicts itself, or has readings to take again."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from headbench.api.train.motions import LiftTable
from headbench.api.vocabulary.saying import say, scales_said, unit_said
from headbench.calc.train.lift_table import TURN
from headbench.calc.train.lift_table_faults import FEWEST_READINGS, LiftTableFault
from headbench.calc.train.valve_motion import CRANK_PER_CAM
from headbench.errors import Pointed

_FINE: Final = 0.001
"""Inches or millimeters below which a lift is told to its first digit: what a fine gauge scatters is small."""


def told(fault: LiftTableFault, table: LiftTable, stated: float, pointer: str) -> Pointed:
    """A fault of a table, for a machinist."""
    turns = turns_of(table)
    where, sentence = _SENTENCES[fault.kind]
    detail = sentence.format(
        number=fault.last + 1,
        before=fault.first + 1,
        count="1 reading is" if round(fault.value) == 1 else f"{fault.value:.0f} readings are",
        lift=small_length(fault.value),
        stated=small_length(stated),
        side=table.side,
        angle=say(turns * fault.value, "angle"),
        turn=say(turns * TURN, "angle"),
    )
    return Pointed(f"{pointer}/{where.format(fault.last)}", detail)


def turns_of(table: LiftTable) -> float:
    """Turns of the shaft whose degrees a table has, to one of the cam."""
    return CRANK_PER_CAM if table.shaft == "crank" else 1.0


def small_length(value: float) -> str:
    """A length that may be smaller than a bench reads, never as a power of ten."""
    shown = scales_said()["length"].from_si(value)
    if np.isnan(shown) or shown == 0.0 or abs(shown) >= _FINE:
        return say(value, "length")
    return f"{shown:.{-int(np.floor(np.log10(abs(shown))))}f} {unit_said('length')}"


_SENTENCES: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "too few": (
            "readings",
            (
                f"only {{count}} off the base circle; it takes {FEWEST_READINGS} to tell how hard the "
                "lobe brakes the valve: read it closer"
            ),
        ),
        "falls back": (
            "readings/{}/angle",
            (
                "reading {number}: the angle falls back to {angle}; enter readings in the order of turning, and count "
                "on past a full turn"
            ),
        ),
        "repeats": ("readings/{}/angle", "readings {before} and {number} are both at {angle}; keep one"),
        "beyond a turn": (
            "angle",
            "the readings run over {angle}, more than one turn of the cam ({turn}); are they cam or crank degrees?",
        ),
        "below zero": (
            "readings/{}/lift",
            "reading {number}: {lift} is below the base circle; zero the indicator there and take the readings again",
        ),
        "no base circle": (
            "readings/{}/lift",
            "the lowest lift of the whole turn is {lift}; zero the indicator on the base circle",
        ),
        "does not close": (
            "readings/{}/lift",
            "lift does not repeat after one turn, it is off by {lift}; check that the indicator did not move",
        ),
        "open end": (
            "readings/{}/lift",
            "the readings end at {lift} of lift; keep reading down to the base circle",
        ),
        "does not fit": (
            "readings/{}/lift",
            "reading {number} doesn't fit its neighbors, which point to {lift}; take it again",
        ),
        "contradicts stated lift": (
            "readings",
            (
                "the readings peak at {lift}, but the lift entered makes it {stated} at the {side}; check both, and "
                "the rocker ratio"
            ),
        ),
    }
)
"""What is said of each fault of a lift table, and where it is in the table."""
