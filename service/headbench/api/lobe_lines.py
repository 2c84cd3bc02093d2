"""Lobe lines: what each lobe is known by, at the lobe and at the valve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final

import numpy as np
from msgspec import Meta

from headbench.api.lobes import Lobes
from headbench.api.motions import Law, LiftLaw
from headbench.api.quantities import (
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
from headbench.api.valvetrain import KINDS, WholeValvetrain
from headbench.calc import FloatArray
from headbench.calc.valve_motion import Motion, lift_figures
from headbench.units import Scales

_INCH: Final = 0.0254
USUAL_HEIGHTS: Final = (0.006 * _INCH, 0.050 * _INCH, 0.200 * _INCH)
"""Lifts that durations are usually told at [m]; common practice, no source."""

CheckingHeights = Annotated[
    Annotated[list[PositiveLength], Meta(max_length=20)] | None,
    Meta(description="Lifts to tell the duration at; null: the usual 0.006, 0.050 and 0.200 in."),
]


class Duration(Answer, kw_only=True, frozen=True):
    """How long the lift stays above a checking height."""

    height: LengthOut
    duration: Annotated[AngleOut, Meta(description="Crank angle; 0 where the lift never gets there.")]
    opening_angle: Annotated[AngleOut | None, Meta(description="Cam angle; null where the lift never gets there.")]
    closing_angle: Annotated[AngleOut | None, Meta(description="Cam angle; null where the lift never gets there.")]


class FigureNumbers(Answer, kw_only=True, frozen=True):
    """The plain numbers of a lift curve; all angles are the cam's."""

    peak_lift: LengthOut
    peak_angle: AngleOut
    lift_area: Annotated[LiftAreaOut, Meta(description="Area under the lift over the cam angle.")]
    velocity_maximum: Annotated[LiftVelocityOut, Meta(description="Opening.")]
    velocity_minimum: Annotated[LiftVelocityOut, Meta(description="Closing.")]
    acceleration_maximum: Annotated[LiftAccelerationOut, Meta(description="The lobe pushes hardest.")]
    acceleration_minimum: Annotated[LiftAccelerationOut, Meta(description="The spring has to slow down hardest.")]
    jerk_maximum: Annotated[LiftJerkOut, Meta(description="Either way.")]


class LiftFigures(FigureNumbers, kw_only=True, frozen=True):
    """What a lift curve is known by."""

    durations: list[Duration]


class LobeLine(Answer, kw_only=True, frozen=True):
    """One kind of valve's lobe."""

    stand_in: Annotated[Law | None, Meta(description="The law that stands in for it; null: measured.")]
    residual: Annotated[
        LengthOut | None,
        Meta(description="Root mean square of readings less smoothed lift; as much as they scatter, if all is well."),
    ]
    lobe: Annotated[LiftFigures | None, Meta(description="On the cam's side; null where only the valve is known.")]
    valve: Annotated[LiftFigures | None, Meta(description="At the valve; null without a rocker ratio or a lift.")]


class LobeLines(Answer, kw_only=True, frozen=True):
    """The lobes of the intake and of the exhaust valves; null where no motion is given."""

    intake: LobeLine | None
    exhaust: LobeLine | None


_FIGURES = Columns(FigureNumbers)
_DURATION = Columns(Duration)


def lobe_lines(valvetrain: WholeValvetrain, lobes: Lobes, heights: Sequence[float] | None, scales: Scales) -> LobeLines:
    """What each lobe is known by."""
    factor = scales["length"].factor
    checking = np.array(USUAL_HEIGHTS) if heights is None else np.array(heights, dtype=np.float64) * factor
    lines: dict[str, Any] = dict.fromkeys(KINDS)
    for kind, lobe in lobes.by_kind.items():
        motion = getattr(valvetrain, kind).motion
        lines[kind] = LobeLine(
            stand_in=motion.law if isinstance(motion, LiftLaw) else None,
            residual=written(np.array([lobe.residual]) / factor)[0],
            lobe=None if lobe.at_lobe is None else _figures(lobe.at_lobe, checking, scales),
            valve=_figures(lobe.at_valve, checking, scales) if lobe.is_known else None,
        )
    return LobeLines(**lines)


def _figures(motion: Motion, checking: FloatArray, scales: Scales) -> LiftFigures:
    figures = lift_figures(motion, checking)
    numbers = {name: np.array([getattr(figures, name)]) for name in _FIGURES.names}
    spans = {
        "height": checking,
        "duration": figures.duration,
        "opening_angle": figures.opening_angle,
        "closing_angle": figures.closing_angle,
    }
    durations = [Duration(**row) for row in _DURATION.from_si(spans, scales)]
    return LiftFigures(durations=durations, **_FIGURES.from_si(numbers, scales)[0])
