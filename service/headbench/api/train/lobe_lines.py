"""Lobe lines: what each lobe is known by, at the lobe and at the valve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

import numpy as np
from msgspec import Meta

from headbench.api.train.lobes import Lobes
from headbench.api.train.motions import Profile, TextbookMotion
from headbench.api.train.valvetrain import WholeValvetrain
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.quantities import (
    AngleOut,
    Answer,
    Columns,
    LengthOut,
    LiftAccelerationOut,
    LiftAreaOut,
    LiftJerkOut,
    LiftVelocityOut,
    PositiveLength,
    written,
)
from headbench.calc import FloatArray
from headbench.calc.judging.rules import CHECKING_LIFTS
from headbench.calc.train.valve_motion import Motion, lift_figures

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


class FigureNumbers(Answer, kw_only=True, frozen=True):
    """The plain numbers of a lift curve; all angles are the cam's."""

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


class LiftFigures(FigureNumbers, kw_only=True, frozen=True):
    """The figures of a lift curve."""

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


_FIGURES = Columns(FigureNumbers)
_DURATION = Columns(Duration)


def lobe_lines(valvetrain: WholeValvetrain, lobes: Lobes, lifts: Sequence[float] | None) -> LobeLines:
    """The figures of each lobe."""
    checking = np.array(CHECKING_LIFTS.values) if lifts is None else np.array(lifts, dtype=np.float64)
    lines: dict[str, Any] = dict.fromkeys(KINDS)
    for kind, lobe in lobes.by_kind.items():
        motion = getattr(valvetrain, kind).motion
        lines[kind] = LobeLine(
            textbook_profile=motion.profile if isinstance(motion, TextbookMotion) else None,
            residual=written(np.array([lobe.residual]))[0],
            at_lobe=None if lobe.at_lobe is None else _figures(lobe.at_lobe, checking),
            at_valve=_figures(lobe.at_valve, checking) if lobe.is_known else None,
        )
    return LobeLines(**lines)


def _figures(motion: Motion, checking: FloatArray) -> LiftFigures:
    figures = lift_figures(motion, checking)
    numbers = {name: np.array([getattr(figures, name)]) for name in _FIGURES.names}
    spans = {
        "lift": checking,
        "duration": figures.duration,
        "opening_angle": figures.opening_angle,
        "closing_angle": figures.closing_angle,
    }
    durations = [Duration(**row) for row in _DURATION.rows(spans)]
    return LiftFigures(durations=durations, **_FIGURES.rows(numbers)[0])
