"""Names: the kinds of valve, which of the nested springs one is, and how sentences call it."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.vocabulary.quantities import (
    Name,
)

SpringPlace = Literal["outer", "inner", "innermost"]
SPRING_PLACES: Final[tuple[SpringPlace, ...]] = ("outer", "inner", "innermost")
WHICH_OF_NESTED: Final = Meta(description="Which of the nested springs.")


def place_in_set(pointer: str) -> SpringPlace:
    """Which of the nested springs one is, by its pointer."""
    if "/nested/" not in pointer:
        return "outer"
    return SPRING_PLACES[int(pointer.partition("/nested/")[2].partition("/")[0]) + 1]


def named(spring: str, pointer: str) -> str:
    """A spring as a sentence begins, by its id and its pointer."""
    place = place_in_set(pointer)
    return f"Spring {spring}" if place == "outer" else f"Spring {spring}, {place} spring"


SpringName = Annotated[
    Name | None, Meta(description="Id of the spring that goes here; null = not chosen yet.", examples=["S1"])
]


WHICH_SPRING: Final = "enter the id of the spring that goes here."


ValveKind = Literal["intake", "exhaust"]


KINDS: tuple[ValveKind, ...] = ("intake", "exhaust")


Valve = Annotated[ValveKind, Meta(description="Which kind of valve sits here.", examples=["intake"])]
