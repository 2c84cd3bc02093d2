"""Spreads: what a set of like values runs to, and which positions have its ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, MassOut, SpeedOut, written
from headbench.calc import FloatArray
from headbench.calc.judging.spread import spread

_COUNT = Meta(description="How many positions have this value.")
_SMALLEST = Meta(description="The smallest; null = not known.")
_LARGEST = Meta(description="The largest; null = not known.")
_MEAN = Meta(description="The mean; null = not known.")
_AT = Meta(description="The first position that has it; null = not known.")


class LengthSpread(Answer, kw_only=True, frozen=True):
    """Spread of a length; null = nothing was measured."""

    count: Annotated[int, _COUNT]
    smallest: Annotated[LengthOut | None, _SMALLEST]
    largest: Annotated[LengthOut | None, _LARGEST]
    spread: Annotated[LengthOut | None, Meta(description="Largest less smallest; null = not known.")]
    mean: Annotated[LengthOut | None, _MEAN]
    smallest_at: Annotated[str | None, _AT]
    largest_at: Annotated[str | None, _AT]


class ForceSpread(Answer, kw_only=True, frozen=True):
    """Spread of a load; null = nothing was measured."""

    count: Annotated[int, _COUNT]
    smallest: Annotated[ForceOut | None, _SMALLEST]
    largest: Annotated[ForceOut | None, _LARGEST]
    spread: Annotated[ForceOut | None, Meta(description="Largest less smallest; null = not known.")]
    mean: Annotated[ForceOut | None, _MEAN]
    smallest_at: Annotated[str | None, _AT]
    largest_at: Annotated[str | None, _AT]


class MassSpread(Answer, kw_only=True, frozen=True):
    """Spread of a mass; null = nothing was weighed."""

    count: Annotated[int, _COUNT]
    smallest: Annotated[MassOut | None, _SMALLEST]
    largest: Annotated[MassOut | None, _LARGEST]
    spread: Annotated[MassOut | None, Meta(description="Largest less smallest; null = not known.")]
    mean: Annotated[MassOut | None, _MEAN]
    smallest_at: Annotated[str | None, _AT]
    largest_at: Annotated[str | None, _AT]


class SpeedSpread(Answer, kw_only=True, frozen=True):
    """Spread of a speed; null = not known."""

    count: Annotated[int, _COUNT]
    smallest: Annotated[SpeedOut | None, _SMALLEST]
    largest: Annotated[SpeedOut | None, _LARGEST]
    spread: Annotated[SpeedOut | None, Meta(description="Largest less smallest; null = not known.")]
    mean: Annotated[SpeedOut | None, _MEAN]
    smallest_at: Annotated[str | None, _AT]
    largest_at: Annotated[str | None, _AT]


def spread_rows(values: FloatArray, ids: Sequence[str]) -> list[dict[str, Any]]:
    """The fields of a spread for Q quantities over the same positions: values (Q, P)."""
    found = spread(values)
    table = np.stack([found.smallest, found.largest, found.largest - found.smallest, found.mean], axis=1)
    rows = written(table)
    return [
        {
            "count": count,
            "smallest": smallest,
            "largest": largest,
            "spread": width,
            "mean": mean,
            "smallest_at": ids[low] if low >= 0 else None,
            "largest_at": ids[high] if high >= 0 else None,
        }
        for (smallest, largest, width, mean), count, low, high in zip(
            rows, found.count.tolist(), found.smallest_at.tolist(), found.largest_at.tolist(), strict=True
        )
    ]


def length_spread(values: FloatArray, ids: Sequence[str]) -> LengthSpread:
    """The spread of one length over the positions, from SI."""
    return LengthSpread(**spread_rows(values[np.newaxis], ids)[0])
