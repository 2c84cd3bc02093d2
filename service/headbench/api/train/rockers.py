"""Rockers: the ways to know what a rocker counts at the valve."""

from __future__ import annotations

from typing import Annotated

from msgspec import Meta

from headbench.api.gauges.scale import corrected_mass
from headbench.api.vocabulary.quantities import (
    Mass,
    Model,
    PositiveInertia,
    PositiveLength,
    PositiveMass,
    PositiveTime,
)
from headbench.calc.gauges.tester import Calibration
from headbench.calc.masses.valve_mass import (
    rocker_mass_from_inertia,
    rocker_mass_from_scale,
    rocker_mass_from_swing,
    rocker_mass_from_weight,
)

_VALVE_ARM = Meta(description="Distance from its pivot to where it touches the valve.", examples=[1.575])


class RockerWeight(Model, tag_field="kind", tag="weight", kw_only=True, frozen=True):
    """A rocker that was only weighed, taken as an even bar: an estimate. A finger is taken to pivot at its end."""

    mass: Annotated[PositiveMass, Meta(description="The whole rocker.", examples=[108.0])]


class RockerInertia(Model, tag_field="kind", tag="inertia", kw_only=True, frozen=True):
    """A rocker whose moment of inertia is known."""

    inertia: Annotated[PositiveInertia, Meta(description="Moment of inertia about its pivot.", examples=[74.4])]
    valve_arm: Annotated[PositiveLength, _VALVE_ARM]


class RockerOnScale(Model, tag_field="kind", tag="scale", kw_only=True, frozen=True):
    """A rocker that rests level on its two contacts, one of them at a time on the scale.

    Metal between the contacts counts a little too much, which errs toward early float; a roller, an adjuster or a tail
    beyond a contact counts too little.
    """

    tip: Annotated[
        PositiveMass,
        Meta(
            description="What the scale shows under the contact with the valve, the other held level.", examples=[44.8]
        ),
    ]
    tail: Annotated[
        Mass,
        Meta(
            description="What it shows under the other contact: pushrod or cam, or the pivot of a finger.",
            examples=[36.1],
        ),
    ]


class RockerSwing(Model, tag_field="kind", tag="swing", kw_only=True, frozen=True):
    """A rocker that swung about its own pivot, timed with a stopwatch.

    Right for a small swing on a free pivot, with the center of mass on the line from pivot to tip; off that line it
    counts too little, a wide or dragging swing too much.
    """

    tip: Annotated[
        PositiveMass,
        Meta(
            description="What the scale shows under the contact with the valve, the pivot held level with it.",
            examples=[30.5],
        ),
    ]
    valve_arm: Annotated[PositiveLength, _VALVE_ARM]
    period: Annotated[
        PositiveTime,
        Meta(
            description="Time of one full small swing, valve end hanging down: time twenty and divide.", examples=[0.33]
        ),
    ]


Rocker = RockerWeight | RockerInertia | RockerOnScale | RockerSwing


def rocker_mass(rocker: Rocker | None, other_arm: float, scale: Calibration | None) -> float:
    """What a rocker counts at the valve [kg]; 0 where none is given, NaN where it waits for its ratio.

    `other_arm` is the arm of its other contact over the valve arm: one over the ratio, 0 for a finger [-].
    """
    match rocker:
        case None:
            return 0.0
        case RockerWeight():
            return rocker_mass_from_weight(corrected_mass(rocker.mass, scale), other_arm)
        case RockerInertia():
            return rocker_mass_from_inertia(rocker.inertia, rocker.valve_arm)
        case RockerOnScale():
            tip, tail = (corrected_mass(mass, scale) for mass in (rocker.tip, rocker.tail))
            return rocker_mass_from_scale(tip, tail, other_arm)
        case RockerSwing():
            return rocker_mass_from_swing(corrected_mass(rocker.tip, scale), rocker.valve_arm, rocker.period)
