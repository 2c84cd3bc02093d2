"""POST /v1/spring-load: what springs push at given heights, and what they lost against their rating."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.checks import PercentCheck, VerdictName, percent_checks, worst_of
from headbench.api.findings import CAUTIONS, PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.positions import raise_if_any
from headbench.api.quantities import (
    Answer,
    Columns,
    ForceOut,
    LengthOut,
    Model,
    Percent,
    PositiveLength,
    RateOut,
    Units,
    UnitsUsed,
    say,
    units_used,
    written,
)
from headbench.api.springs import MOST_SPRINGS, Rating, Spring, SpringTable, open_springs, spring_faults, springs_to_si
from headbench.calc import FloatArray, IntArray
from headbench.calc.limits import LOAD_LOSS_PERCENT
from headbench.calc.nested_springs import beyond_readings, is_proven, nested_load, nested_rate
from headbench.calc.spring_load import load_loss
from headbench.calc.verdicts import at_most
from headbench.units import Scales


class SpringLoadLimits(Model, kw_only=True, frozen=True):
    """How much load may be lost."""

    load_loss_percent: Annotated[
        Percent | None, Meta(description="Largest loss against the rating; null: 10, a published service limit.")
    ] = None


class SpringLoadRequest(Model, kw_only=True, frozen=True):
    """Springs, and the heights to know their load at."""

    units: Units = Units()
    limits: SpringLoadLimits = SpringLoadLimits()
    springs: Annotated[list[Spring], Meta(min_length=1, max_length=MOST_SPRINGS, description="The springs to look at.")]
    heights: Annotated[
        list[PositiveLength],
        Meta(
            min_length=1,
            max_length=64,
            description="Heights of the outer spring; nested ones stand shorter by their seat_step.",
            examples=[[1.75, 1.26]],
        ),
    ]


class LoadPoint(Answer, kw_only=True, frozen=True):
    """A spring, with all nested in it, at one height."""

    height: Annotated[LengthOut, Meta(description="Height of the outer spring.")]
    load: Annotated[ForceOut | None, Meta(description="Load; null where it is not known, or the coils touch before.")]
    rate: Annotated[RateOut | None, Meta(description="How much the load rises per length of compression here.")]
    beyond_readings: Annotated[
        LengthOut | None, Meta(description="How far outside the heights read; 0 inside, null if nothing was read.")
    ]


class LoadLine(Answer, kw_only=True, frozen=True):
    """One spring at every height asked for."""

    id: Annotated[str, Meta(description="The spring.")]
    points: list[LoadPoint]
    mean_rate: Annotated[
        RateOut | None, Meta(description="Rate between the tallest and the shortest height asked for; null with one.")
    ]
    load_loss: Annotated[
        PercentCheck | None, Meta(description="Loss against the rating, at the rated height; null without a rating.")
    ]
    verdict: Annotated[VerdictName | None, Meta(description="Of load_loss; null without a rating.")]


class SpringLoadAnswer(Answer, kw_only=True, frozen=True):
    """Every spring's loads and rates."""

    units: UnitsUsed
    verdict: Annotated[VerdictName | None, Meta(description="The worst of all springs; null where none has a rating.")]
    springs: list[LoadLine]
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


_POINT = Columns(LoadPoint)
_RATING = Columns(Rating)

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in", "force": "lbf"},
    "springs": [
        {
            "id": "S1",
            "load_curve": {
                "kind": "bench",
                "readings": [
                    {"height": 1.75, "load": 117},
                    {"height": 1.5, "load": 186},
                    {"height": 1.25, "load": 264},
                ],
            },
            "coil_bind_height": 1.12,
            "rating": {"height": 1.75, "load": 120, "rate": 290},
        }
    ],
    "heights": [1.75, 1.26],
}


