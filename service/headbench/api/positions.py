"""Positions: what every request that goes valve by valve has in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.findings import Note, OpenItem, note
from headbench.api.quantities import Answer, Model, Name, say
from headbench.api.valvetrain import Valve, ValveKind
from headbench.calc import FloatArray
from headbench.errors import Contradiction, Pointed
from headbench.units import Scales

MOST_POSITIONS: Final = 128


class PositionModel(Model, kw_only=True, frozen=True):
    """One valve of the head."""

    id: Annotated[Name, Meta(description="Its name, as it is marked on the head.", examples=["1I"])]
    valve: Valve


class PositionAnswer(Answer, kw_only=True, frozen=True):
    """Which valve of the head a line is about."""

    id: Annotated[str, Meta(description="The position.")]
    valve: Valve


def raise_if_any(faults: Iterator[Pointed]) -> None:
    """Refuse a request whose statements contradict each other, naming every contradiction."""
    errors = list(faults)
    if errors:
        raise Contradiction(errors)


_INCH: Final = 0.0254
_POUND_FORCE: Final = 4.4482216152605
_USUAL: Final = {
    "measured_height": ("length", 0.8 * _INCH, 3.5 * _INCH),
    "installed_height": ("length", 0.8 * _INCH, 3.0 * _INCH),
    "coil_bind_height": ("length", 0.4 * _INCH, 2.0 * _INCH),
    "valve_lift": ("length", 0.1 * _INCH, 1.2 * _INCH),
    "retainer_to_seal": ("length", 0.2 * _INCH, 1.5 * _INCH),
    "deduction": ("length", 0.0, 0.3 * _INCH),
    "seat_load": ("force", 20.0 * _POUND_FORCE, 600.0 * _POUND_FORCE),
    "valve": ("mass", 0.015, 0.300),
    "retainer": ("mass", 0.002, 0.060),
    "locks": ("mass", 0.0005, 0.020),
}
"""What benches usually show: field -> quantity and range [SI]; common practice, no source."""


def unusual(field: str, values: FloatArray, pointer: str, scales: Scales) -> Iterator[Note]:
    """A note for each reading outside what benches usually show; a slip of the unit is the usual reason.

    `pointer` has a pair of braces for the place.
    """
    quantity, low, high = _USUAL[field]
    for place in np.flatnonzero((values < low) | (values > high)).tolist():
        shown = say(float(values[place]), quantity, scales)
        usual = f"{say(low, quantity, scales)} to {say(high, quantity, scales)}"
        detail = f"{shown} is unusual here, {usual} is what benches show; check the reading and its unit."
        yield note("unusual_reading", pointer.format(place), detail)


def open_readings(
    positions: Sequence[PositionModel], field: str, holds_back: list[str], what: str, only: ValveKind | None = None
) -> Iterator[OpenItem]:
    """An open item for every position, `only` of one kind of valve or of both, whose reading is missing."""
    for place, position in enumerate(positions):
        if getattr(position, field) is None and only in {None, position.valve}:
            yield OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=position.id,
                spring=None,
                holds_back=holds_back,
                detail=f"Position {position.id}: {what}",
            )
