"""Lobe lines: what each lobe is known by, at the lobe and at the valve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.train.lobes import Lobes
from headbench.api.train.motions import Profile, TextbookMotion
from headbench.api.train.valvetrain import Train, WholeValvetrain
from headbench.api.vocabulary.quantities import (
    AngleOut,
    Answer,
    LengthOut,
    LiftAccelerationOut,
    LiftAreaOut,
    LiftJerkOut,
    LiftVelocityOut,
    PositiveLength,
    as_written,
    written,
)
from headbench.calc import FloatArray
from headbench.calc.judging.rules import CHECKING_LIFTS
from headbench.calc.train.lift_figures import lift_figures
from headbench.calc.train.lobes import Lobe
from headbench.calc.train.valve_motion import Motion

CheckingLifts = Annotated[
    Annotated[list[PositiveLength], Meta(max_length=20)] | None,
    Meta(
        description=f"Lifts at which to report duration; null = not given: 0.050 in and 1 mm ({CHECKING_LIFTS.basis}).",
        examples=[[0.006, 0.05, 0.2]],
    ),
]


class Duration(Answer, kw_only=True, frozen=True):
    """How long the lift stays above a checking lift."""

    lift: Annotated[LengthOut, Meta(description="The checking lift.")]
    duration: Annotated[AngleOut, Meta(description="Duration in crank degrees; 0 = the lift never gets there.")]
    opening_angle: Annotated[
        AngleOut | None, Meta(description="Cam angle where the lift passes it; null = the lift never gets there.")
    ]
    closing_angle: Annotated[
        AngleOut | None, Meta(description="Cam angle where the lift passes it; null = the lift never gets there.")
    ]


class LiftFigures(Answer, kw_only=True, frozen=True):
    """The figures of a lift curve."""

    peak_lift: Annotated[LengthOut, Meta(description="Highest lift.")]
    peak_angle: Annotated[AngleOut, Meta(description="Cam angle of the peak lift.")]
    lift_area: Annotated[LiftAreaOut, Meta(description="Area under the lift over the cam angle.")]
    peak_opening_velocity: Annotated[LiftVelocityOut, Meta(description="Highest velocity, opening.")]
    peak_closing_velocity: Annotated[LiftVelocityOut, Meta(description="Highest velocity, closing; negative.")]
    peak_acceleration: Annotated[
        LiftAccelerationOut, Meta(description="Highest acceleration: where the lobe pushes hardest.")
    ]
    peak_deceleration: Annotated[
        LiftAccelerationOut,
        Meta(description="Lowest acceleration, negative: where the spring has to brake the valve hardest."),
    ]
    peak_jerk: Annotated[LiftJerkOut, Meta(description="Highest jerk, either way.")]
    durations: Annotated[list[Duration], Meta(description="Duration at each checking lift.")]


class LobeLine(Answer, kw_only=True, frozen=True):
    """One kind of valve's lobe."""

    textbook_profile: Annotated[
        Profile | None, Meta(description="The textbook profile that stands in for it; null = measured.")
    ]
    residual: Annotated[
        LengthOut | None,
        Meta(
            description="Root mean square of readings less smoothed lift; about the reading error, if all is well; "
            "null = not measured."
        ),
    ]
    at_lobe: Annotated[LiftFigures | None, Meta(description="Lift on the cam's side; null = measured at the valve.")]
    at_valve: Annotated[
        LiftFigures | None, Meta(description="Lift at the valve; null = rocker ratio or lift not given.")
    ]


class LobeLines(Answer, kw_only=True, frozen=True):
    """The lobes of the intake and of the exhaust valves."""

    intake: Annotated[LobeLine | None, Meta(description="Intake lobe; null = not measured.")]
    exhaust: Annotated[LobeLine | None, Meta(description="Exhaust lobe; null = not measured.")]


def lobe_lines(valvetrain: WholeValvetrain, lobes: Lobes, lifts: Sequence[float] | None) -> LobeLines:
    """The figures of each lobe."""
    checking = np.array(CHECKING_LIFTS.values) if lifts is None else np.array(lifts, dtype=np.float64)
    return LobeLines(
        intake=_line(valvetrain.intake, lobes.by_kind.get("intake"), checking),
        exhaust=_line(valvetrain.exhaust, lobes.by_kind.get("exhaust"), checking),
    )


def _line(train: Train | None, lobe: Lobe | None, checking: FloatArray) -> LobeLine | None:
    if train is None or lobe is None:
        return None
    motion = train.motion
    return LobeLine(
        textbook_profile=motion.profile if isinstance(motion, TextbookMotion) else None,
        residual=as_written(lobe.residual),
        at_lobe=None if lobe.at_lobe is None else _figures(lobe.at_lobe, checking),
        at_valve=_figures(lobe.at_valve, checking) if lobe.is_known else None,
    )


def _figures(motion: Motion, checking: FloatArray) -> LiftFigures:
    figures = lift_figures(motion, checking)
    spans = figures.durations
    columns = (written(values) for values in (checking, spans.duration, spans.opening_angle, spans.closing_angle))
    return LiftFigures(
        peak_lift=figures.peak_lift,
        peak_angle=figures.peak_angle,
        lift_area=figures.lift_area,
        peak_opening_velocity=figures.peak_opening_velocity,
        peak_closing_velocity=figures.peak_closing_velocity,
        peak_acceleration=figures.peak_acceleration,
        peak_deceleration=figures.peak_deceleration,
        peak_jerk=figures.peak_jerk,
        durations=[
            Duration(lift=lift, duration=duration, opening_angle=opening, closing_angle=closing)
            for lift, duration, opening, closing in zip(*columns, strict=True)
        ],
    )
