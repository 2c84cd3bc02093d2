"""Left out: valves that are not fitted, and parts that were not weighed one by one, so that every sheet tells both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionModel
from headbench.api.vocabulary.quantities import Name
from headbench.errors import Pointed

EqualPart = Literal["valve", "retainer", "locks", "lash_cap", "pushrod", "lifter"]

TakenAsEqual = Annotated[
    list[EqualPart],
    Meta(
        max_length=6,
        description="Parts entered here without weighing them: taken as equal to one that was weighed. Sheets tell it.",
        examples=[["retainer", "locks"]],
    ),
]


class NotFitted(PositionModel, kw_only=True, frozen=True):
    """A place on the head with no valve in it."""

    bank: Annotated[Name | None, Meta(description="Its bank; null = not given.", examples=["port side"])] = None
    place: Annotated[
        Annotated[int, Meta(ge=0, le=2 * MOST_POSITIONS)] | None,
        Meta(
            description="How many valves of the job stand before it in the order of work, fitted or not; null = it "
            "comes last.",
            examples=[4],
        ),
    ] = None


AllNotFitted = Annotated[
    list[NotFitted],
    Meta(
        max_length=MOST_POSITIONS,
        description="Valves left out on purpose. They are not judged, and sheets show their empty places.",
        examples=[[{"id": "3I", "valve": "intake", "place": 4}]],
    ),
]

NOT_FITTED_ANSWERED: Final = Meta(description="Valves left out on purpose, as entered; the verdict is without them.")


def not_fitted_faults(not_fitted: Sequence[NotFitted], ids: Sequence[str]) -> Iterator[Pointed]:
    """Valves that are said to be fitted and not to be, or left out twice."""
    named = set(ids)
    for place, one in enumerate(not_fitted):
        if one.id in named:
            yield Pointed(f"/not_fitted/{place}/id", f"{one.id} stands twice, fitted or not; leave one out")
        named.add(one.id)
