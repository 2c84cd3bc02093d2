"""Spreads: what a set of like values runs to, and which positions have its ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypeVar

from msgspec import Meta

from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, MassOut, SpeedOut
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


S = TypeVar("S", LengthSpread, ForceSpread, MassSpread, SpeedSpread)


def spread_as(struct: type[S], values: Sequence[float], ids: Sequence[str]) -> S:
    """What a quantity runs to over some positions."""
    found = spread(values)
    return struct(
        count=found.count,
        smallest=found.smallest,
        largest=found.largest,
        spread=found.largest - found.smallest,
        mean=found.mean,
        smallest_at=None if found.smallest_at is None else ids[found.smallest_at],
        largest_at=None if found.largest_at is None else ids[found.largest_at],
    )
