"""Sunk seats: what follows for a valve and its chamber from grinding its seat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.findings import Note, OpenItem, note
from headbench.api.milling_request import MilledPosition
from headbench.api.positions import PositionAnswer
from headbench.api.quantities import Columns, LengthOut, VolumeOut, say, shows
from headbench.calc.piston_to_valve import SunkValve
from headbench.units import Scales


class SeatNumbers(PositionAnswer, kw_only=True, frozen=True):
    """What grinding one seat does."""

    sink: Annotated[LengthOut | None, Meta(description="How much deeper the valve sits, along its axis.")]
    stem_height_change: Annotated[LengthOut | None, Meta(description="How much taller the stem stands.")]
    installed_height_change: Annotated[LengthOut | None, Meta(description="How much taller the spring stands.")]
    sunk_volume: Annotated[VolumeOut | None, Meta(description="What the chamber gains.")]


class SeatLine(SeatNumbers, kw_only=True, frozen=True):
    """One valve whose seat was ground."""

    chamber: Annotated[str | None, Meta(description="The chamber that gains; null: not named.")]


_NUMBERS = Columns(SeatNumbers)


def seat_lines(positions: Sequence[MilledPosition], sunk: SunkValve, scales: Scales) -> list[SeatLine]:
    """The valves whose seats were ground."""
    rows = _NUMBERS.from_si(
        {
            "sink": sunk.sink,
            "stem_height_change": sunk.stem_height,
            "installed_height_change": sunk.installed_height,
            "sunk_volume": sunk.chamber_volume,
        },
        scales,
    )
    return [
        SeatLine(id=position.id, valve=position.valve, chamber=position.chamber, **row)
        for position, row in zip(positions, rows, strict=True)
        if position.seat_ground > 0.0
    ]


def open_seats(positions: Sequence[MilledPosition], *, has_chambers: bool) -> Iterator[OpenItem]:
    """What a ground seat still asks for."""
    held = ["sunk_volume", "chamber_volume", "static_ratio"]
    wanted = {"chamber": "name its chamber.", "head_diameter": "measure the diameter of the valve's head."}
    for place, position in enumerate(positions):
        if position.seat_ground == 0.0 or not has_chambers:
            continue
        for field, detail in wanted.items():
            if getattr(position, field) is None:
                yield OpenItem(
                    pointer=f"/positions/{place}/{field}",
                    position=position.id,
                    spring=None,
                    needed_for=held,
                    detail=f"Position {position.id}: {detail}",
                )


def seat_notes(positions: Sequence[MilledPosition], sunk: SunkValve, scales: Scales) -> Iterator[Note]:
    """That springs stand taller over ground seats."""
    ground = np.array([position.seat_ground > 0.0 for position in positions], dtype=np.bool_)
    deepest = float(sunk.sink[ground].max()) if ground.any() else 0.0
    if shows(deepest, "length", scales):
        most = say(deepest, "length", scales)
        which = ", ".join(position.id for position, own in zip(positions, ground.tolist(), strict=True) if own)
        detail = (
            f"Valves {which} sit up to {most} deeper: stems stand and springs are as much taller. Shim the springs, "
            "and check the rockers' sweep on the stem tips."
        )
        yield note("valves_sunk", "/positions", detail)
