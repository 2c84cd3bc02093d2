"""Sunk seats: what follows for a valve and its chamber from work on its seat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

from msgspec import Meta

from headbench.api.milling.request import MilledPosition, PouredWhen
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import LengthOut, VolumeOut
from headbench.api.vocabulary.saying import say, shows
from headbench.calc.pistons.piston_to_valve import SunkValve


class SeatNumbers(PositionAnswer, kw_only=True, frozen=True):
    """What work on one seat does; every number negative where the valve stands prouder than before."""

    sink: Annotated[
        LengthOut | None, Meta(description="How much deeper the valve sits, along its axis; null = not measured.")
    ]
    stem_height_change: Annotated[
        LengthOut | None, Meta(description="How much taller the stem stands; null = not measured.")
    ]
    installed_height_change: Annotated[
        LengthOut | None, Meta(description="How much the installed height grows; null = not measured.")
    ]
    sunk_volume: Annotated[VolumeOut | None, Meta(description="What the chamber gains; null = not measured.")]


class SeatLine(SeatNumbers, kw_only=True, frozen=True):
    """One valve whose seat was cut."""

    chamber: Annotated[str | None, Meta(description="The chamber that gains; null = not given.")]


def seat_lines(positions: Sequence[MilledPosition], seats: Sequence[SunkValve[float]]) -> list[SeatLine]:
    """The valves whose seats were cut."""
    return [
        SeatLine(
            id=position.id,
            valve=position.valve,
            sink=sunk.sink,
            stem_height_change=sunk.stem_height,
            installed_height_change=sunk.installed_height,
            sunk_volume=sunk.chamber_volume,
            chamber=position.chamber,
        )
        for position, sunk in zip(positions, seats, strict=True)
        if position.seat_moved
    ]


def open_seats(
    positions: Sequence[MilledPosition], poured: PouredWhen | None, *, has_chambers: bool
) -> Iterator[OpenItem]:
    """What a seat that was cut still asks for."""
    volumes = ["chamber_volume_after", "chamber_volume", "clearance_volume", "static_ratio", "effective_ratio"]
    done = [(place, position) for place, position in enumerate(positions) if position.seat_moved]
    if done and has_chambers and poured is None:
        detail = "Enter whether the chambers were cc'd before or after the seats were cut."
        yield OpenItem(
            pointer="/chambers_measured",
            position=None,
            spring=None,
            needed_for=["sunk_volume", *volumes],
            detail=detail,
        )
    counts = has_chambers and poured != "after_seats"
    for place, position in done:

        def item(
            field: str, needed_for: list[str], detail: str, place: int = place, own: str = position.id
        ) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=own,
                spring=None,
                needed_for=needed_for,
                detail=f"{own}: {detail}",
            )

        if position.chamber is None and counts:
            yield item("chamber", ["sunk_volume", *volumes], "enter which chamber it is in.")
        if position.head_diameter is None:
            yield item("head_diameter", ["sunk_volume", *(volumes if counts else [])], "measure valve head diameter.")


def seat_notes(positions: Sequence[MilledPosition], seats: Sequence[SunkValve[float]]) -> Iterator[Note]:
    """That stems and springs stand otherwise over seats that were cut."""

    def how(ids: list[str], most: float, way: str) -> str:
        sits = f"{ids[0]}: sits" if len(ids) == 1 else f"{', '.join(ids)}: sit up to"
        return f"{sits} {say(most, 'length')} {way}; stem height and installed height"

    deeper = {position.id: sunk.sink for position, sunk in zip(positions, seats, strict=True) if sunk.sink > 0.0}
    prouder = {position.id: -sunk.sink for position, sunk in zip(positions, seats, strict=True) if sunk.sink < 0.0}
    deepest, proudest = (max(sinks.values(), default=0.0) for sinks in (deeper, prouder))
    if shows(deepest, "length"):
        detail = (
            f"{how(list(deeper), deepest, 'deeper')} grow by as much. Shim the springs, and check rocker sweep on "
            "the stem tips."
        )
        yield note("valves_sunk", "/positions", detail)
    if shows(proudest, "length"):
        detail = (
            f"{how(list(prouder), proudest, 'prouder')} shrink by as much. Take shims out, and check coil bind, "
            "rocker sweep and piston-to-valve again."
        )
        yield note("valves_sunk", "/positions", detail)