@post(
    "/v1/spring-load",
    operation_id="findSpringLoad",
    summary="Load and rate of springs at given heights",
    tags=["Bench"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def spring_load(data: JSONBody[SpringLoadRequest]) -> SpringLoadAnswer:
    """Give each spring's load and rate at each height, and its load loss where it has a rating."""
    return answer(data)


def answer(request: SpringLoadRequest) -> SpringLoadAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    springs = request.springs
    raise_if_any(spring_faults(springs, scales))
    table = springs_to_si(springs, scales)
    heights = np.array(request.heights) * scales["length"].factor
    points = _points(table, len(springs), heights, scales)
    losses = _load_losses(request, table, scales)
    lines = [
        LoadLine(
            id=spring.id, points=row, mean_rate=mean, load_loss=loss, verdict=None if loss is None else loss.verdict
        )
        for spring, row, mean, loss in zip(
            springs, points, _mean_rates(table, len(springs), heights, scales), losses, strict=True
        )
    ]
    verdicts = [line.verdict for line in lines if line.verdict is not None]
    return SpringLoadAnswer(
        units=units_used(scales),
        verdict=worst_of(verdicts) if verdicts else None,
        springs=lines,
        open_items=list(
            open_springs(
                springs,
                {spring.id for spring in springs},
                ["load_curve"],
                {"load_curve": ["load", "rate", "mean_rate", "load_loss"]},
            )
        ),
        notes=[PLAIN_COMPARISON, *_notes(springs, lines, scales)],
        cautions=list(CAUTIONS),
    )


def _at_heights(table: SpringTable, count: int, heights: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Every spring at every height, flat: curve (S H, K), outer height (S H,), seat step (S H, K)."""
    rows = np.repeat(np.arange(count), len(heights))
    return table.curve[rows], np.tile(heights, count), table.seat_step[rows]


def _coils_touch(table: SpringTable, count: int, heights: FloatArray) -> FloatArray:
    rows = np.repeat(np.arange(count), len(heights))
    own = np.tile(heights, count)[:, np.newaxis] - table.seat_step[rows]
    return np.asarray((own < table.coil_bind_height[rows] - 1e-9).any(axis=1))


def _points(table: SpringTable, count: int, heights: FloatArray, scales: Scales) -> list[list[LoadPoint]]:
    curve, outer, step = _at_heights(table, count, heights)
    solid = _coils_touch(table, count, heights)
    rows = _POINT.from_si(
        {
            "height": outer,
            "load": np.where(solid, np.nan, nested_load(table.curves, curve, outer, step)),
            "rate": np.where(solid, np.nan, nested_rate(table.curves, curve, outer, step)),
            "beyond_readings": beyond_readings(table.curves, curve, outer, step),
        },
        scales,
    )
    points = [LoadPoint(**row) for row in rows]
    return [points[start : start + len(heights)] for start in range(0, len(points), len(heights))]


def _mean_rates(table: SpringTable, count: int, heights: FloatArray, scales: Scales) -> list[float | None]:
    ends = np.array([heights.max(), heights.min()])
    if ends[0] == ends[1]:
        return [None] * count
    curve, outer, step = _at_heights(table, count, ends)
    load = np.where(_coils_touch(table, count, ends), np.nan, nested_load(table.curves, curve, outer, step))
    load = load.reshape(count, 2)
    mean: list[float | None] = written((load[:, 1] - load[:, 0]) / (ends[0] - ends[1]) / scales["rate"].factor)
    return mean


def _load_losses(request: SpringLoadRequest, table: SpringTable, scales: Scales) -> list[PercentCheck | None]:
    rated = [row for row, spring in enumerate(request.springs) if spring.rating is not None]
    losses: list[PercentCheck | None] = [None] * len(request.springs)
    if not rated:
        return losses
    given = request.limits.load_loss_percent
    limit = LOAD_LOSS_PERCENT.value if given is None else given
    ratings = _RATING.to_si([spring.rating for spring in request.springs if spring.rating is not None], scales)
    load = nested_load(table.curves, table.curve[rated], ratings["height"], table.seat_step[rated])
    loss = np.where(is_proven(table.curves, table.curve[rated]), load_loss(load, ratings["load"]), np.nan)
    checks = percent_checks(loss, limit, "at_most", at_most(loss, limit))
    for row, check in zip(rated, checks, strict=True):
        losses[row] = check
    return losses


def _notes(springs: Sequence[Spring], lines: Sequence[LoadLine], scales: Scales) -> Iterator[Note]:
    for place, (spring, line) in enumerate(zip(springs, lines, strict=True)):
        for point in line.points:
            height = say(scales["length"].to_si(point.height), "length", scales)
            if point.beyond_readings:
                by = say(scales["length"].to_si(point.beyond_readings), "length", scales)
                detail = f"Spring {spring.id}: {height} is {by} outside the heights it was read at; extrapolated."
                yield note("beyond_readings", f"/springs/{place}/load_curve", detail)
            if point.load == 0.0:
                yield note("spring_loose", f"/springs/{place}", f"Spring {spring.id} pushes nothing at {height}.")
            if point.load is None and point.beyond_readings is not None:
                detail = f"Spring {spring.id}: its coils touch before it is {height} short; there is no load to give."
                yield note("coils_touch", f"/springs/{place}/coil_bind_height", detail)
