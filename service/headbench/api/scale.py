"""Scale: the known weights a scale was checked with; every mass of the job is corrected by them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

import msgspec
import numpy as np
from msgspec import Meta

from headbench.api.quantities import Columns, Mass, Model, quantity_fields, say
from headbench.api.tester import calibration_faults
from headbench.calc import FloatArray
from headbench.calc.tester import corrected_load
from headbench.errors import Pointed
from headbench.units import Scales


class KnownWeight(Model, kw_only=True, frozen=True):
    """A known weight on the scale, and what it showed."""

    applied: Annotated[Mass, Meta(description="The known weight.")]
    indicated: Annotated[Mass, Meta(description="What the scale showed under it.")]


class Scale(Model, kw_only=True, frozen=True):
    """The scale that everything of the job was weighed on."""

    calibration: Annotated[
        list[KnownWeight],
        Meta(
            min_length=1,
            max_length=20,
            description="Known weights in any order. One is a scale error; between several the correction runs "
            "straight.",
        ),
    ]


ScaleUsed = Annotated[Scale | None, Meta(description="Null: the readings are taken as they are.")]

KNOWN_WEIGHTS = Columns(KnownWeight)


def corrected_mass(mass: FloatArray, scale: Scale | None, scales: Scales) -> FloatArray:
    """Masses as weighed, corrected if the scale was checked; 0 says that there is no such part, and stays."""
    if scale is None:
        return mass
    known = KNOWN_WEIGHTS.to_si(scale.calibration, scales)
    return np.where(mass == 0.0, 0.0, corrected_load(mass, known["indicated"], known["applied"]))


def scale_faults(scale: Scale | None, weighed: dict[str, Any], scales: Scales) -> Iterator[Pointed]:
    """Known weights that make no correction, and masses that it leaves nothing of.

    `weighed` has every part of the request that holds masses, by its pointer.
    """
    if scale is None:
        return
    calibration = list(
        calibration_faults(KNOWN_WEIGHTS.to_si(scale.calibration, scales), "mass", "/scale/calibration", scales)
    )
    yield from calibration
    # through a calibration that is wrong itself, no mass can be judged
    if calibration:
        return
    readings = [reading for pointer, part in weighed.items() for reading in masses_in(part, pointer)]
    mass = np.array([value for _, value in readings]) * scales["mass"].factor
    right = corrected_mass(mass, scale, scales)
    for place in np.flatnonzero((right <= 0.0) & (mass > 0.0)).tolist():
        detail = f"the scale's correction makes it {say(float(right[place]), 'mass', scales)}"
        yield Pointed(readings[place][0], detail)


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
