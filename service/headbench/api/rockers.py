"""Rockers: the ways to know what a rocker counts at the valve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.quantities import Columns, Mass, Model, PositiveInertia, PositiveLength, PositiveMass, PositiveTime
from headbench.api.scale import Scale, corrected_mass
from headbench.calc import FloatArray
from headbench.calc.valve_mass import (
    rocker_mass_from_inertia,
    rocker_mass_from_scale,
    rocker_mass_from_swing,
    rocker_mass_from_weight,
)
from headbench.units import Scales

_VALVE_ARM = Meta(description="Distance from its pivot to where it touches the valve.")
_TIP = Meta(description="What the scale shows under the valve's end, the pivot held level with it.")


class RockerWeight(Model, tag_field="kind", tag="weight", kw_only=True, frozen=True):
    """A rocker that was only weighed, taken as an even bar over both arms: an estimate."""

    mass: Annotated[PositiveMass, Meta(description="The whole rocker.")]


class RockerInertia(Model, tag_field="kind", tag="inertia", kw_only=True, frozen=True):
    """A rocker whose moment of inertia is known."""

    inertia: Annotated[PositiveInertia, Meta(description="Moment of inertia about its pivot.")]
    valve_arm: Annotated[PositiveLength, _VALVE_ARM]


class RockerOnScale(Model, tag_field="kind", tag="scale", kw_only=True, frozen=True):
    """A rocker hung with one end at a time on the scale. Counts a little too much, never too little."""

    tip: Annotated[PositiveMass, Meta(description="What the scale shows under the valve's end, the other held level.")]
    tail: Annotated[Mass, Meta(description="What it shows under the pushrod's or the cam's end.")]


class RockerSwing(Model, tag_field="kind", tag="swing", kw_only=True, frozen=True):
    """A rocker that swung about its own pivot: exact, and takes a stopwatch."""

    tip: Annotated[PositiveMass, _TIP]
    valve_arm: Annotated[PositiveLength, _VALVE_ARM]
    period: Annotated[PositiveTime, Meta(description="Time of one full small swing, the valve's end hanging down.")]


Rocker = RockerWeight | RockerInertia | RockerOnScale | RockerSwing

_WEIGHT = Columns(RockerWeight)
_INERTIA = Columns(RockerInertia)
_SCALE = Columns(RockerOnScale)
_SWING = Columns(RockerSwing)


def rocker_masses(
    rockers: Sequence[Rocker | None], ratio: FloatArray, scale: Scale | None, scales: Scales
) -> FloatArray:
    """What every rocker counts at the valve [kg]; 0 where none is given, NaN where it waits for its ratio."""
    masses = np.zeros(len(rockers))
    for kind in {type(rocker) for rocker in rockers if rocker is not None}:
        own = np.array([place for place, rocker in enumerate(rockers) if type(rocker) is kind])
        masses[own] = _of_one_kind([rocker for rocker in rockers if type(rocker) is kind], ratio[own], scale, scales)
    return masses


def _of_one_kind(rockers: Sequence[Rocker], ratio: FloatArray, scale: Scale | None, scales: Scales) -> FloatArray:
    """Rockers known in the same way."""
    match rockers[0]:
        case RockerWeight():
            columns = _WEIGHT.to_si(rockers, scales)  # type: ignore[arg-type] # all of one kind
            return rocker_mass_from_weight(corrected_mass(columns["mass"], scale, scales), ratio)
        case RockerInertia():
            return rocker_mass_from_inertia(**_INERTIA.to_si(rockers, scales))  # type: ignore[arg-type] # likewise
        case RockerOnScale():
            columns = _SCALE.to_si(rockers, scales)  # type: ignore[arg-type] # likewise
            tip, tail = (corrected_mass(columns[name], scale, scales) for name in ("tip", "tail"))
            return rocker_mass_from_scale(tip, tail, ratio)
        case RockerSwing():
            columns = _SWING.to_si(rockers, scales)  # type: ignore[arg-type] # likewise
            tip = corrected_mass(columns["tip"], scale, scales)
            return rocker_mass_from_swing(tip, columns["valve_arm"], columns["period"])
