"""Scale: the known weights a scale was checked with; every mass of the job is corrected by them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import msgspec
from msgspec import Meta

from headbench.api.gauges.tester import calibration_faults, pairs_of
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.quantities import Mass, Model, quantity_fields
from headbench.api.vocabulary.saying import say
from headbench.calc.gauges.tester import Calibration, calibrated
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


def calibration_of(scale: Scale | None) -> Calibration | None:
    """How the scale sets a mass right; None where it was not checked."""
    return None if scale is None else calibrated(*pairs_of(scale.calibration))


def corrected_mass(mass: float, scale: Calibration | None) -> float:
    """A mass as weighed, corrected if the scale was checked; NaN where the correction leaves nothing.

    0 says that there is no such part, and stays.
    """
    if scale is None or mass == 0.0:
        return mass
    true = scale.true_load(mass)
    return math.nan if true <= 0.0 else true


def scale_faults(scale: Scale | None) -> Iterator[Pointed]:
    """Known weights that make no correction."""
    if scale is not None:
        yield from calibration_faults(scale.calibration, "mass", "/scale/calibration")


@dataclass(frozen=True, slots=True)
class OnScale:
    """What a scale that was checked makes of everything that was weighed on it.

    indicated : what it showed under the known weights; none where it was not checked [kg]
    masses : everything that was weighed [kg]
    below_nothing : masses that the correction leaves nothing of: where each stands, whether a position or a spring has
        it and that one's id, what was shown and what it makes of that [kg]
    """

    indicated: Sequence[float]
    masses: Sequence[float]
    below_nothing: Sequence[tuple[str, tuple[str, str] | None, float, float]]


def on_scale(scale: Scale | None, springs: Sequence[Any], valvetrain: Any, positions: Sequence[Any]) -> OnScale:
    """Look at everything of a request that was weighed."""
    known = calibration_of(scale)
    if known is None:
        return OnScale((), (), ())
    weighed = {"/springs": list(springs), "/valvetrain": valvetrain, "/positions": list(positions)}
    read = [(where, mass) for at, part in weighed.items() for where, mass in masses_in(part, at) if mass > 0.0]
    gone = [
        (where, _owner(where, weighed), mass, true) for where, mass in read if (true := known.true_load(mass)) <= 0.0
    ]
    return OnScale(known.indicated, [mass for _, mass in read], gone)


def open_weighings(on_bench: OnScale, needed_for: list[str]) -> Iterator[OpenItem]:
    """Parts to weigh again: the correction leaves nothing of what the scale showed."""
    for pointer, owner, shown, _ in on_bench.below_nothing:
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
            if isinstance(value, (list, msgspec.Struct)):
                yield from masses_in(value, f"{pointer}/{name}")
            elif value is not None and quantities.get(name) == "mass":
                yield f"{pointer}/{name}", value
