"""Scale: the known weights a scale was checked with; every mass of the job is corrected by them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any

import msgspec
import numpy as np
from msgspec import Meta

from headbench.api.gauges.tester import calibration_faults
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.quantities import Columns, Mass, Model, quantity_fields
from headbench.api.vocabulary.saying import say
from headbench.calc.gauges.tester import corrected_load
from headbench.errors import Pointed


class KnownWeight(Model, kw_only=True, frozen=True):
    """A known weight on the scale, and what it showed."""

    applied: Annotated[Mass, Meta(description="The known weight.", examples=[100.0])]
    indicated: Annotated[Mass, Meta(description="What the scale showed under it.", examples=[100.2])]


class Scale(Model, kw_only=True, frozen=True):
    """The scale that all parts of the job were weighed on."""

    calibration: Annotated[
        list[KnownWeight],
        Meta(
            min_length=1,
            max_length=20,
            description="Known weights in any order. One gives a scale factor; between several the correction is "
            "straight.",
            examples=[[{"applied": 50, "indicated": 50.1}, {"applied": 200, "indicated": 200.2}]],
        ),
    ]


ScaleUsed = Annotated[Scale | None, Meta(description="Known weights the scale was checked with; null = not checked.")]

KNOWN_WEIGHTS = Columns(KnownWeight)


def corrected_mass(mass: float, scale: Scale | None) -> float:
    """A mass as weighed, corrected if the scale was checked; NaN where the correction leaves nothing.

    0 says that there is no such part, and stays.
    """
    if scale is None or mass == 0.0:
        return mass
    true = _true_mass(mass, scale)
    return math.nan if true <= 0.0 else true


def _true_mass(mass: float, scale: Scale) -> float:
    known = KNOWN_WEIGHTS.of(scale.calibration)
    return float(corrected_load(np.array([mass]), known["indicated"], known["applied"])[0])


def scale_faults(scale: Scale | None) -> Iterator[Pointed]:
    """Known weights that make no correction."""
    if scale is not None:
        known = KNOWN_WEIGHTS.of(scale.calibration)
        yield from calibration_faults(known, "mass", "/scale/calibration")


def on_scale(springs: Sequence[Any], valvetrain: Any, positions: Sequence[Any]) -> dict[str, Any]:
    """What of a request was weighed, by its pointer."""
    return {"/springs": list(springs), "/valvetrain": valvetrain, "/positions": list(positions)}


def below_nothing(scale: Scale | None, weighed: Mapping[str, Any]) -> Iterator[tuple[str, float, float]]:
    """Masses that the correction leaves nothing of: where each stands, what was shown and what it makes of that [kg].

    `weighed` is what `on_scale` has.
    """
    if scale is None:
        return
    for pointer, part in weighed.items():
        for where, mass in masses_in(part, pointer):
            if mass > 0.0 and (true := _true_mass(mass, scale)) <= 0.0:
                yield where, mass, true


def open_weighings(scale: Scale | None, weighed: Mapping[str, Any], needed_for: list[str]) -> Iterator[OpenItem]:
    """Parts to weigh again: the correction leaves nothing of what the scale showed."""
    for pointer, shown, _ in below_nothing(scale, weighed):
        owner = _owner(pointer, weighed)
        part = pointer.rpartition("/")[2].removesuffix("_mass").replace("_", " ")
        whose = "W" if not owner else f"{owner[1] if owner[0] == 'position' else f'Spring {owner[1]}'}: w"
        yield OpenItem(
            pointer=pointer,
            position=owner[1] if owner and owner[0] == "position" else None,
            spring=owner[1] if owner and owner[0] == "spring" else None,
            needed_for=needed_for,
            detail=f"{whose}eigh {'it' if part == 'mass' else f'the {part}'} again ({say(shown, 'mass')} was "
            "shown), on a scale checked near that.",
        )


def _owner(pointer: str, weighed: Mapping[str, Any]) -> tuple[str, str] | None:
    """Whether a position or a spring has the reading, and its id."""
    _, room, *rest = pointer.split("/")
    rows = weighed.get(f"/{room}")
    return (room.removesuffix("s"), rows[int(rest[0])].id) if isinstance(rows, list) else None


def masses_in(part: Any, pointer: str) -> Iterator[tuple[str, float]]:
    """Every mass that was read, and where it stands in the request."""
    if isinstance(part, list):
        for place, item in enumerate(part):
            yield from masses_in(item, f"{pointer}/{place}")
    elif isinstance(part, msgspec.Struct):
        quantities = quantity_fields(type(part))
        for name in part.__struct_fields__:
            value = getattr(part, name)
            if isinstance(value, float | int) and quantities.get(name) == "mass":
                yield f"{pointer}/{name}", float(value)
            else:
                yield from masses_in(value, f"{pointer}/{name}")
