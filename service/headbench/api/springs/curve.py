"""Spring curve: springs at many heights at once, for tables and for whoever draws them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal, TypeVar

import numpy as np
from msgspec import Meta

from headbench.api.springs.coils import CoilLine, StressFactor, Working, coil_line, dimensioned
from headbench.api.springs.spring import Spring
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, RateOut, written
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.touching import is_closed
from headbench.calc.springs.nested import beyond_readings, nested_load, nested_rate, work_outside_readings
from headbench.calc.springs.side_by_side import Springs
from headbench.calc.springs.spring_set import bind_height

T = TypeVar("T")


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


class Heights:
    """Springs at several heights of the outer one, flat.

    `heights` (H,) are asked of each of the first `count` springs in turn; with `rows` (N,), each height (N,) is
    asked of the spring of its own row.
    """

    def __init__(self, table: Springs, count: int, heights: FloatArray, *, rows: IntArray | None = None) -> None:
        self._table = table
        self._each = len(heights) if rows is None else len(heights) // max(count, 1)
        self._count = count
        self.outer = np.tile(heights, count) if rows is None else heights
        rows = np.repeat(np.arange(count), self._each) if rows is None else rows
        self._curve, self._step = table.curve[rows], table.seat_rise[rows]
        self._bind = coil_binds(table)[rows]

    def coils_touch(self) -> BoolArray:
        """Where coils touch, as read or by dimensions."""
        return is_closed(self.outer - self._bind)

    def loads(self) -> FloatArray:
        """Loads [N]; NaN where the coils touch."""
        return np.where(self.coils_touch(), np.nan, self.loads_to_coil_bind())

    def loads_to_coil_bind(self) -> FloatArray:
        """Loads [N], that at the very height of coil bind too; NaN past it."""
        load = nested_load(self._table.curves, self._curve, self.outer, self._step)
        return np.where(self._is_past_bind(), np.nan, load)

    def rates(self) -> FloatArray:
        """Rates [N/m]; NaN where the coils touch."""
        return np.where(self.coils_touch(), np.nan, self.rates_to_coil_bind())

    def rates_to_coil_bind(self) -> FloatArray:
        """Rates [N/m], that at the very height of coil bind too; NaN past it."""
        rate = nested_rate(self._table.curves, self._curve, self.outer, self._step)
        return np.where(self._is_past_bind(), np.nan, rate)

    def _is_past_bind(self) -> BoolArray:
        return np.asarray(self.outer < self._bind - GRID, dtype=np.bool_)

    def beyond_readings(self) -> FloatArray:
        """How far outside the heights read [m]."""
        return beyond_readings(self._table.curves, self._curve, self.outer, self._step)

    def outside_readings(self) -> BoolArray:
        """Where one of the springs works outside the heights it was read at by more than a little."""
        return work_outside_readings(self._table.curves, self._curve, self.outer, self._step)

    def by_spring(self, flat: Sequence[T]) -> list[list[T]]:
        """A flat list as a list per spring."""
        return [list(flat[place * self._each : (place + 1) * self._each]) for place in range(self._count)]


def coil_lines(
    springs: Sequence[Spring], table: Springs, working: tuple[float, float], factor: StressFactor
) -> list[list[CoilLine]]:
    """What follows from the dimensions of every spring that has them all."""
    first = len(table.curves.fitted.knots)
    binds = coil_binds(table).tolist()
    lines: list[list[CoilLine]] = []
    for row, spring in enumerate(springs):
        own = []
        for place, _, curve in dimensioned(spring):
            which = int(table.curve[row, place])
            if which >= first:
                step = float(table.seat_rise[row, place])
                # coils that touch have no stress to give, only a limit that is answered beside it
                at = [height if height - binds[row] >= GRID or np.isnan(binds[row]) else np.nan for height in working]
                heights = Working(at[0] - step, at[1] - step)
                own.append(coil_line(place, curve, table.curves.dimensioned[which - first], heights, factor))
        lines.append(own)
    return lines


def drawn_curves(
    springs: Sequence[Spring],
    table: Springs,
    working: tuple[float, float],
    points: int | None,
) -> list[DrawnCurve | None]:
    """Every spring's curve at `points` heights, from the tallest height that means something to the shortest."""
    if points is None:
        return [None] * len(springs)
    ends = np.array([_ends(table, row, working) for row in range(len(springs))])
    share = np.linspace(0.0, 1.0, points)
    heights = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * share
    at = Heights(table, len(springs), heights.ravel(), rows=np.repeat(np.arange(len(springs)), points))
    flat = np.stack([at.outer, at.loads_to_coil_bind()])
    rows = at.by_spring(written(np.stack([*flat, at.rates_to_coil_bind()], axis=1)))
    marks = _marks(table, len(springs), working)
    curves: list[DrawnCurve | None] = []
    for row, own, marked in zip(range(len(springs)), rows, marks, strict=True):
        if np.isnan(ends[row]).any():
            curves.append(None)
            continue
        outer, load, rate = (list(column) for column in zip(*own, strict=True))
        curves.append(DrawnCurve(heights=outer, loads=load, rates=rate, marks=marked))
    return curves


def coil_binds(table: Springs) -> FloatArray:
    """Height of the outer spring at which the first of its springs binds, array (S,); NaN unknown [m].

    See `bind_height`.
    """
    return np.array([bind_height(one) for one in table.sets])


def _ends(table: Springs, row: int, working: tuple[float, float]) -> tuple[float, float]:
    tall, short = [working[0]], [working[1], float(coil_binds(table)[row])]
    first = len(table.curves.fitted.knots)
    for which, step in zip(table.curve[row].tolist(), table.seat_rise[row].tolist(), strict=True):
        if which >= first:
            tall.append(table.curves.dimensioned[which - first].free_height + step)
        elif which >= 0:
            tall.append(float(table.curves.fitted.height[which, -1]) + step)
            short.append(float(table.curves.fitted.height[which, 0]) + step)
    high, low = np.fmax.reduce(np.array(tall)), np.fmin.reduce(np.array(short))
    bind = short[1]
    return float(high), float(low if np.isnan(bind) else max(low, bind))


def _marks(table: Springs, count: int, working: tuple[float, float]) -> list[list[CurveMark]]:
    heights = np.array([[*working, bind] for bind in coil_binds(table)[:count].tolist()])
    at = Heights(table, count, heights.ravel(), rows=np.repeat(np.arange(count), heights.shape[1]))
    # a working height in coil bind has no load; coil bind itself has the load that takes a spring there
    is_bind = np.tile([False, False, True], count)
    load = np.where(is_bind, at.loads_to_coil_bind(), at.loads())
    rows = at.by_spring(written(np.stack([at.outer, load], axis=1)))
    names: tuple[Literal["seat", "open", "coil_bind"], ...] = ("seat", "open", "coil_bind")
    return [
        [
            CurveMark(name=name, height=height, load=load)
            for name, (height, load) in zip(names, own, strict=True)
            if height is not None
        ]
        for own in rows
    ]
