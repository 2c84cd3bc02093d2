"""Match on the sheet: the wish of a head, and its positions once their springs are matched."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, TypeVar

import msgspec
from msgspec import Meta

from headbench.api.heights.readings import HeightReadings
from headbench.api.matching.answers import Matched
from headbench.api.matching.matching import Solved
from headbench.api.matching.wish import MatchWish

MatchAsked = Annotated[
    MatchWish | None,
    Meta(
        description="Find the best place for every spring: the sheet then has the springs and the shims matched, a "
        "position's spring being the one that lies there now. Null = every spring stays where it is.",
        examples=[{"equalize": "seat_load"}],
    ),
]
MATCHED: Final = Meta(description="The match: what goes where, and what it came to before; null = none was asked for.")
MatchedOnSheet = Annotated[Matched | None, MATCHED]

P = TypeVar("P", bound=HeightReadings)


def with_springs(positions: Sequence[P], solved: Solved) -> list[P]:
    """Every position with the spring that goes there."""
    return [
        msgspec.structs.replace(position, spring=spring)
        for position, spring in zip(positions, solved.springs_after, strict=True)
    ]


def shims_laid(solved: Solved) -> list[tuple[int, ...] | None]:
    """The shims matched, by their sizes, of every position; None where they are to be chosen for the spring there."""
    return [None if own is None else own.shims for own in solved.filled]
