"""Motions: the ways to know how a lobe lifts."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.quantities import CrankAngle, FlankAngle, Model, ReadingError, SignedLength
from headbench.calc.textbook_motions import Profile

Turning = Annotated[
    Literal["cam", "crank"], Meta(description="Whose degrees the angles are; the crank turns twice for the cam's once.")
]
Side = Literal["lobe", "valve"]
Law = Literal["harmonic", "cycloidal", "3-4-5", "4-5-6-7", "modified_sine"]

LAWS: Final[Mapping[Law, Profile]] = MappingProxyType(
    {
        "harmonic": "harmonic",
        "cycloidal": "cycloidal",
        "3-4-5": "3-4-5",
        "4-5-6-7": "4-5-6-7",
        "modified_sine": "modified sine",
    }
)
MOST_LIFT_READINGS: Final = 1000


class LiftReading(Model, kw_only=True, frozen=True):
    """One reading of the dial gauge."""

    angle: Annotated[CrankAngle, Meta(description="Angle on the degree wheel, rising from reading to reading.")]
    lift: Annotated[SignedLength, Meta(description="Lift the gauge shows there, 0 on the base circle.")]


class LiftTable(Model, tag_field="kind", tag="table", kw_only=True, frozen=True):
    """A lobe as it was read, opening and closing flank, at any spacing; the whole turn or the lobe alone."""

    side: Annotated[
        Side,
        Meta(
            description="lobe: read on the cam's side, ratio and lash follow. valve: read at the valve, its lash set."
        ),
    ]
    angle: Turning
    readings: Annotated[
        list[LiftReading],
        Meta(
            min_length=2,
            max_length=MOST_LIFT_READINGS,
            description="In the order of turning, past a full turn going on instead of starting anew.",
        ),
    ]
    reading_error: Annotated[
        ReadingError,
        Meta(
            description="How much one reading scatters, one standard deviation: read one angle again and again. It "
            "decides how much the readings are smoothed; a third of a graduation where nothing is known."
        ),
    ]


class LiftLaw(Model, tag_field="kind", tag="law", kw_only=True, frozen=True):
    """A textbook law as a stand-in for a lobe nobody has measured. It is no proof: float stays not_measured.

    It rises to the lobe lift where that is stated, to the valve lift otherwise.
    """

    law: Annotated[Law, Meta(description="Which law.")]
    angle: Turning
    rise: Annotated[FlankAngle, Meta(description="From opening to peak.")]
    fall: Annotated[FlankAngle, Meta(description="From peak to closing.")]


Motion = LiftTable | LiftLaw
