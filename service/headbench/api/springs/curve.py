"""Spring curve: what is drawn of a spring, and what its dimensions say."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from msgspec import Meta

from headbench.api.springs.coils import CoilLine, StressFactor, Working, coil_line, dimensioned
from headbench.api.springs.spring import Spring
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, RateOut
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.springs.spring_load import LoadAt, SpringLoads


class CurveMark(Answer, kw_only=True, frozen=True):
    """A named point of the curve."""

    name: Annotated[Literal["seat", "open", "coil_bind"], Meta(description="Which point.")]
    height: Annotated[LengthOut, Meta(description="Height of the outer spring there.")]
    load: Annotated[ForceOut | None, Meta(description="Load there; null = not measured, or in coil bind.")]


class DrawnCurve(Answer, kw_only=True, frozen=True):
    """Points for plotting, from tall to short; the lists are of one length."""

    heights: Annotated[list[LengthOut], Meta(description="Heights of the outer spring.")]
    loads: Annotated[list[ForceOut | None], Meta(description="Load at each; null = not measured, or in coil bind.")]
    rates: Annotated[list[RateOut | None], Meta(description="Rate at each; null = not measured, or in coil bind.")]
    marks: Annotated[list[CurveMark], Meta(description="Seat, open and coil-bind points, where known.")]


def coil_lines(
    springs: Sequence[Spring], found: Sequence[SpringLoads], factor: StressFactor
) -> Iterator[list[CoilLine]]:
    """What follows from the dimensions of every spring that has them all."""
    for spring, own in zip(springs, found, strict=True):
        # coils that touch have no stress to give, only a limit that is answered beside it
        working = [math.nan if own.touches(at.height) else at.height for at in (own.installed, own.opened)]
        lines = []
        for place, _, curve in dimensioned(spring):
            one = own.springs.each[place]
            if isinstance(one.curve, DimensionedSpring) and one.has_own_load:
                heights = Working(*(height - one.seat_rise for height in working))
                lines.append(coil_line(place, curve, one.curve, heights, factor))
        yield lines


def drawn_curve(found: SpringLoads) -> DrawnCurve | None:
    """A spring's curve, where it was asked for and there is one to draw."""
    if not found.curve:
        return None
    heights, loads, rates = (list(column) for column in zip(*found.curve, strict=True))
    marks: tuple[tuple[Literal["seat", "open", "coil_bind"], LoadAt], ...] = (
        ("seat", found.installed),
        ("open", found.opened),
        ("coil_bind", found.bound),
    )
    return DrawnCurve(
        heights=heights,
        loads=loads,
        rates=rates,
        marks=[CurveMark(name=name, height=at.height, load=at.load) for name, at in marks if not math.isnan(at.height)],
    )
