"""Motions: the ways to know how a lobe lifts."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.vocabulary.quantities import CrankAngle, FlankAngle, Model, ReadingError, SignedLength
from headbench.calc.train.textbook_motions import Profile as CalcProfile

Turning = Annotated[
    Literal["cam", "crank"],
    Meta(
        description="Which shaft's degrees the angles are; the crank turns twice for the cam's once.",
        examples=["crank"],
    ),
]
Side = Literal["lobe", "valve"]
Profile = Literal["harmonic", "cycloidal", "polynomial_345", "polynomial_4567", "modified_sine"]

PROFILES: Final[Mapping[Profile, CalcProfile]] = MappingProxyType(
    {
        "harmonic": "harmonic",
        "cycloidal": "cycloidal",
        "polynomial_345": "polynomial_345",
        "polynomial_4567": "polynomial_4567",
        "modified_sine": "modified sine",
    }
)
MOST_LIFT_READINGS: Final = 1000


class LiftReading(Model, kw_only=True, frozen=True):
    """One reading of the dial indicator."""

    angle: Annotated[
        CrankAngle, Meta(description="Angle on the degree wheel, rising from reading to reading.", examples=[-40])
    ]
    lift: Annotated[
        SignedLength, Meta(description="What the indicator shows there, 0 on the base circle.", examples=[0.162])
    ]


class LiftTable(Model, tag_field="kind", tag="table", kw_only=True, frozen=True):
    """A lobe as it was degreed, opening and closing side, at any spacing; the whole turn or the lobe alone."""

    side: Annotated[
        Side,
        Meta(
            description="lobe: measured on the cam's side of the rocker; ratio and lash follow. valve: measured at the "
            "valve, lash set.",
            examples=["lobe"],
        ),
    ]
    shaft: Turning
    readings: Annotated[
        list[LiftReading],
        Meta(
            min_length=2,
            max_length=MOST_LIFT_READINGS,
            description="Readings in the order of turning; past a full turn count on instead of starting again.",
        ),
    ]
    lift_uncertainty: Annotated[
        ReadingError,
        Meta(
            description="How much one reading scatters, one standard deviation: read one angle again and again. The "
            "readings are smoothed by as much; a third of the indicator's graduation where nothing is known (common "
            "practice, no source).",
            examples=[0.0003],
        ),
    ]


class TextbookMotion(Model, tag_field="kind", tag="textbook", kw_only=True, frozen=True):
    """A textbook profile as a stand-in for a lobe nobody has degreed: a rough guide, so float stays not_measured.

    It rises to the lobe lift where that is given, to the valve lift otherwise.
    """

    profile: Annotated[Profile, Meta(description="Which profile.", examples=["harmonic"])]
    shaft: Turning
    rise: Annotated[FlankAngle, Meta(description="Angle from opening to peak lift.", examples=[140])]
    fall: Annotated[FlankAngle, Meta(description="Angle from peak lift to closing.", examples=[140])]


Motion = LiftTable | TextbookMotion
